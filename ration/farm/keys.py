"""The names a farm file may use, and how each value is read.

One table per section, as pydantic models. Every fault of a section is found in one go; each
carries the path of its name, which `strict_yaml.Sheet` turns into a line.
"""

from __future__ import annotations

from collections.abc import Callable
from datetime import date
from typing import Annotated, Any

from pydantic import (
    BaseModel,
    ConfigDict,
    Field,
    PlainValidator,
    ValidationError,
    ValidationInfo,
    create_model,
)
from pydantic_core import PydanticCustomError

from ration import units
from ration.animals import CLASSES, HOUSINGS, SEXES
from ration.errors import InputError, Problem
from ration.farm import lots as lots
from ration.farm import words as words
from ration.farm.words import FIGURES, between, fraction, id_of, loss, of_dm, one_of, per, text
from ration.standards import MARGINS
from ration.strict_yaml import Keys, Sheet, nearest, tidy
from ration.units import Quantity, shown

STANDARDS = tuple(MARGINS)
MATURE_WEIGHT = between(units.mass_kg, "mature weight", 25.0, 130.0, "kg")


class Entry(BaseModel):
    """A group of names and values; a name that is not listed is refused."""

    model_config = ConfigDict(extra="forbid", frozen=True)


def refused(problem: Problem) -> PydanticCustomError:
    """A fault in the form pydantic collects."""
    return PydanticCustomError("problem", "refused", {"problem": problem})


def reads(reader: Callable[[Any], Any]) -> PlainValidator:
    """A validator from one of our readers, its `InputError` collected with the others."""

    def run(value: Any) -> Any:
        try:
            return reader(value)
        except InputError as error:
            raise refused(error.problems[0]) from None

    return PlainValidator(run)


# ---------------------------------------------------------------- the sections

Words = Annotated[str, reads(text)]
OptionalShare = Annotated[float | None, reads(of_dm("share of dry matter"))]


class WinterEntry(Entry):
    """First and last day, and how the days between are divided."""

    start: Annotated[date, reads(lambda v: units.day(v, "from"))] = Field(alias="from")
    end: Annotated[date, reads(lambda v: units.day(v, "to"))] = Field(alias="to")
    periods: Annotated[int, reads(between(units.days, "periods", 7, 62, "days"))] = 14
    long_winter: Annotated[int, reads(between(units.days, "long winter", 0, 120, "days"))] = Field(
        25, alias="long winter"
    )


class StepsEntry(Entry):
    """How fast trough feed may rise and fall."""

    step_up: Annotated[int, reads(between(units.days, "step up", 1, 30, "days"))] = Field(
        12, alias="step up"
    )
    taper: Annotated[int, reads(between(units.days, "taper", 0, 30, "days"))] = 7
    most_step: Annotated[
        float, reads(between(per("day", units.mass_kg, "most step"), "most step", 0.01, 0.2, "kg"))
    ] = Field(0.05, alias="most step")
    most_change: Annotated[float, reads(between(units.mass_kg, "most change", 0.01, 0.5, "kg"))] = (
        Field(0.10, alias="most change")
    )
    most_at_one_feed: Annotated[
        float, reads(between(units.mass_kg, "most at one feed", 0.05, 2.0, "kg"))
    ] = Field(0.45, alias="most at one feed")
    hay_first: Annotated[bool, reads(words.yes_no)] = Field(False, alias="hay first")


class StoreEntry(Entry):
    """A bin or shed and the feeds that lie in it."""

    holds: Annotated[float, reads(between(words.tonnes, "holds", 0.02, 100_000, "t"))]
    feeds: Annotated[tuple[str, ...], reads(lambda v: words.names(v, "for"))] = Field(alias="for")


class OtherStockEntry(Entry):
    """A class of stock that shares the home feed."""

    head: Annotated[int | None, reads(between(units.whole, "head", 1, 100_000))] = None
    start: Annotated[date | None, reads(lambda v: units.day(v, "from"))] = Field(None, alias="from")
    end: Annotated[date | None, reads(lambda v: units.day(v, "to"))] = Field(None, alias="to")
    note: Annotated[str, reads(text)] = ""


class WeighedEntry(Entry):
    """Bales weighed: how many, their mean and their standard deviation."""

    number: Annotated[int, reads(lambda v: units.whole(v, "number"))]
    mean: Annotated[float, reads(lambda v: units.mass_kg(v, "mean"))]
    sd: Annotated[float, reads(lambda v: units.mass_kg(v, "SD"))]


class LossEntry(Entry):
    """Shares wasted or lost by kind of feed."""

    hay: Annotated[float, reads(loss("hay"))] = 0.0
    silage: Annotated[float, reads(loss("silage"))] = 0.0
    straw: Annotated[float, reads(loss("straw"))] = 0.0
    grazing: Annotated[float, reads(loss("grazing"))] = 0.0
    roots: Annotated[float, reads(loss("roots"))] = 0.0
    trough_feed: Annotated[float, reads(loss("trough feed"))] = Field(0.0, alias="trough feed")
    minerals: Annotated[float | None, reads(loss("minerals"))] = None


class LimitsEntry(Entry):
    """Limits of a mix; what is not said keeps the program's default."""

    least_dry_matter: Annotated[tuple[str, float] | None, reads(words.intake)] = Field(
        None, alias="least dry matter"
    )
    most_dry_matter: Annotated[tuple[str, float] | None, reads(words.intake)] = Field(
        None, alias="most dry matter"
    )
    least_forage: Annotated[float | None, reads(of_dm("least forage"))] = Field(
        None, alias="least forage"
    )
    most_trough_feed: Annotated[
        float | None, reads(between(units.mass_kg, "most trough feed", 0.0, 5.0, "kg"))
    ] = Field(None, alias="most trough feed")
    most_trough_feed_share: Annotated[float | None, reads(of_dm("most trough feed share"))] = Field(
        None, alias="most trough feed share"
    )
    most_starch_and_sugar: Annotated[float | None, reads(of_dm("most starch and sugar"))] = Field(
        None, alias="most starch and sugar"
    )
    most_oil: Annotated[float | None, reads(of_dm("most oil"))] = Field(None, alias="most oil")
    most_copper: Annotated[float | None, reads(words.copper)] = Field(None, alias="most copper")
    least_ca_to_p: Annotated[
        float | None, reads(between(units.number, "least calcium to phosphorus", 0.1, 20.0))
    ] = Field(None, alias="least calcium to phosphorus")
    most_ca_to_p: Annotated[
        float | None, reads(between(units.number, "most calcium to phosphorus", 0.1, 20.0))
    ] = Field(None, alias="most calcium to phosphorus")
    ceiling_gain: Annotated[
        float | None, reads(between(units.gain_g_per_day, "ceiling gain", 0.0, 400.0, "g/day"))
    ] = Field(None, alias="ceiling gain")


class BatchEntry(Entry):
    """One batch of sheep."""

    sheep_class: Annotated[str | None, reads(one_of(tuple(CLASSES), "class"))] = Field(
        None, alias="class"
    )
    sex: Annotated[str | None, reads(one_of(SEXES, "sex"))] = None
    age: Annotated[bool | None, reads(words.under_one_year)] = None
    head: Annotated[int, reads(lambda v: units.whole(v, "head"))]
    weight: Annotated[float, reads(lambda v: units.mass_kg(v, "weight"))]
    gain: Annotated[float | None, reads(lambda v: units.gain_g_per_day(v, "gain"))] = None
    target: Annotated[float | None, reads(lambda v: units.mass_kg(v, "target"))] = None
    mature_weight: Annotated[float | None, reads(MATURE_WEIGHT)] = Field(
        None, alias="mature weight"
    )
    breed: Annotated[str | None, reads(text)] = None
    housing: Annotated[str | None, reads(one_of(HOUSINGS, "housing"))] = None
    lambing: Annotated[date | None, reads(lambda v: units.day(v, "lambing"))] = None
    tupped: Annotated[date | None, reads(lambda v: units.day(v, "tupped"))] = None
    litter: Annotated[float | None, reads(between(units.mass_kg, "litter", 1, 25, "kg"))] = None
    lambs: Annotated[float | None, reads(between(units.number, "lambs", 0.5, 5))] = None
    milk: Annotated[
        float, reads(between(per("day", units.mass_kg, "milk"), "milk", 0, 5, "kg"))
    ] = 0.0
    feed_for_mid_winter: Annotated[bool | None, reads(words.mid_winter)] = Field(
        None, alias="feed for"
    )
    pens: Annotated[int | tuple[int, ...], reads(words.pens)] = 1
    limits: Any = None
    note: Annotated[str, reads(text)] = ""


class DegradabilityEntry(Entry):
    """Breakdown of the protein in the rumen."""

    a: Annotated[Quantity, reads(fraction("degradability a"))]
    b: Annotated[Quantity, reads(fraction("degradability b"))]
    c: Annotated[Quantity, reads(fraction("degradability c", 2.0))]


def _like(value: Any, info: ValidationInfo) -> str:
    """A feed of the table, by id or by a name that comes to the same."""
    feeds = (info.context or {}).get("feeds", {})
    try:
        name = id_of(units.plain(value, "like"))
    except InputError as error:
        raise refused(error.problems[0]) from None
    if name not in feeds:
        hint = nearest(name, tuple(feeds)) or "List them with: ration feeds"
        raise refused(Problem("", f"feed {shown(name)} is not in the table", "", hint))
    return name


class FeedBase(Entry):
    """One feed on offer, without its figures."""

    name: Annotated[str | None, reads(text)] = None
    like: Annotated[str | None, PlainValidator(_like)] = None
    analysis: Annotated[tuple[str, ...], reads(words.files)] = ()
    price: Annotated[float | None, reads(words.price)] = None
    haulage: Annotated[float, reads(words.price)] = 0.0
    would_fetch: Annotated[float | None, reads(words.would_fetch)] = Field(
        None, alias="would fetch"
    )
    waste: Annotated[float | None, reads(loss("waste"))] = None
    storage_loss: Annotated[float | None, reads(loss("storage loss"))] = Field(
        None, alias="storage loss"
    )
    stock: Annotated[lots.Stock | None, reads(lots.stock)] = None
    weighed: Any = None
    first_claim: Any = Field(None, alias="first claim")
    scoop: Annotated[float | None, reads(between(units.mass_kg, "scoop", 0.02, 25, "kg"))] = None
    bucket: Annotated[float | None, reads(between(units.mass_kg, "bucket", 0.2, 60, "kg"))] = None
    bale: Annotated[float | None, reads(between(units.mass_kg, "bale", 1, 2000, "kg"))] = None
    least_a_day: Annotated[float, reads(between(units.mass_kg, "least a day", 0.0, 20.0, "kg"))] = (
        Field(0.0, alias="least a day")
    )
    most_a_day: Annotated[
        float | None, reads(between(units.mass_kg, "most a day", 0.0, 20.0, "kg"))
    ] = Field(None, alias="most a day")
    least_of_dm: Annotated[float, reads(of_dm("least of dry matter"))] = Field(
        0.0, alias="least of dry matter"
    )
    most_of_dm: Annotated[float | None, reads(of_dm("most of dry matter"))] = Field(
        None, alias="most of dry matter"
    )
    given_apart: Annotated[
        float | None,
        reads(between(per("day", units.mass_kg, "given apart"), "given apart", 0.0, 5.0, "kg")),
    ] = Field(None, alias="given apart")
    made_for: Annotated[str, reads(words.made_for)] = Field("", alias="made for")
    signs: Annotated[tuple[str, ...], reads(words.signs)] = ()
    degradability: Any = None
    checked: Annotated[bool, reads(words.yes_no)] = False
    note: Annotated[str, reads(text)] = ""


def _with_figures() -> type[FeedBase]:
    fields: dict[str, Any] = {
        nutrient: (Annotated[Quantity | None, reads(reader)], Field(None, alias=tidy(word)))
        for word, (nutrient, reader) in FIGURES.items()
    }
    return create_model("FeedEntry", __base__=FeedBase, **fields)


FeedEntry = _with_figures()


class FarmEntry(Entry):
    """The farm file's own names; its sections are read one by one."""

    name: Annotated[str, reads(text)] = ""
    note: Annotated[str, reads(text)] = ""
    winter: Any = None
    standard: Annotated[str, reads(one_of(STANDARDS, "standard"))] = "AFRC 1993"
    margin: Annotated[float | None, reads(words.margin)] = None
    maintenance: Annotated[float, reads(between(units.number, "maintenance", 0.8, 2.0))] = 1.0
    recycled_nitrogen: Annotated[
        float, reads(between(units.share, "recycled nitrogen", 0, 0.3, "(30 %)"))
    ] = Field(0.0, alias="recycled nitrogen")
    hay_to_appetite: Annotated[bool | float, reads(words.appetite)] = Field(
        False, alias="hay to appetite"
    )
    sheep_class: Annotated[str | None, reads(one_of(tuple(CLASSES), "class"))] = Field(
        None, alias="class"
    )
    breed: Annotated[str, reads(text)] = ""
    mature_weight: Annotated[float | None, reads(MATURE_WEIGHT)] = Field(
        None, alias="mature weight"
    )
    housing: Annotated[str, reads(one_of(HOUSINGS, "housing"))] = "shed"
    trough: Annotated[float | None, reads(lambda v: units.length_m(v, "trough"))] = None
    floor: Annotated[float | None, reads(lambda v: units.area_m2(v, "floor"))] = None
    meals_a_day: Annotated[int, reads(between(units.whole, "meals a day", 1, 6))] = Field(
        1, alias="meals a day"
    )
    mixed_at_home: Annotated[bool, reads(words.yes_no)] = Field(False, alias="mixed at home")
    show_pounds: Annotated[bool, reads(words.yes_no)] = Field(False, alias="show pounds")
    assume: Annotated[tuple[str, ...], reads(words.assume)] = ()
    tables: Annotated[tuple[str, ...], reads(words.files)] = ()
    lane: Annotated[
        float | None,
        reads(between(words.tonnes, "lane", 1.0, 44.0, "t")),
    ] = None
    interest: Annotated[
        float, reads(between(per("year", units.share, "interest"), "interest", 0, 0.4, "(40 %)"))
    ] = 0.06
    left_over: Annotated[float, reads(between(units.share, "left over", 0.0, 1.0, "(100 %)"))] = (
        Field(0.5, alias="left over")
    )
    shrink: Annotated[
        float, reads(between(per("month", units.share, "shrink"), "shrink", 0, 0.1, "(10 %)"))
    ] = 0.0033
    quotes: Annotated[tuple[str, ...], reads(words.files)] = ()
    waste: Any = None
    storage_loss: Any = Field(None, alias="storage loss")
    limits: Any = None
    steps: Any = None
    stores: Any = None
    other_stock: Any = Field(None, alias="other stock")
    outdoors: Any = None
    wintering: Any = None
    batches: Any = None
    feeds: Any = None
    fed: Any = None


SPOKEN = {
    "dm": "dry matter", "cp": "protein", "crude protein": "protein", "me": "energy",
    "m/d": "energy",
    "ndf": "fibre (NDF)", "adf": "fibre (ADF)", "fibre": "fibre (NDF)", "dvalue": "D-value",
    "ca": "calcium", "p": "phosphorus", "mg": "magnesium", "cu": "copper", "na": "sodium",
    "k": "potassium", "adin": "bound nitrogen", "cost": "price", "amount": "stock",
    "quantity": "stock", "number": "head", "count": "head", "gender": "sex", "group": "batches",
    "flock": "batches", "groups": "batches", "type": "class", "start": "from", "end": "to",
    "until": "to", "maximum": "most a day", "max": "most a day", "minimum": "least a day",
    "min": "least a day", "loss": "storage loss", "target weight": "target", "dates": "winter",
    "ration": "fed", "value": "would fetch", "worth": "would fetch", "lab": "analysis",
    "sheet": "analysis", "ewes": "first claim", "pen": "floor", "area": "floor",
    "spread": "sd", "standard deviation": "sd", "n": "number", "capacity": "holds",
    "feeds": "for", "period": "periods", "bin": "stores", "store": "stores", "lorry": "lane",
    "weights": "weighed",
}  # fmt: skip
_PRETTY = {tidy(word): word for word in FIGURES}


def names_in(model: type[BaseModel]) -> tuple[str, ...]:
    """Every name a section may use."""
    return tuple(
        _PRETTY.get(f.alias or key, f.alias or key) for key, f in model.model_fields.items()
    )


def check(model: type[Entry], raw: object, keys: Keys, sheet: Sheet, context: Any = None) -> Any:
    """A section read by its table, every fault noted on the sheet.

    Where a name is at fault the sound ones are returned so that they can be looked at further;
    None when a name that must be there is missing or at fault.
    """
    what = sheet.written.get(keys, keys[-1] if keys else "the farm file")
    if not isinstance(raw, dict):
        fault = f'"{what}" is a group of names and values'
        read = "nothing is there" if raw is None else f"read {shown(_kind(raw))}"
        sheet.fault(keys, f"{read}: {fault}", do='Write them indented below it, "name: value"')
        return None
    try:
        return model.model_validate(raw, context=context)
    except ValidationError as error:
        faults = error.errors(include_url=False, include_input=False)
    for found in faults:
        _note(found, model, keys, sheet)
    bad = {found["loc"][0] for found in faults}
    try:
        sound = {name: value for name, value in raw.items() if name not in bad}
        return model.model_validate(sound, context=context)
    except ValidationError:
        return None


def _kind(raw: object) -> object:
    return "a list" if isinstance(raw, list) else raw


def _note(fault: Any, model: type[Entry], keys: Keys, sheet: Sheet) -> None:
    at: Keys = (*keys, *fault["loc"])
    name = str(at[-1])
    if fault["type"] == "problem":
        problem: Problem = fault["ctx"]["problem"]
        sheet.fault(at, problem.read, problem.allowed, problem.do)
    elif fault["type"] == "missing":
        sheet.fault(keys, f"{_PRETTY.get(name, name)} is missing", do=f'Add a line "{name}: ..."')
    elif fault["type"] == "extra_forbidden":
        known = names_in(model)
        spoken = SPOKEN.get(name)
        hint = f'Did you mean "{spoken}"?' if spoken in known else nearest(name, known)
        sheet.fault(
            at,
            f"{shown(sheet.written.get(at, name))} is not a name used here",
            "",
            hint or f"Names used here: {', '.join(known[:12])} and more",
        )
    else:  # pragma: no cover - every field has a reader of ours
        sheet.fault(at, str(fault["msg"]))

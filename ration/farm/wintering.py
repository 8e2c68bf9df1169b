"""The ways of wintering to compare: the section `wintering:` of a farm file.

Names and values are read by the tables below, every fault of the section in one go; then it is
seen whether the parts agree: a wage where there is work, a value where there are deaths, a price
or a feed of the farm behind every feed put out.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from datetime import date
from types import MappingProxyType
from typing import Annotated, Any

from pydantic import Field

from ration import units
from ration.animals import HOUSINGS
from ration.errors import InputError
from ration.farm import keys as farm_keys
from ration.farm import words
from ration.farm.keys import Entry, reads
from ration.farm.words import between, id_of, one_of, per
from ration.plain_text import refusal, split
from ration.strict_yaml import Keys, Sheet, tidy
from ration.units import shown
from ration.wintering.budget import SCALABLE
from ration.wintering.records import (
    Amount,
    Building,
    FeedGiven,
    Keep,
    Labour,
    Land,
    Terms,
    Visits,
    Way,
    Wintering,
)

__all__ = ["MOST_WAYS", "Wintering", "wintering_of"]

MOST_WAYS = 8
MOST_FEEDS = 12
USUAL_DAYS = 150
HA_PER_ACRE = 0.40468564224  # 4,840 square yards of 0.9144 m, by law
PLACES = {
    "housed": "shed", "indoors": "shed", "inside": "shed", "in the shed": "shed",
    "inbye": "in-bye", "at home": "in-bye", "on the hill": "hill", "tack": "away", "keep": "away",
}  # fmt: skip

Reader = Callable[[Any], Any]


# ---------------------------------------------------------------- money, as it is said


def _money(value: Any, what: str) -> tuple[float, str]:
    """Pounds, and what is said after them: "95 p a week" is 0.95 and "week"."""
    text = units.plain(value, what)
    size, rest = split(re.sub(r"^([+-]?) ?£ ?", r"\1", text), what)
    if found := re.fullmatch(r"(?:p|pence)\b ?(.*)", rest):
        size, rest = size / 100, found.group(1)
    return size, re.sub(r"^(?:/|per\b|an?\b|the\b) ?", "", rest).strip()


def rate(what: str, most: float, *words_after: str) -> Reader:
    """A reader of money a something: "13.48 /h", "45 p a mile"; the first word is shown."""

    def read(value: Any) -> float:
        gbp, rest = _money(value, what)
        if rest not in words_after:
            do = f'Write it like "{gbp:g} a {words_after[0]}"'
            raise refusal(value, f"{what} is money for one {words_after[0]}", do=do)
        if gbp > most:
            raise refusal(value, f"{what} is outside what is believable", f"0 to {most:g} pounds")
        return gbp

    return read


def pounds(what: str, most: float) -> Reader:
    """A reader of money alone: "110", "£1,200", "65 p"."""

    def read(value: Any) -> float:
        gbp, rest = _money(value, what)
        if rest not in ("", "each", "head"):
            raise refusal(value, f"{what} is money alone", do=f'Write "{gbp:g}"')
        if gbp > most:
            raise refusal(value, f"{what} is outside what is believable", f"0 to {most:g} pounds")
        return gbp

    return read


_EACH = ("each", "head", "hogg", "sheep", "each one")
_ALL = ("for the flock", "flock", "in all", "for all", "altogether")


def amount(what: str) -> Reader:
    """A reader of money each or in all: "2.10 each", "480 in all", "2.40 each way"."""

    def read(value: Any) -> Amount:
        gbp, rest = _money(value, what)
        times = 1
        found = re.fullmatch(r"(.*?),? ?\b(?:each way|both ways)", rest)
        if found and what == "haulage":
            times, rest = 2, found.group(1).strip() or "each"
        if rest not in _EACH + _ALL:
            raise refusal(
                value,
                f"{what} does not say whether it is for each sheep or for all of them",
                do=f'Write "{gbp:g} each" or "{gbp:g} in all"',
            )
        each = rest in _EACH
        most = 100.0 if each else 1e6
        if gbp > most:
            allowed = f"0 to {most:,.0f} pounds {'each' if each else 'in all'}"
            raise refusal(value, f"{what} is outside what is believable", allowed)
        return Amount(times * gbp, 0.0) if each else Amount(0.0, times * gbp)

    return read


# ---------------------------------------------------------------- work, feed, land


_TIMES = {"h": 1.0, "hour": 1.0, "hours": 1.0, "min": 1 / 60, "mins": 1 / 60, "minute": 1 / 60,
          "minutes": 1 / 60, "s": 1 / 3600, "seconds": 1 / 3600}  # fmt: skip


def _time_h(text: str, what: str) -> float:
    size, rest = split(text, what)
    if rest not in _TIMES:
        raise refusal(text, f"{what} is a time", "hours or minutes", 'Write it like "5 h"')
    return size * _TIMES[rest]


def time_h(what: str, most: float) -> Reader:
    """A reader of a length of time [h]: "5 h", "45 min"."""
    return between(lambda v, w: _time_h(units.plain(v, w), w), what, 0.0, most, "h")


def _for_days(text: str, what: str) -> tuple[str, int | None]:
    """A text without its "for 60 days", and those days."""
    found = re.fullmatch(r"(.*?),? for (\S+ (?:days?|weeks?))\b(.*)", text)
    if found is None:
        return text, None
    days = between(units.days, f"the days of {what}", 0, 366, "days")(found.group(2))
    return (found.group(1) + found.group(3)).strip(), int(days)


def work_said(value: Any) -> tuple[float, float, int | None]:
    """Work: "45 min a day", "1 h a day for 60 days", "10 s a head a day".

    Returns
    -------
    tuple
        Hours a day for the flock, hours a head and day, days or None for all the winter.
    """
    text, days = _for_days(units.plain(value, "labour").lower(), "labour")
    found = re.fullmatch(r"(.+?)(,? (?:a|per) head)?(?: ?(?:a|per|/) ?day)", text)
    if found is None:
        raise refusal(value, "labour is a time a day", do='Write "45 min a day"')
    hours = _time_h(found.group(1), "labour")
    if hours > (1.0 if found.group(2) else 24.0):
        raise refusal(value, "labour is outside what is believable", "0 to 24 h a day")
    return (0.0, hours, days) if found.group(2) else (hours, 0.0, days)


def feed_said(value: Any) -> tuple[float, int | None, float | None]:
    """A feed put out: "0.85 kg for 156 days at 140 /t", "0.8 kg a day".

    Returns
    -------
    tuple
        kg a head and day, days or None for all the winter, GBP/t or None when it is not said.
    """
    text, price = units.plain(value, "the feed"), None
    if found := re.fullmatch(r"(.+?),? at (.+)", text):
        text = found.group(1)
        price = words.price(found.group(2))
    text, days = _for_days(text, "the feed")
    read = between(per("day", units.mass_kg, "the feed a day"), "the feed a day", 0, 20, "kg")
    return read(re.sub(r",? (?:a|per) head", "", text)), days, price


def area_ha(value: Any) -> float:
    """Land [ha]: "9 ha", "22 acres"."""
    text = units.plain(value, "land")
    size, rest = split(text, "land")
    sizes = {"ha": 1.0, "hectares": 1.0, "hectare": 1.0, "acres": HA_PER_ACRE, "acre": HA_PER_ACRE}
    if rest not in sizes:
        raise refusal(text, "land is in ha or acres", do=f'Write "{size:g} ha"')
    if size * sizes[rest] > 100_000:
        raise refusal(text, "land is outside what is believable", "0 to 100,000 ha")
    return size * sizes[rest]


def grass_said(value: Any) -> float:
    """Spring grass lost [t DM/ha]: "0.6 t DM a ha"."""
    text = units.plain(value, "lost grass")
    size, rest = split(text, "lost grass")
    if not re.fullmatch(r"t (?:of )?(?:dm|dry matter) ?(?:/|a|an|per) ?(?:ha|hectare)", rest):
        do = f'Write "{size:g} t DM a ha"'
        raise refusal(text, "lost grass is tonnes of dry matter a ha", do=do)
    if size > 10:
        raise refusal(text, "lost grass is outside what is believable", "0 to 10 t DM a ha")
    return size


def _dry_price(value: Any) -> float:
    """A price of dry matter [GBP/t DM]: "110 /t DM"."""
    text = units.plain(value, "worth")
    found = re.fullmatch(r"(.+?) (?:of )?(?:dm|dry matter)", text, re.IGNORECASE)
    if not found:
        raise refusal(text, "worth is money a tonne of dry matter", do='Write "110 /t DM"')
    return between(units.price_gbp_per_t, "worth", 0.0, 2000.0, "per tonne")(found.group(1))


def distance(value: Any) -> tuple[float, str]:
    """A journey there and back: "148 miles", "240 km"."""
    text = units.plain(value, "the journey")
    size, rest = split(text, "the journey")
    unit = {"mile": "mile", "miles": "mile", "km": "km"}.get(rest)
    if unit is None:
        raise refusal(text, "the journey is in miles or km", do=f'Write "{size:g} miles"')
    if size > 3000:
        raise refusal(text, "the journey is outside what is believable", "0 to 3,000")
    return size, unit


def _lines(value: Any) -> tuple[str, ...]:
    names = words.names(value, "lines")
    return tuple(one_of(SCALABLE, "line")(name) for name in names)


def _share(what: str, most: float) -> Reader:
    return between(units.share, what, 0.0, most, f"({100 * most:g} %)")


def _kg(what: str, most: float) -> Reader:
    return between(units.mass_kg, what, 0.0, most, "kg")


def _day(name: str) -> Reader:
    return lambda v: units.day(v, name)


# ---------------------------------------------------------------- the tables of names


class VisitsEntry(Entry):
    """Journeys to look at them."""

    number: Annotated[float, reads(between(units.whole, "visits", 0, 400))]
    miles: Annotated[float | None, reads(between(units.number, "miles", 0, 3000))] = None
    journey: Annotated[tuple[float, str] | None, reads(distance)] = None
    rate: Annotated[Any, reads(lambda v: v)] = None
    hours: Annotated[Any, reads(lambda v: v)] = 0.0


class BuildingEntry(Entry):
    """The shed's yearly cost."""

    capital: Annotated[float, reads(pounds("capital", 1e7))]
    years: Annotated[float, reads(between(units.number, "years", 1, 100))]
    interest: Annotated[
        float | None, reads(between(per("year", units.share, "interest"), "interest", 0, 0.4))
    ] = None
    upkeep: Annotated[
        float, reads(between(per("year", units.share, "upkeep"), "upkeep", 0, 0.5, "(50 %)"))
    ] = 0.0
    share: Annotated[float, reads(_share("share", 1.0))] = 1.0


class LandEntry(Entry):
    """Grass lost to winter grazing."""

    area: Annotated[float, reads(area_ha)]
    lost_grass: Annotated[float, reads(grass_said)] = Field(alias="lost grass")
    worth: Annotated[float, reads(_dry_price)]
    repair: Annotated[float, reads(pounds("repair", 1e6))] = 0.0


class WayEntry(Entry):
    """One way of wintering."""

    place: Annotated[str | None, reads(one_of(HOUSINGS, "place"))] = None
    start: Annotated[date | None, reads(_day("from"))] = Field(None, alias="from")
    end: Annotated[date | None, reads(_day("to"))] = Field(None, alias="to")
    days: Annotated[int | None, reads(between(units.days, "days", 1, 366, "days"))] = None
    places: Annotated[int | None, reads(between(units.whole, "places", 0, 100_000))] = None
    keep: Annotated[
        float | None, reads(rate("keep", 20.0, "week", "head a week", "head/week", "head per week"))
    ] = None
    paid_on: Annotated[str, reads(one_of(("heads sent", "heads returned"), "paid on"))] = Field(
        "heads sent", alias="paid on"
    )
    haulage: Annotated[Amount, reads(amount("haulage"))] = Amount()
    visits: Any = None
    doses: Annotated[Amount, reads(amount("doses"))] = Amount()
    vitamin_d: Annotated[bool | None, reads(words.yes_no)] = Field(None, alias="vitamin d")
    feed: Any = None
    waste: Any = None
    minerals: Annotated[Amount, reads(amount("minerals"))] = Amount()
    labour: Annotated[tuple[float, float, int | None] | None, reads(work_said)] = None
    bedding: Annotated[Amount, reads(amount("bedding"))] = Amount()
    dung: Annotated[Amount, reads(amount("dung"))] = Amount()
    building: Any = None
    land: Any = None
    deaths: Annotated[float, reads(_share("deaths", 0.5))] = 0.0
    less_wool: Annotated[float, reads(_kg("less wool", 10.0))] = Field(0.0, alias="less wool")
    more_barren: Annotated[float, reads(_share("more barren", 1.0))] = Field(
        0.0, alias="more barren"
    )
    heavier: Annotated[float, reads(_kg("heavier", 40.0))] = 0.0
    grows_with_head: Annotated[tuple[str, ...], reads(_lines)] = Field((), alias="grows with head")
    note: Annotated[str, reads(words.text)] = ""


class WinteringEntry(Entry):
    """What all the ways share."""

    head: Annotated[int | None, reads(between(units.whole, "head", 1, 100_000))] = None
    wage: Annotated[float | None, reads(rate("wage", 200.0, "h", "hour"))] = None
    value_of_a_hogg: Annotated[float | None, reads(pounds("value of a hogg", 5000.0))] = Field(
        None, alias="value of a hogg"
    )
    margin_of_a_lamb_crop: Annotated[
        float | None, reads(pounds("margin of a lamb crop", 2000.0))
    ] = Field(None, alias="margin of a lamb crop")
    wool: Annotated[float | None, reads(rate("wool", 100.0, "kg"))] = None
    growth: Annotated[float, reads(rate("growth", 50.0, "kg"))] = 0.0
    interest: Annotated[
        float | None, reads(between(per("year", units.share, "interest"), "interest", 0, 0.4))
    ] = None
    count_interest: Annotated[bool, reads(words.yes_no)] = Field(False, alias="count interest")
    sunk_by_then: Annotated[float, reads(_share("sunk by then", 1.0))] = Field(
        0.0, alias="sunk by then"
    )
    basis: Annotated[str, reads(one_of(("heads wintered", "heads returned"), "basis"))] = (
        "heads wintered"
    )
    prices: Any = None
    ways: Any = None
    note: Annotated[str, reads(words.text)] = ""


# ---------------------------------------------------------------- the section


def wintering_of(
    sheet: Sheet, winter: tuple[date, date] | None, offer_ids: tuple[str, ...]
) -> Wintering | None:
    """The section read; None when there is none or it is at fault.

    Parameters
    ----------
    sheet : Sheet
        Takes every fault.
    winter : tuple of date or None
        First and last day; a way without days of its own covers them all.
    offer_ids : tuple of str
        Feeds of the farm, whose price a feed without one takes.
    """
    if "wintering" not in sheet.group(()):
        return None
    return _Reader(sheet, winter, offer_ids).wintering()


class _Reader:
    """Reads the section; every fault goes to the sheet."""

    def __init__(
        self, sheet: Sheet, winter: tuple[date, date] | None, offer_ids: tuple[str, ...]
    ) -> None:
        self.sheet = sheet
        self.days = (winter[1] - winter[0]).days if winter else USUAL_DAYS
        self.offer_ids = offer_ids
        self.prices: dict[str, float] = {}
        self.top: Any = None

    def wintering(self) -> Wintering | None:
        """The whole section."""
        sheet, at = self.sheet, ("wintering",)
        before = len(sheet.problems)
        self.top = top = farm_keys.check(WinteringEntry, sheet.group(())["wintering"], at, sheet)
        if top is None:
            return None
        self.prices = self.price_list()
        ways = self.ways()
        if len(sheet.problems) > before or not ways:
            return None
        self.told(ways)
        if len(sheet.problems) > before:
            return None
        basis = "wintered" if top.basis == "heads wintered" else "returned"
        terms = Terms(
            wage_gbp_per_h=top.wage or 0.0,
            hogg_gbp=top.value_of_a_hogg or 0.0,
            crop_gbp=top.margin_of_a_lamb_crop or 0.0,
            wool_gbp_per_kg=top.wool or 0.0,
            growth_gbp_per_kg=top.growth,
            interest_share_per_year=self.interest(),
            is_interest_counted=top.count_interest,
            sunk_share=top.sunk_by_then,
            basis="wintered" if basis == "wintered" else "returned",
        )
        return Wintering(terms, tuple(ways), top.head)

    def interest(self) -> float:
        """The section's own rate, else the farm's, else what the farm file takes unsaid."""
        if self.top.interest is not None:
            return float(self.top.interest)
        said = self.sheet.group(()).get("interest")
        try:
            return per("year", units.share, "interest")(said, "") if said is not None else 0.06
        except InputError:  # told already, as a fault of the farm's own line
            return 0.06

    def price_list(self) -> dict[str, float]:
        """Prices of feeds put out, by id. [GBP/t fresh]"""
        at: Keys = ("wintering", "prices")
        found = {}
        for name, value in self.group(at, "prices", "feed").items():
            try:
                price = words.price(value)
            except InputError as error:
                self.sheet.add(*error.at(self.sheet.where((*at, name))).problems)
                continue
            if price is not None:
                found[id_of(name)] = price
        return found

    def group(self, at: Keys, what: str, each: str, most: int = MOST_FEEDS) -> dict[str, Any]:
        """A group of names below a name; empty when it is not there."""
        parent = self.sheet.group(at[:-1])
        if at[-1] not in parent:
            return {}
        body = parent[str(at[-1])]
        if not isinstance(body, dict) or not body:
            read = "nothing is there" if not body else f"read {shown(body)}"
            self.sheet.fault(at, f"{read}: {what} is a group with one {each} on each line")
            return {}
        if len(body) > most:
            self.sheet.fault(at, f"{len(body)} names under {what}", f"at most {most}")
            return {}
        return body

    def ways(self) -> list[Way]:
        """Every way."""
        at: Keys = ("wintering", "ways")
        bodies = self.group(at, "ways", "way", MOST_WAYS)
        if "ways" not in self.sheet.group(("wintering",)):
            do = 'Write "ways:" and below it away, hill, in-bye and shed, as many as there are'
            self.sheet.fault(("wintering",), "ways is missing", do=do)
        found = []
        for key, body in bodies.items():
            entry = farm_keys.check(WayEntry, body, (*at, key), self.sheet)
            way = None if entry is None else self.way((*at, key), entry)
            if way is not None:
                found.append(way)
        return found

    def way(self, at: Keys, entry: Any) -> Way | None:
        """One way; None when its place or its days are at fault."""
        place = self.place(at, entry)
        days = self.days_of(at, entry)
        if place is None or days is None:
            return None
        keep = None
        if entry.keep is not None:
            on = "returned" if entry.paid_on == "heads returned" else "sent"
            keep = Keep(entry.keep, "returned" if on == "returned" else "sent")
        elif "paid_on" in entry.model_fields_set:
            self.sheet.fault((*at, "paid on"), "there is no keep to be paid", do="Add: keep: ...")
        work = entry.labour
        feeds, is_by_mix = self.feeds(at, place, days)
        return Way(
            name=self.sheet.written[at],
            place=place,
            days=days,
            keep=keep,
            haulage=entry.haulage,
            visits=self.visits(at),
            doses=entry.doses,
            feeds=feeds,
            is_by_mix=is_by_mix,
            waste=self.waste(at),
            minerals=entry.minerals,
            labour=work and Labour(work[0], days if work[2] is None else work[2], work[1]),
            bedding=entry.bedding,
            dung=entry.dung,
            building=self.building(at),
            land=self.land(at),
            deaths_share=entry.deaths,
            wool_less_kg=entry.less_wool,
            barren_share=entry.more_barren,
            heavier_kg=entry.heavier,
            places=entry.places,
            scaled=entry.grows_with_head,
            is_doses_with_vitamin_d=entry.vitamin_d,
            place_in_file=self.sheet.place(at),
        )

    def place(self, at: Keys, entry: Any) -> str | None:
        """Where they are kept: as said, or by the way's own name."""
        if entry.place is not None:
            return str(entry.place)
        name = tidy(at[-1])
        by_name = {tidy(h): h for h in HOUSINGS} | PLACES
        if name in by_name:
            return by_name[name]
        self.sheet.fault(
            at,
            f"{shown(self.sheet.written[at])} does not say where they are kept",
            f"it is one of {', '.join(HOUSINGS)}",
            'Write "place: in-bye" below it',
        )
        return None

    def days_of(self, at: Keys, entry: Any) -> int | None:
        """Days this way covers: its own, from its dates, or the whole winter's."""
        if (entry.start is None) != (entry.end is None):
            missing = "to" if entry.end is None else "from"
            self.sheet.fault(at, f"{missing} is missing", do="Write both from and to, or neither")
            return None
        if entry.start is None:
            return self.days if entry.days is None else int(entry.days)
        if entry.days is not None:
            self.sheet.fault(
                (*at, "days"), "both days and dates are said", do="Keep one of the two"
            )
            return None
        days = (entry.end - entry.start).days
        if not 1 <= days <= 366:
            first, last = units.in_words_day(entry.start), units.in_words_day(entry.end)
            read = f"they are there from {first} to {last}, {days} days"
            self.sheet.fault((*at, "to"), read, "1 to 366 days", "Check the years")
            return None
        return int(days)

    # ------------------------------------------------------------ parts of a way

    def sub(self, at: Keys, name: str, model: type[Entry]) -> Any:
        """A group below a way, checked; None when it is not there or at fault."""
        if name not in self.sheet.group(at):
            return None
        return farm_keys.check(model, self.sheet.group(at)[name], (*at, name), self.sheet)

    def value(self, at: Keys, name: str, reader: Reader, otherwise: Any) -> Any:
        """One value read where the table could not, its fault noted."""
        body = self.sheet.group(at)
        if name not in body:
            return otherwise
        try:
            return reader(body[name])
        except InputError as error:
            self.sheet.add(*error.at(self.sheet.where((*at, name))).problems)
            return otherwise

    def visits(self, way: Keys) -> Visits | None:
        """Journeys; the rate is for a mile or a km as the journey is."""
        entry = self.sub(way, "visits", VisitsEntry)
        if entry is None:
            return None
        at: Keys = (*way, "visits")
        if (entry.miles is None) == (entry.journey is None):
            which = "neither" if entry.miles is None else "both"
            words_ = (
                "of miles and journey are said" if which == "both" else "miles nor journey is said"
            )
            self.sheet.fault(at, f"{which} {words_}", do='Write "miles: 148" or "journey: 240 km"')
            return None
        size, unit = entry.journey or (entry.miles, "mile")
        singular = ("mile",) if unit == "mile" else ("km",)
        if "rate" not in self.sheet.group(at):
            self.sheet.fault(at, "rate is missing", do=f'Write "rate: 45 p a {unit}"')
        gbp = self.value(at, "rate", rate("rate", 10.0, *singular), 0.0)
        hours = self.value(at, "hours", _hours, 0.0)
        return Visits(entry.number, size, unit, gbp, hours)

    def building(self, way: Keys) -> Building | None:
        """The shed's cost."""
        entry = self.sub(way, "building", BuildingEntry)
        if entry is None:
            return None
        return Building(entry.capital, entry.years, entry.upkeep, entry.share, entry.interest)

    def land(self, way: Keys) -> Land | None:
        """The grass lost."""
        entry = self.sub(way, "land", LandEntry)
        if entry is None:
            return None
        return Land(entry.area, entry.lost_grass, entry.worth, entry.repair)

    def waste(self, way: Keys) -> MappingProxyType[str, float]:
        """Waste by kind of feed where this way has its own."""
        entry = self.sub(way, "waste", farm_keys.LossEntry)
        said = () if entry is None else entry.model_fields_set
        return MappingProxyType({k: v for k in said if (v := getattr(entry, k)) is not None})

    def feeds(self, way: Keys, place: str, days: int) -> tuple[tuple[FeedGiven, ...], bool]:
        """What is put out by hand, or that the mix is."""
        at: Keys = (*way, "feed")
        raw = self.sheet.group(way).get("feed")
        if isinstance(raw, str) and tidy(raw) in ("the mix", "mix"):
            if place == "away":
                why = "away the host's grass feeds them"
                self.sheet.fault(
                    at, f"read {shown(raw)}: {why}", do="Write what is put out, if any"
                )
            return (), True
        found = []
        for name, body in self.group(at, "feed", "feed").items():
            here: Keys = (*at, name)
            try:
                kg, own_days, price = feed_said(body)
            except InputError as error:
                self.sheet.add(*error.at(self.sheet.where(here)).problems)
                continue
            feed_id = id_of(name)
            if price is None:
                price = self.prices.get(feed_id)
            written = self.sheet.written[here]
            if price is None and feed_id not in self.offer_ids:
                do = f'Write "{kg:g} kg at 140 /t", or put it under wintering > prices'
                self.sheet.fault(here, f"{shown(written)} has no price", do=do)
            if own_days is not None and own_days > days:
                read = f"{written} is put out for {own_days} days"
                self.sheet.fault(here, read, f"this way lasts {days} days")
            found.append(FeedGiven(written, kg, days if own_days is None else own_days, price))
        return tuple(found), False

    def told(self, ways: list[Way]) -> None:
        """Ask for the price behind everything that has to be priced."""
        top = self.top
        needs = (
            ("wage", top.wage, "13.48 /h", "work", lambda w: _hours_in(w)),
            ("value of a hogg", top.value_of_a_hogg, "110", "deaths", lambda w: w.deaths_share),
            ("margin of a lamb crop", top.margin_of_a_lamb_crop, "65", "more barren",
             lambda w: w.barren_share),
            ("wool", top.wool, "10 p a kg", "less wool", lambda w: w.wool_less_kg),
        )  # fmt: skip
        for name, said, example, of, has in needs:
            named = [w.name for w in ways if has(w)]
            if said is None and named:
                self.sheet.fault(
                    ("wintering",),
                    f"{name} is missing",
                    f"{named[0]} has {of}",
                    f'Write "{name}: {example}"',
                )
        if len(ways) < 2:
            self.sheet.fault(
                ("wintering", "ways"), "only one way is there", "two or more are compared"
            )


def _hours(value: Any) -> float:
    """Hours of a journey: 5, "5 h" or "90 min"."""
    if isinstance(value, str):
        return float(time_h("hours", 48.0)(value))
    return between(units.number, "hours", 0.0, 48.0, "h")(value)


def _hours_in(way: Way) -> bool:
    work, road = way.labour, way.visits
    return bool((work and (work.hours_per_day or work.hours_per_head_day)) or (road and road.hours))

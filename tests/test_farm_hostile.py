"""Broken farm files: hand-made and made by changing good ones. None may pass or raise anything
but `InputError`, one plain line to a fault, with the file and, where there is one, the line.
"""

from __future__ import annotations

import dataclasses
import math
import random
import re
from collections.abc import Iterator
from functools import cache
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ration import farm, tables
from ration.errors import InputError
from ration.tables import Tables

DEMO = Path(farm.__file__).parent.parent / "demo" / "quernhope.yaml"
BASE = """\
name: Test farm
winter:
  from: 28 October 2026
  to: 2 April 2027
class: ewe lamb
mature weight: 62 kg
housing: shed
margin: 1.05
maintenance: 1.0
trough: 54 m
floor: 128 m2
meals a day: 2
show pounds: no
assume: all
waste:
  hay: 12 %
  trough feed: 1 %
storage loss:
  hay: 3 %
limits:
  least dry matter: 2.0 % of weight
  most dry matter: 2.8 % of weight
  least forage: 60 %
  most trough feed: 0.6 kg
  most oil: 6 %
  most copper: 15 mg/kg DM
  least calcium to phosphorus: 1
  most calcium to phosphorus: 7
  ceiling gain: 100 g/day
batches:
  strong:
    head: 92
    weight: 37.2 kg
    target: 42.0 kg
  small:
    head: 34
    weight: 32.4 kg
    gain: 40 g/day
    sex: female
    age: under one year
    lambing: 20 April 2027
feeds:
  meadow:
    like: hay-average
    stock: 640 bales of 18.4 kg
    first claim: 3 t
    would fetch: 110 /t
    dry matter: 84.6 %
    protein: 8.6 %
    energy: 8.7 MJ/kg DM
    copper: 5 mg/kg DM
    degradability: {a: 0.22, b: 0.60, c: 0.08}
    signs: dusty
  barley:
    price: 211 /t
    least a day: 0.05 kg
    most a day: 0.3 kg
    least of dry matter: 2 %
    most of dry matter: 30 %
    waste: 1 %
  cubes-16:
    price: 8.35 per 20 kg bag
    made for: sheep
  limestone:
    price: to be entered
fed:
  small:
    meadow: 0.68 kg
    barley: 0.18 kg
    part ration: no
"""

# what is changed, what it becomes, part of the line that must be told about it
BROKEN: tuple[tuple[str, str, str], ...] = (
    # names
    ("name: Test farm", "nmae: Test farm", 'Did you mean "name"?'),
    ("class: ewe lamb", "klass: ewe lamb", 'Did you mean "class"?'),
    ("trough: 54 m", "manger: 54 m", "is not a name used here"),
    ("    head: 92", "    number: 92", 'Did you mean "head"?'),
    ("    weight: 37.2 kg", "    wieght: 37.2 kg", 'Did you mean "weight"?'),
    ("    protein: 8.6 %", "    CP: 8.6 %", 'Did you mean "protein"?'),
    ("    energy: 8.7", "    ME: 8.7", 'Did you mean "energy"?'),
    ("    price: 211 /t", "    cost: 211 /t", 'Did you mean "price"?'),
    ("    signs: dusty", "    colour: brown", "is not a name used here"),
    ("  least forage: 60 %", "  least fodder: 60 %", 'Did you mean "least forage"?'),
    ("  hay: 12 %", "  hey: 12 %", 'Did you mean "hay"?'),
    ("  from: 28", "  start: 28", 'Did you mean "from"?'),
    ("{a: 0.22,", "{x: 0.22,", "is not a name used here"),
    # the same name twice
    ("trough: 54 m", "trough: 54 m\nTrough: 50 m", '"Trough" is here a second time'),
    ("    head: 92", "    head: 92\n    head: 91", '"head" is here a second time'),
    ("  small:\n    head", "  strong:\n    head", '"strong" is here a second time'),
    ("  barley:\n    price", "  Meadow:\n    price", '"Meadow" is here a second time'),
    ("  cubes-16:\n", "  meadow!:\n    like: cubes-16\n", 'the name comes to "meadow"'),
    ("  cubes-16:\n", "  '!!':\n    like: cubes-16\n", "it has no letters"),
    ("fed:", "feeds:", '"feeds" is here a second time'),
    # units
    ("    weight: 37.2 kg", "    weight: 37.2", 'needs its unit. Write "37.2 kg"'),
    ("    weight: 37.2 kg", "    weight: 37,2 kg", "Write 37.2"),
    ("    weight: 37.2 kg", "    weight: 372 miles", "unknown unit"),
    ("    weight: 37.2 kg", "    weight: 3.72e1 kg", "power of ten"),
    ("    weight: 37.2 kg", "    weight: thirty-seven kg", "must start with a number"),
    ("    weight: 37.2 kg", "    weight: 5 st 15 lb", "parts that do not follow"),
    ("    weight: 37.2 kg", "    weight: .nan", "not a plain number"),
    ("    weight: 37.2 kg", "    weight: .inf kg", "not a plain number"),
    ("    weight: 37.2 kg", "    weight: -37.2 kg", "cannot be below zero"),
    ("    weight: 37.2 kg", "    weight:", "weight is empty"),
    ("    weight: 37.2 kg", "    weight: [37.2 kg]", "one value, not a list"),
    ("    weight: 37.2 kg", "    weight: {kg: 37.2}", "one value, not a list or a group"),
    ("    weight: 37.2 kg", "    weight: yes", "not a yes/no answer"),
    ("    weight: 37.2 kg", f"    weight: {'9' * 60} kg", "too many digits"),
    ("    weight: 37.2 kg", f"    weight: {'9' * 6000}", "too many digits"),
    ("    gain: 40 g/day", "    gain: 40", 'needs its unit. Write "40 g/day"'),
    ("    gain: 40 g/day", "    gain: 0.1 lb", "unknown unit"),
    ("    gain: 40 g/day", "    gain: 40 g/month", "unknown unit"),
    ("trough: 54 m", "trough: 54", 'Write "54 m"'),
    ("trough: 54 m", "trough: 54 m2", "unknown unit"),
    ("floor: 128 m2", "floor: 128 m", "unknown unit"),
    ("    price: 211 /t", "    price: 211", 'needs its unit. Write "211 /t"'),
    ("    price: 211 /t", "    price: no", "not a yes/no answer"),
    ("    price: 211 /t", "    price: yes", "not a yes/no answer"),
    ("    price: 211 /t", "    price: -211 /t", "cannot be below zero"),
    ("    price: 211 /t", "    price: 0 /t", "a bought feed has a price"),
    ("    price: 211 /t", "    price: 211,50 /t", "Write 211.50"),
    ("    price: 211 /t", "    price: 211 per sheep", "unknown unit"),
    ("    price: 211 /t", "    price: 999999 /t", "outside what is believable"),
    ("    price: 211 /t", "    price: $211/t", "must start with a number"),
    ("8.35 per 20 kg bag", "8.35 a bag", "of unsaid weight"),
    ("8.35 per 20 kg bag", "8.35 per 0 kg bag", "no weight at all"),
    ("640 bales of 18.4 kg", "640 bales", "does not say what a bale weighs"),
    ("640 bales of 18.4 kg", "640", "needs its unit"),
    ("640 bales of 18.4 kg", "-640 bales of 18.4 kg", "cannot be below zero"),
    ("  hay: 12 %", "  hay: 0.12", 'Write "12 %"'),
    ("  hay: 12 %", "  hay: 120 %", "at most 100 %"),
    ("  hay: 12 %", "  hay: 95 %", "outside what is believable"),
    ("    waste: 1 %", "    waste: 1", 'Write "100 %"'),
    ("    protein: 8.6 %", "    protein: 8.6", "needs its unit"),
    ("    protein: 8.6 %", "    protein: 106 %", "Did you mean 106 g/kg?"),
    ("    protein: 8.6 %", "    protein: 8.6 g/kg", "Did you mean 8.6 %?"),
    ("    protein: 8.6 %", "    protein: 8,6 %", "Write 8.6"),
    ("    dry matter: 84.6 %", "    dry matter: 846", "needs its unit"),
    ("    dry matter: 84.6 %", "    dry matter: 84.6 % DM", "a share of the fresh feed"),
    ("    dry matter: 84.6 %", "    dry matter: 15.4 %", "believable for hay"),
    ("    dry matter: 84.6 %", "    dry matter: 0 %", "5 to 100 %"),
    ("    energy: 8.7 MJ/kg DM", "    energy: 870 MJ/kg DM", "too high"),
    ("    energy: 8.7 MJ/kg DM", "    energy: 2.1", "believable for hay"),
    ("    energy: 8.7 MJ/kg DM", "    energy: 8.7 kcal", "unknown unit"),
    ("    copper: 5 mg/kg DM", "    copper: 5", "needs its unit"),
    ("    copper: 5 mg/kg DM", "    copper: 5 g/kg DM", "believable for hay"),
    ("{a: 0.22, b: 0.60,", "{a: 0.45, b: 0.60,", "at most 1 together"),
    ("{a: 0.22,", "{a: 22,", "0 to 1"),
    ("{a: 0.22, b: 0.60, c: 0.08}", "{a: 0.22, b: 0.60}", "c is missing"),
    ("{a: 0.22, b: 0.60, c: 0.08}", "0.6", "is a group of names and values"),
    # believable numbers
    ("    head: 92", "    head: -92", "cannot be below zero"),
    ("    head: 92", "    head: 0", "at least 1 sheep"),
    ("    head: 92", "    head: 92.5", "a whole number"),
    ("    head: 92", "    head: many", "must start with a number"),
    ("    head: 92", "    head: 92 sheep", "without a unit"),
    ("    weight: 37.2 kg", "    weight: 372 kg", "15 to 55 kg"),
    ("    weight: 37.2 kg", "    weight: 3.72 kg", "15 to 55 kg"),
    ("    target: 42.0 kg", "    target: 32.0 kg", "a loss of weight"),
    ("    target: 42.0 kg", "    target: 142.0 kg", "15 to 55 kg"),
    ("    target: 42.0 kg", "    target: 42.0 kg\n    gain: 30 g", "both gain and target"),
    ("    gain: 40 g/day\n", "", "neither gain nor target"),
    ("    gain: 40 g/day", "    gain: -40 g/day", "a loss of weight"),
    ("    gain: 40 g/day", "    gain: 400 g/day", "0 to 250 g/day"),
    ("    gain: 40 g/day", "    gain: 40 kg/day", "0 to 250 g/day"),
    ("mature weight: 62 kg", "mature weight: 620 kg", "25 to 130 kg"),
    ("margin: 1.05", "margin: 105", "1.00 to 1.50"),
    ("margin: 1.05", "margin: 0.05", "1.00 to 1.50"),
    ("margin: 1.05", "margin: 105 %", "at most 100 %"),
    ("maintenance: 1.0", "maintenance: 10", "0.8 to 2"),
    ("meals a day: 2", "meals a day: 0", "1 to 6"),
    ("meals a day: 2", "meals a day: 24", "1 to 6"),
    ("show pounds: no", "show pounds: maybe", "Write yes or no"),
    ("    lambing: 20 April 2027", "    lambing: 20 April 2026", "Check the year"),
    ("    lambing: 20 April 2027", "    lambing: spring", "not a date"),
    # words out of a list
    ("class: ewe lamb", "class: cow", "class is not known; it is one of ewe-lamb"),
    ("class: ewe lamb", "class: ewe lam", 'Did you mean "ewe lamb"?'),
    ("housing: shed", "housing: barn", "it is one of shed, in-bye, hill"),
    ("    sex: female", "    sex: femail", 'Did you mean "female"?'),
    ("    sex: female", "    sex: [female]", "one value, not a list"),
    ("    age: under one year", "    age: young", "age is not understood"),
    ("    signs: dusty", "    signs: dustey", 'Did you mean "dusty"?'),
    ("    signs: dusty", "    signs: [dusty, blue]", "it is one of dusty, mouldy"),
    ("    made for: sheep", "    made for: goldfish", "it is one of sheep, cattle"),
    ("    like: hay-average", "    like: hay-averge", 'Did you mean "hay-average"?'),
    ("    like: hay-average", "    like: 7", "is not in the table"),
    ("    like: hay-average", "    like: [hay-average]", "one value, not a list"),
    ("    like: hay-average\n", "", "does not say which feed of the table it is like"),
    ("assume: all", "assume: barly", 'Did you mean "barley"?'),
    ("assume: all", "assume: [all, [x]]", "one value, not a list"),
    # limits that cross
    ("most dry matter: 2.8", "most dry matter: 1.8", "least must be under the most"),
    ("  least dry matter: 2.0 % of weight", "  least dry matter: 2.0", "needs its unit"),
    ("  most calcium to phosphorus: 7", "  most calcium to phosphorus: 0.5", "least must be under"),
    ("  most oil: 6 %", "  most oil: 6", 'Write "6 %"'),
    ("  most copper: 15 mg/kg DM", "  most copper: 25 mg/kg DM", "the law allows sheep"),
    ("  most copper: 15 mg/kg DM", "  most copper: 15 mg/kg fresh", "per kg of dry matter"),
    ("  least forage: 60 %", "  least forage: 60 % of hay", "unknown unit"),
    ("    least a day: 0.05 kg", "    least a day: 0.5 kg", "least must be under the most"),
    ("    least of dry matter: 2 %", "    least of dry matter: 32 %", "least must be under"),
    ("    first claim: 3 t", "    first claim: 30 t", "more than the stock"),
    ("    stock: 640 bales of 18.4 kg\n", "", "a first claim but no stock"),
    # dates
    ("  from: 28 October 2026", "  from: 28 October 2027", "Check both years"),
    ("  from: 28 October 2026", "  from: 28 October 26", "all four figures"),
    ("  from: 28 October 2026", "  from: 10/28/2026", "the month first"),
    ("  from: 28 October 2026", "  from: 31 September 2026", "not in the calendar"),
    ("  to: 2 April 2027", "  to: 2 April 2029", "1 to 366 days"),
    ("  to: 2 April 2027", "  to: 28 October 2026", "0 days"),
    ("  to: 2 April 2027\n", "", "to is missing"),
    # sections
    ("winter:\n  from: 28 October 2026\n  to: 2 April 2027", "winter: now", "group of names"),
    ("winter:\n  from: 28 October 2026\n  to: 2 April 2027", "winter:", "nothing is there"),
    ("limits:\n", "limits: none\nlimitz:\n", "is a group of names and values"),
    ("waste:\n", "waste: 5 %\nwaist:\n", "is a group of names and values"),
    ("fed:\n", "fed: hay\nfedd:\n", "fed is a group with one batch under each name"),
    ("  barley:\n    price: 211 /t", "  barley:\n    - price: 211 /t", "do not line up"),
    ("  limestone:\n    price: to be entered", "  limestone: 5 /t", "group of names and values"),
    ("  limestone:\n    price: to be entered", "  limestone:", "nothing is there"),
    ("  limestone:\n    price: to be entered", "  limestone:\n    note: x", "no price is said"),
    ("    would fetch: 110 /t", "    would fetch: 110 /t\n    price: 5 /t", "both price and would"),
    # what is fed
    ("    meadow: 0.68 kg", "    medow: 0.68 kg", 'Did you mean "meadow"?'),
    ("    meadow: 0.68 kg", "    meadow: 0.68", 'Write "0.68 kg"'),
    ("    meadow: 0.68 kg", "    meadow: 680 kg", "outside what is believable"),
    ("    meadow: 0.68 kg", "    limestone: 5 g", "has no price yet"),
    ("    part ration: no", "    part ration: perhaps", "Write yes or no"),
    ("fed:\n  small:", "fed:\n  smal:", 'Did you mean "small"?'),
    # YAML
    ("trough: 54 m", "trough: &t 54 m", "a reference mark (&t)"),
    ("trough: 54 m", "trough: *t", "a reference (*t)"),
    ("trough: 54 m", "trough: !!int 54", "a tag (tag:yaml.org,2002:int)"),
    ("trough: 54 m", "trough: !!python/object/apply:os.system [ls]", "a tag ("),
    ("    head: 92", "\t  head: 92", "a tab is used"),
    ("    head: 92", "   head: 92", "set in too far"),
    ("    head: 92", "    head 92", 'has no ":"|set in too far'),
    ("    head: 92", "    head: 92: 3", "the second of its line"),
    ("name: Test farm", "name: 'Test farm", "a quote is opened here"),
    ("name: Test farm", "name: [Test farm", "a bracket is opened here"),
    ("name: Test farm", "name: @Test", "cannot start a value"),
    ("name: Test farm", "name: Test\x07farm", "does not belong in text (0x7)"),
    ("name: Test farm", "name: Test\ufefffarm", "does not belong in text (0xfeff)"),
    ("name: Test farm", f"name: {'x' * 5000}", "the text is too long"),
    ("name: Test farm", "name: no", "not a yes/no answer"),
    ("name: Test farm", "name: [[[[[[[[[[1]]]]]]]]]]", "nested too deep"),
    ("class: ewe lamb", "---\nclass: ewe lamb", "a second document starts here"),
    ("class: ewe lamb", "...\nclass: ewe lamb", "a second document starts here|cannot be read"),
    ("class: ewe lamb", "? {a: b}\n: c", "a name is wanted before the colon"),
    ("class: ewe lamb", "%class: ewe lamb", "cannot start|cannot be read"),
    ("class: ewe lamb", "- class: ewe lamb", "do not line up"),
)  # fmt: skip


@cache
def shipped_tables() -> Tables:
    """The shipped tables, read once."""
    return tables.load()


@pytest.fixture(scope="module")
def shipped() -> Tables:
    return shipped_tables()


def told(text: str, shipped: Tables) -> list[str]:
    """The faults told of a text; [] when it is read."""
    try:
        found = farm.read_text(text, "farm.yaml", DEMO.parent, tables=shipped)
    except InputError as error:
        lines = [str(p) for p in error.problems]
        assert lines
        for line in lines:
            assert "\n" not in line
            assert len(line) < 500, line
            assert line.startswith("farm.yaml"), line
            assert not re.search(r"Traceback|pydantic|<class|object at|\bNone\b|Input should", line)
        return lines
    assert_sound(found)
    return []


def numbers_in(value: Any) -> Iterator[float]:
    """Every number in a record and the records it holds."""
    if isinstance(value, bool):
        return
    if isinstance(value, int | float):
        yield value
    elif dataclasses.is_dataclass(value):
        yield from numbers_in([getattr(value, f.name) for f in dataclasses.fields(value)])
    elif isinstance(value, dict):
        yield from numbers_in(list(value.values()))
    elif isinstance(value, list | tuple):
        for item in value:
            yield from numbers_in(item)


def assert_sound(found: farm.Farm) -> None:
    """A farm that was read holds nothing senseless."""
    assert found.days >= 1
    assert found.batches
    assert found.offers
    assert all(math.isfinite(n) for n in numbers_in(found))
    for offer in found.offers:
        assert offer.price_gbp_per_t_fresh >= 0
        assert 0 <= offer.waste_share < 1
        assert 0 <= offer.storage_loss_share < 1
        stock = offer.stock_t_fresh or 0.0
        assert 0 <= offer.first_claim_t_fresh <= stock + 1e-9
        assert math.isclose(
            offer.first_claim_t_fresh, sum(t for _, t in offer.claims), abs_tol=1e-9
        )
        assert all(measure.kg > 0 for measure in offer.measures)
        if offer.lot is not None:
            kg = offer.lot.mean_kg or sum(offer.lot.guess_kg or ()) / 2
            assert math.isclose(stock, offer.lot.bales * kg / 1000, abs_tol=1e-9)
    for batch in found.batches:
        assert sum(found.winter.pens.get(batch.name, (batch.head,))) == batch.head
    known = {o.id for o in found.offers} | {i for i, _ in found.unpriced}
    assert all(set(store.offer_ids) <= known for store in found.winter.stores)


def test_the_unbroken_file_is_read(shipped: Tables) -> None:
    assert told(BASE, shipped) == []
    assert len(BROKEN) >= 150


@pytest.mark.parametrize(("old", "new", "message"), BROKEN)
def test_one_break_is_told_at_its_line(old: str, new: str, message: str, shipped: Tables) -> None:
    assert BASE.count(old) == 1
    lines = told(BASE.replace(old, new), shipped)
    hit = [line for line in lines if any(part in line for part in message.split("|"))]
    assert hit, lines
    number = re.match(r"farm\.yaml line (\d+)", hit[0])
    assert number, hit
    assert int(number.group(1)) in lines_at(old, new), hit


def lines_at(old: str, new: str = "", base: str = BASE) -> set[int]:
    """Lines of a change, one beside it, and those of the names it stands under."""
    lines = base.splitlines()
    first = base[: base.index(old)].count("\n")
    found = set(range(first, first + 3 + max(old.count("\n"), new.count("\n"))))
    indent = len(lines[first]) - len(lines[first].lstrip())
    for i in range(first, -1, -1):
        here = len(lines[i]) - len(lines[i].lstrip())
        if here < indent:
            indent = here
            found.add(i + 1)
    return found


@pytest.mark.parametrize("section", ["winter", "batches", "feeds"])
@pytest.mark.parametrize("value", [None, "", "[]", "{}", "3", "yes", "[1, 2]", "- a\n- b"])
def test_a_section_that_is_no_section(section: str, value: str | None, shipped: Tables) -> None:
    parts = re.split(r"^(?=[a-z])", BASE, flags=re.MULTILINE)
    kept = [p for p in parts if not p.startswith((f"{section}:", "fed:"))]
    text = "".join(kept)
    if value is not None:
        text += f"{section}: {value}\n" if "\n" not in value else f"{section}:\n{value}\n"
    lines = told(text, shipped)
    assert any(section in line for line in lines), lines


def test_two_breaks_are_both_told(shipped: Tables) -> None:
    """In different entries, so that neither hides the other; a text that is no YAML stops all."""
    rng = random.Random(11)
    stop = [new for _, new, _ in BROKEN].index("trough: &t 54 m")
    whole = [b for b in BROKEN[:stop] if b[2] != "Check the year" and "do not line up" not in b[2]]
    pairs = 0
    while pairs < 80:
        (old1, new1, says1), (old2, new2, says2) = rng.sample(whole, 2)
        if lines_at(old1) & lines_at(old2) or "winter:" in old1 + old2 or "batches" in new1 + new2:
            continue
        together = told(BASE.replace(old1, new1).replace(old2, new2), shipped)
        for says in (says1, says2):
            hit = [line for line in together if any(s in line for s in says.split("|"))]
            assert hit, (new1, new2, says, together)
        pairs += 1


NASTY = (
    "", "no", "~", "[1, 2]", "{a: 1}", "13,2 kg", "-1", "-1 kg", ".nan", "nan %", "1e9", "9" * 40,
    "x: y", "*ref", "&a 1", "!!t 1", "0", "'", "£", "<<", "1.5", "1.5 furlongs", "\x00", "\ud800",
    "2026-10-28", "12:30", "|\n    x", "- a", "? a", "%", "1_000 kg", "0x1F", "Infinity kg",
    "١٢ kg", "../../etc/passwd", "a" * 3000, "{{7*7}}", "$(ls)", "\\x00", "# gone",
)  # fmt: skip


@pytest.mark.parametrize("value", NASTY)
def test_nasty_values_anywhere_in_the_demo(value: str, shipped: Tables) -> None:
    lines = DEMO.read_text(encoding="utf-8").splitlines()
    places = [i for i, line in enumerate(lines) if re.match(r" *[A-Za-z'][^#]*: ", line)]
    assert len(places) > 50
    refused = 0
    for i in places[NASTY.index(value) % 3 :: 3]:
        name = lines[i].split(":")[0]
        text = "\n".join([*lines[:i], f"{name}: {value}", *lines[i + 1 :]])
        refused += bool(told(text, shipped))
    assert refused >= 8


def test_any_line_may_go_missing_or_come_twice(shipped: Tables) -> None:
    lines = DEMO.read_text(encoding="utf-8").splitlines()
    written = [i for i, line in enumerate(lines) if line.strip() and line.strip()[0] != "#"]
    for i in written:
        told("\n".join(lines[:i] + lines[i + 1 :]), shipped)
        twice = told("\n".join(lines[: i + 1] + lines[i:]), shipped)
        assert twice, lines[i]


def test_a_file_cut_off_anywhere_is_told_or_sound(shipped: Tables) -> None:
    text = DEMO.read_text(encoding="utf-8")
    for end in range(0, len(text), 97):
        told(text[:end], shipped)


def test_letters_swapped_anywhere_are_told_or_sound(shipped: Tables) -> None:
    rng = random.Random(5)
    text = BASE
    signs = "\t:-&*!|>'\"%@`#{}[],? \n0.9xé£"
    refused = 0
    for _ in range(300):
        at = rng.randrange(len(text))
        refused += bool(told(text[:at] + rng.choice(signs) + text[at + 1 :], shipped))
    assert refused >= 150


@given(st.text(max_size=200))
def test_any_text_at_all(text: str) -> None:
    with pytest.raises(InputError):
        farm.read_text(text, "farm.yaml", tables=shipped_tables())


# ---------------------------------------------------------------- too much of everything


def bomb() -> str:
    """References within references: small on disk, vast when followed."""
    lines = ["a0: &a0 [x, x, x, x, x, x, x, x, x]"]
    lines += [f"a{i}: &a{i} [{', '.join([f'*a{i - 1}'] * 9)}]" for i in range(1, 12)]
    return "\n".join(lines)


@pytest.mark.parametrize(
    "text",
    [
        bomb(),
        "[" * 50_000,
        "{a: " * 30_000,
        "- " * 50_000,
        "a:\n" + "".join(" " * i + "b:\n" for i in range(1, 400)),
        "? " * 20_000,
        "a: " + "x" * 190_000,
        "".join(f"k{i}: 1\n" for i in range(20_000)),
        "k: 1\n" * 30_000,
        "feeds:\n" + "".join(f"  f{i}: {{like: barley, price: 1 /t}}\n" for i in range(5_000)),
        "batches:\n" + "".join(f"  b{i}:\n" for i in range(10_000)),
        BASE.replace("signs: dusty", "signs: [" + "dusty, " * 20_000 + "]"),
        BASE.replace("assume: all", "assume: [" + ", ".join(f"f{i}" for i in range(20_000)) + "]"),
        BASE.replace("name: Test farm", "name: Test farm\n" + "x" * 100_000 + ": 1"),
        '"' + "\\u0041" * 30_000 + '": 1',
        "#" * 190_000,
        "a: " + "'" * 150_001,
        "\n" * 190_000 + "a: b: c",
        "x" * 1_000_000,
    ],
    ids=lambda text: f"{text[:14]!r}x{len(text)}",
)
def test_too_much_of_anything_is_refused_soon(text: str, shipped: Tables) -> None:
    assert told(text, shipped)


def test_own_figures_are_checked_even_where_the_feed_itself_is_not_known(shipped: Tables) -> None:
    text = DEMO.read_text(encoding="utf-8")
    text = text.replace("like: hay average\n    stock: 640", "like: hay avrage\n    stock: 640")
    text = text.replace("    protein: 8.6 %", "    protein: 106 %")
    with pytest.raises(InputError) as caught:
        farm.read_text(text, "farm.yaml", DEMO.parent, tables=shipped)
    told = str(caught.value)
    assert "hay-average" in told
    assert "believable for any feed. Did you mean 106 g/kg?" in told


# ---------------------------------------------------------------- the winter and the stack

SEASON = """\
winter:
  from: 28 October 2026
  to: 2 April 2027
  periods: 14 days
  long winter: 25 days
steps:
  step up: 12 days
  taper: 7 days
  most step: 50 g
  most change: 100 g
  most at one feed: 0.45 kg
  hay first: yes
lane: 18 t
interest: 6 %
left over: 50 %
shrink: 0.33 %
stores:
  bin:
    holds: 4 t
    for: [barley, cubes 16]
  shed:
    holds: 30 t
    for: meadow, ings
other stock:
  ewes:
    head: 610
    from: 1 December 2026
    to: 10 April 2027
  cattle:
    head: 4
batches:
  strong:
    head: 92
    weight: 37.2 kg
    target: 42.0 kg
    pens: 2
  small:
    head: 34
    weight: 32.4 kg
    gain: 40 g/day
    pens: [20, 14]
feeds:
  meadow:
    like: hay-average
    stock: 640 bales of 18.4 kg
    weighed: 12 bales, mean 18.4 kg, SD 1.9 kg
    first claim: {ewes: 7.694 t, cattle: 2 t}
    would fetch: 110 /t
    bale: 18 kg
  ings:
    like: hay-meadow
    stock: 46 rounds of 215 to 265 kg
    first claim: all
    would fetch: 100 /t
  stack:
    like: hay-poor
    stock: 90 bales
    weighed: {number: 5, mean: 17 kg, sd: 1.5 kg}
    would fetch: 60 /t
  other-stack:
    like: hay-poor
    stock: 50 bales
    weighed: [17.5 kg, 16.2 kg, 18.8 kg]
    would fetch: 60 /t
  barley:
    price: 211 /t
    scoop: 1.55 kg
    bucket: 8 kg
  cubes-16:
    price: 291 /t
"""

BROKEN_SEASON: tuple[tuple[str, str, str], ...] = (
    # names
    ("  periods: 14", "  preiods: 14", 'Did you mean "periods"?'),
    ("  step up:", "  stepup:", 'Did you mean "step up"?'),
    ("  most step:", "  biggest step:", "is not a name used here"),
    ("lane: 18 t", "lorry: 18 t", 'Did you mean "lane"?'),
    ("left over: 50 %", "leftover: 50 %", 'Did you mean "left over"?'),
    ("  bin:\n    holds", "  bin:\n    capacity", 'Did you mean "holds"?'),
    ("    for: [barley", "    feeds: [barley", 'Did you mean "for"?'),
    ("    pens: 2", "    pen: 2", 'Did you mean "pens"?'),
    ("    weighed: 12", "    wieghed: 12", 'Did you mean "weighed"?'),
    ("    scoop: 1.55", "    scop: 1.55", 'Did you mean "scoop"?'),
    ("mean: 17 kg, sd:", "mean: 17 kg, spread:", 'Did you mean "sd"?'),
    ("    head: 610", "    heads: 610", 'Did you mean "head"?'),
    # the same name twice
    ("lane: 18 t", "lane: 18 t\nLane: 20 t", '"Lane" is here a second time'),
    ("  shed:\n", "  bin:\n", '"bin" is here a second time'),
    ("  cattle:\n", "  Ewes:\n", '"Ewes" is here a second time'),
    ("{ewes: 7.694 t,", "{ewes: 1 t, ewes: 7.694 t,", '"ewes" is here a second time'),
    ("[barley, cubes 16]", "[barley, Barley]", '"Barley" is already in "bin"'),
    ("    for: meadow, ings", "    for: meadow, barley", '"barley" is already in "bin"'),
    # days and weights
    ("  periods: 14 days", "  periods: 14", 'needs its unit. Write "14 days"'),
    ("  periods: 14 days", "  periods: 6 days", "7 to 62 days"),
    ("  periods: 14 days", "  periods: 10 weeks", "7 to 62 days"),
    ("  periods: 14 days", "  periods: 2.5 weeks", "in whole days"),
    ("  periods: 14 days", "  periods: -14 days", "cannot be below zero"),
    ("  periods: 14 days", "  periods: a fortnight", "must start with a number"),
    ("  periods: 14 days", "  periods: 14 months", "unknown unit"),
    ("  periods: 14 days", "  periods: 1e400 days", "power of ten"),
    ("  long winter: 25 days", "  long winter: 121 days", "0 to 120 days"),
    ("  long winter: 25 days", "  long winter: no", "not a yes/no answer"),
    ("  long winter: 25 days", "  long winter: .nan", "not a plain number"),
    ("  step up: 12 days", "  step up: 0 days", "1 to 30 days"),
    ("  taper: 7 days", "  taper: 31 days", "0 to 30 days"),
    ("  most step: 50 g", "  most step: 50", "needs its unit"),
    ("  most step: 50 g", "  most step: 5 g", "outside what is believable"),
    ("  most step: 50 g", "  most step: 50 g a week", "unknown unit|do not follow"),
    ("  most change: 100 g", "  most change: 100 kg", "outside what is believable"),
    ("  most at one feed: 0.45 kg", "  most at one feed: 0 kg", "outside what is believable"),
    ("  hay first: yes", "  hay first: first", "Write yes or no"),
    ("lane: 18 t", "lane: 18", 'Write "18 t"'),
    ("lane: 18 t", "lane: 18 kg", "1 to 44 t"),
    ("lane: 18 t", "lane: 60 t", "1 to 44 t"),
    ("interest: 6 %", "interest: 0.06", 'Write "6 %"'),
    ("interest: 6 %", "interest: 60 %", "(40 %)"),
    ("interest: 6 %", "interest: nan %", "must start with a number"),
    ("left over: 50 %", "left over: 150 %", "at most 100 %"),
    ("shrink: 0.33 %", "shrink: 33 %", "(10 %)"),
    # stores
    ("    holds: 4 t", "    holds: 0 t", "outside what is believable"),
    ("    holds: 4 t", "    holds: -4 t", "cannot be below zero"),
    ("    holds: 4 t", "    holds: .inf t", "not a plain number"),
    ("    holds: 4 t", "    holds: 4 m3", "unknown unit"),
    ("    holds: 4 t\n", "", "holds is missing"),
    ("    for: [barley, cubes 16]\n", "", "for is missing"),
    ("[barley, cubes 16]", "[barly, cubes 16]", '"barly" is not a feed of this farm. Did you mean "barley"?'),
    ("[barley, cubes 16]", "[barley, rocks]", '"rocks" is not a feed of this farm. Add it under'),
    ("[barley, cubes 16]", "[barley, [cubes 16]]", "one value, not a list"),
    ("[barley, cubes 16]", "{barley: 1}", "not a list or a group"),
    ("[barley, cubes 16]", "[]", "no feed is named"),
    ("stores:\n", "stores: a bin\nstoores:\n", "stores is a group with one store"),
    ("steps:\n", "steps: slow\nsteeps:\n", "is a group of names and values"),
    # other stock and what it claims
    ("    head: 610", "    head: 0", "outside what is believable"),
    ("    head: 610", "    head: 6.5", "a whole number"),
    ("    to: 10 April 2027", "    to: 10 April 2026", "Check the years"),
    ("    to: 10 April 2027", "    to: 10 April 2028", "1 to 366 days"),
    ("    to: 10 April 2027", "    to: spring", "not a date"),
    ("    from: 1 December 2026\n    to: 10 April 2027", "    from: 1 May 2027\n    to: 9 May 2027", "none of it is in the winter"),
    ("{ewes: 7.694 t,", "{eews: 7.694 t,", '"eews" is not under other stock. Did you mean "ewes"?'),
    ("{ewes: 7.694 t,", "{ewes: 9.9 t,", "11.9 t is more than the stock 11.776 t"),
    ("{ewes: 7.694 t,", "{ewes: all,", '"all" leaves nothing for the others'),
    ("{ewes: 7.694 t,", "{ewes: -7 t,", "cannot be below zero"),
    ("{ewes: 7.694 t,", "{ewes: 1e400 t,", "power of ten"),
    ("{ewes: 7.694 t,", "{ewes: [1 t],", "one value, not a list"),
    ("{ewes: 7.694 t, cattle: 2 t}", "{}", "nothing is there"),
    ("{ewes: 7.694 t, cattle: 2 t}", "[ewes]", "one value, not a list"),
    ("{ewes: 7.694 t, cattle: 2 t}", "", "first claim is empty"),
    # pens
    ("    pens: 2", "    pens: 0", "1 to 50"),
    ("    pens: 2", "    pens: 93", "1 to 50"),
    ("    pens: 2", "    pens: -2", "cannot be below zero"),
    ("    pens: 2", "    pens: 2.5", "a whole number"),
    ("    pens: 2", "    pens: {a: 46, b: 46}", "not a list or a group"),
    ("    pens: 2", "    pens: no", "not a yes/no answer"),
    ("    pens: [20, 14]", "    pens: [20, 15]", "20 + 15 = 35 head; the batch has 34"),
    ("    pens: [20, 14]", "    pens: 35", "35 pens for 34 head"),
    ("    pens: [20, 14]", "    pens: [34, 0]", "outside what is believable"),
    ("    pens: [20, 14]", "    pens: [44, -10]", "cannot be below zero"),
    ("    pens: [20, 14]", "    pens: []", "1 to 50"),
    ("    pens: [20, 14]", "    pens: [17.5, 16.5]", "a whole number"),
    # bales counted and weighed
    ("640 bales of 18.4 kg", "640 bales of 17.9 kg", "the stock says 17.9 kg each and the weighed mean is 18.4 kg"),
    ("640 bales of 18.4 kg", "11.776 t", "is not counted in bales"),
    ("640 bales of 18.4 kg", "11 bales", "12 were weighed of 11 bales"),
    ("640 bales of 18.4 kg", "640.5 bales", "counts whole bales"),
    ("640 bales of 18.4 kg", "999999999 bales", "outside what is believable"),
    ("640 bales of 18.4 kg", "640 bales of 0 kg", "a bale weighs something"),
    ("    stock: 640 bales of 18.4 kg\n", "", "bales were weighed but there is no stock"),
    ("12 bales, mean 18.4 kg, SD 1.9 kg", "12 bales, mean 18.4 kg", "the spread (SD) of the weights is missing"),
    ("12 bales, mean 18.4 kg, SD 1.9 kg", "12 bales", "what was weighed is not understood"),
    ("12 bales, mean 18.4 kg, SD 1.9 kg", "1 bale, mean 18.4 kg, SD 0 kg", "at least 2 weighed"),
    ("12 bales, mean 18.4 kg, SD 1.9 kg", "12 bales, mean 18.4 kg, SD 1.9", "needs its unit"),
    ("12 bales, mean 18.4 kg, SD 1.9 kg", "12 bales, mean 18.4 kg, SD -1.9 kg", "cannot be below zero"),
    ("12 bales, mean 18.4 kg, SD 1.9 kg", "12 bales, mean nan kg, SD 1.9 kg", "must start with a number"),
    ("12 bales, mean 18.4 kg, SD 1.9 kg", "12 bales, mean 18.4 kg, SD 19 kg", "over half the mean"),
    ("12 bales, mean 18.4 kg, SD 1.9 kg", "twelve bales, mean 18.4 kg, SD 1.9 kg", "must start with a number"),
    ("12 bales, mean 18.4 kg, SD 1.9 kg", "1e400 bales, mean 18.4 kg, SD 1.9 kg", "power of ten"),
    ("12 bales, mean 18.4 kg, SD 1.9 kg", "", "weighed is empty"),
    ("{number: 5, mean: 17 kg, sd: 1.5 kg}", "{number: 1, mean: 17 kg, sd: 1.5 kg}", "at least 2 weighed"),
    ("{number: 5, mean: 17 kg, sd: 1.5 kg}", "{number: 5, mean: 17 kg}", "sd is missing"),
    ("{number: 5, mean: 17 kg, sd: 1.5 kg}", "{number: 5, mean: .nan, sd: 1.5 kg}", "not a plain number"),
    ("{number: 5, mean: 17 kg, sd: 1.5 kg}", "{number: 5, mean: 0 kg, sd: 0 kg}", "a bale weighs something"),
    ("[17.5 kg, 16.2 kg, 18.8 kg]", "[17.5 kg]", "2 to 200 weights"),
    ("[17.5 kg, 16.2 kg, 18.8 kg]", "[17.5, 16.2 kg]", "needs its unit"),
    ("[17.5 kg, 16.2 kg, 18.8 kg]", "[17.5 kg, 175 kg]", "over half the mean"),
    ("[17.5 kg, 16.2 kg, 18.8 kg]", "[0 kg, 0 kg]", "a bale weighs something"),
    ("[17.5 kg, 16.2 kg, 18.8 kg]", "[17.5 kg, [16.2 kg]]", "one value, not a list"),
    ("[17.5 kg, 16.2 kg, 18.8 kg]", "[17.5 kg, -16.2 kg]", "cannot be below zero"),
    ("215 to 265 kg", "265 to 215 kg", "the least must be under the most"),
    ("215 to 265 kg", "240 to 240 kg", "the least must be under the most"),
    ("215 to 265 kg", "0 to 265 kg", "the least must be under the most"),
    ("215 to 265 kg", "215 to 265", "needs its unit"),
    ("215 to 265 kg", "-215 to 265 kg", "cannot be below zero"),
    ("215 to 265 kg", "215 to 1e400 kg", "power of ten"),
    ("215 to 265 kg", "215 to 265 to 300 kg", "unknown unit"),
    # measures
    ("    scoop: 1.55 kg", "    scoop: 1.55", "needs its unit"),
    ("    scoop: 1.55 kg", "    scoop: 0 kg", "outside what is believable"),
    ("    scoop: 1.55 kg", "    scoop: heaped", "must start with a number"),
    ("    bucket: 8 kg", "    bucket: 800 kg", "outside what is believable"),
    ("    bucket: 8 kg", "    bucket: 8 litres", "unknown unit"),
    ("    bale: 18 kg", "    bale: -18 kg", "cannot be below zero"),
    ("    bale: 18 kg", "    bale: .nan", "not a plain number"),
)  # fmt: skip


def test_the_unbroken_season_is_read(shipped: Tables) -> None:
    assert told(SEASON, shipped) == []
    assert len(BROKEN_SEASON) >= 120


@pytest.mark.parametrize(("old", "new", "message"), BROKEN_SEASON)
def test_a_break_of_the_season_is_told_once_at_its_line(
    old: str, new: str, message: str, shipped: Tables
) -> None:
    assert SEASON.count(old) == 1
    lines = told(SEASON.replace(old, new), shipped)
    hit = [line for line in lines if any(part in line for part in message.split("|"))]
    assert len(hit) == 1, lines
    number = re.match(r"farm\.yaml line (\d+)", hit[0])
    assert number, hit
    assert int(number.group(1)) in lines_at(old, new, SEASON), hit


@pytest.mark.parametrize("value", NASTY)
def test_nasty_values_anywhere_in_the_season(value: str, shipped: Tables) -> None:
    lines = SEASON.splitlines()
    for i in range(NASTY.index(value) % 3, len(lines), 3):
        name = lines[i].split(":")[0]
        told("\n".join([*lines[:i], f"{name}: {value}", *lines[i + 1 :]]), shipped)


def test_letters_swapped_anywhere_in_the_season_are_told_or_sound(shipped: Tables) -> None:
    rng = random.Random(7)
    signs = "\t:-&*!|>'\"%@`#{}[],? \n0.9xé£"
    refused = 0
    for _ in range(300):
        at = rng.randrange(len(SEASON))
        refused += bool(told(SEASON[:at] + rng.choice(signs) + SEASON[at + 1 :], shipped))
    assert refused >= 150

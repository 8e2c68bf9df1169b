"""Cautions: each is raised just past its line and not just short of it, and printed once.

Lines with a published source are held against what that source says; the others are marked
"common practice, no source" where they stand.
"""

from __future__ import annotations

import dataclasses
import math
import re
from collections.abc import Callable
from datetime import date
from pathlib import Path
from types import MappingProxyType
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ration import animals, cautions, needs, tables
from ration.assess import Assessment, Portion, assess
from ration.cautions import RULES, Caution, Hit
from ration.cautions.parts import Look, Names, Span, Tally, names, number
from ration.errors import TableError
from ration.farm import Farm, Offer
from ration.feeds import Feed, Figure
from ration.mix import FarmRations, Ration

SHIPPED = tables.load()
ROWS = {row.caution: row for row in SHIPPED.cautions}
NEED_CHEMISTRY = {
    "dm_g_per_kg_fresh": 850, "me_mj_per_kg_dm": 9.5, "cp_g_per_kg_dm": 120, "n_a_share": 0.22,
    "n_b_share": 0.60, "n_c_per_h": 0.08, "adin_g_n_per_kg_dm": 0.5, "oil_g_per_kg_dm": 15,
    "ca_g_per_kg_dm": 6.0, "p_g_per_kg_dm": 3.0, "mg_g_per_kg_dm": 1.4, "cu_mg_per_kg_dm": 5,
    "mo_mg_per_kg_dm": 2, "ash_g_per_kg_dm": 70, "ph": 4.0, "npn_share_of_cp": 0,
}  # fmt: skip


# ---------------------------------------------------------------- hand-made feeds and farms


def feed(feed_id: str, group: str, *, mark: str = "lab", **figures: float | None) -> Feed:
    """A feed with every figure there is; None takes one out."""
    own = {k: v for k, v in {**NEED_CHEMISTRY, **figures}.items() if v is not None}
    return Feed(
        feed_id,
        feed_id.replace("-", " "),
        group,
        MappingProxyType({k: Figure(float(v), mark) for k, v in own.items()}),
    )


def fed(made: Feed, kg_dm: float, *, home: bool = True, name: str = "") -> Portion:
    kg_fresh = kg_dm / (made["dm_g_per_kg_fresh"] / 1000)
    return Portion(made.id, name or made.name, made, kg_fresh, is_home=home)


def sheep(name: str = "gimmers", **said: Any) -> animals.Batch:
    usual = {"weight_kg": 45.0, "gain_g_per_day": 20.0, "head": 40, "housing": "in-bye"}
    return animals.batch(name, **{**usual, **said})


def plain_ration(**figures: float | None) -> list[Portion]:
    """Three parts of hay to one of cubes: raises nothing for the usual sheep."""
    return [
        fed(feed("hay", "hay", **figures), 0.75),
        fed(feed("cubes", "compound", **figures), 0.25),
    ]


def told(portions: list[Portion], *, part: bool = False, **said: Any) -> Assessment:
    return assess(needs.of(sheep(**said)), portions, is_part_ration=part)


def offer(p: Portion, **said: Any) -> Offer:
    return Offer(p.id, p.name, p.feed, p.is_home, 100.0, **said)


def farm(*batches: animals.Batch, offers: tuple[Offer, ...] = (), **said: Any) -> Farm:
    usual = {"start": date(2026, 10, 28), "end": date(2027, 4, 2), "days": 156}
    return Farm(Path("farm.yaml"), "a farm", batches=batches, offers=offers, **{**usual, **said})


def found(
    a: Assessment, at: Farm | None = None, offers: tuple[Offer, ...] = (), by: Any = SHIPPED
) -> dict[str, Caution]:
    all_found = cautions.for_assessment(a, at, by, offers=offers)
    assert len({c.id for c in all_found}) == len(all_found), "a caution is there twice"
    return {c.id: c for c in all_found}


def with_value(caution: str, value: float, column: str = "value") -> tables.Tables:
    """The shipped tables with one number of one caution changed."""
    rows = tuple(
        dataclasses.replace(r, **{column: value}) if r.caution == caution else r
        for r in SHIPPED.cautions
    )
    return dataclasses.replace(SHIPPED, cautions=rows)


def test_a_plain_ration_raises_nothing() -> None:
    b = sheep()
    assert found(told(plain_ration()), farm(b, trough_m=20.0, floor_m2=60.0)) == {}


# ---------------------------------------------------------------- just past, and just short of
# Each takes the number of the row and builds a ration that stands at it.

Found = dict[str, Caution]
Build = Callable[[float, Any], Found]


def _uniform(nutrient: str, **said: Any) -> Build:
    return lambda v, by: found(told(plain_ration(**{nutrient: v}), **said), by=by)


def _replaced(change: Callable[[Assessment, float], dict[str, float]], **said: Any) -> Build:
    """An assessed ration with one of its results set, the farm's dates known."""

    def build(v: float, by: Any) -> Found:
        a = told(plain_ration(), **said)
        return found(dataclasses.replace(a, **change(a, v)), farm(a.batch), by=by)

    return build


def _share(of: Feed, rest: Feed, **said: Any) -> Build:
    return lambda v, by: found(told([fed(of, v), fed(rest, 1 - v)], **said), by=by)


def _offered(made: Feed, kg_fresh: float, hay_kg: float = 0.8) -> list[Portion]:
    return [fed(feed("hay", "hay"), hay_kg), Portion(made.id, made.name, made, kg_fresh)]


def _silage(v: float, by: Any) -> Found:
    bale = feed("bale", "silage", ash_g_per_kg_dm=v)
    return found(told([fed(bale, 0.8), fed(feed("cubes", "compound"), 0.25)]), by=by)


def _hays(v: float, by: Any) -> Found:
    two = [feed("a", "hay", cp_g_per_kg_dm=100), feed("b", "hay", cp_g_per_kg_dm=100 + v)]
    return found(told([fed(two[0], 0.5), fed(two[1], 0.5)]), by=by)


def _space(name: str) -> Build:
    def build(v: float, by: Any) -> Found:
        b = sheep(head=100, housing="shed")
        a = assess(needs.of(b), plain_ration())
        return found(a, farm(b, **{name: v * 100}), by=by)

    return build


def _urea(v: float, by: Any) -> Found:
    # CP of pure urea from its formula: 46.65 % nitrogen x 6.25
    urea = feed("urea", "npn", me_mj_per_kg_dm=0, cp_g_per_kg_dm=2915.4, npn_share_of_cp=1)
    return found(
        told([*_offered(feed("cubes", "compound"), 0.2), fed(urea, _part(v, 0.97))]), by=by
    )


def _part(share: float, rest_kg: float) -> float:
    """Kg that make up a share of the whole beside the rest."""
    return share * rest_kg / (1 - share)


def _lambing(v: float, by: Any) -> Found:
    a = told(plain_ration(), days_to_lambing=math.floor(v + 0.5))
    a = dataclasses.replace(a, me_mj_per_day=0.5 * a.me_mj_per_day)
    return found(a, by=by)


def _weight(v: float, by: Any) -> Found:
    urea = feed("block", "compound", npn_share_of_cp=0.3)
    return found(told([*plain_ration(), fed(urea, 0.01)], weight_kg=v), by=by)


def _trough_feeds(v: float, by: Any) -> Found:
    more = [fed(feed(f"straight-{i}", "protein"), 0.05) for i in range(int(v))]
    return found(told([fed(feed("hay", "hay"), 0.8), *more]), by=by)


WETHER = {"sheep_class": "wether-lamb"}
BARLEY = feed("barley", "cereal", me_mj_per_kg_dm=13.2)


def _in_lamb(**said: Any) -> Found:
    a = told(plain_ration(), days_to_lambing=143, days_pregnant=70.0, **said)
    return found(a, farm(a.batch, start=date(2026, 11, 16), end=date(2027, 3, 31), days=135))


# caution: (builder, raised over the number or under it)
NUMBERED: dict[str, tuple[Build, str]] = {
    "copper-stop": (_uniform("cu_mg_per_kg_dm"), "over"),
    "copper-breed": (_uniform("cu_mg_per_kg_dm", breed="Texel cross"), "over"),
    "copper-warn": (_uniform("cu_mg_per_kg_dm", breed="Blackface"), "over"),
    "copper-molybdenum": (
        lambda v, by: found(told(plain_ration(cu_mg_per_kg_dm=12, mo_mg_per_kg_dm=v)), by=by),
        "under",
    ),
    "acidosis-cereal": (_share(BARLEY, feed("hay", "hay")), "over"),
    "acidosis-meal": (
        lambda v, by: found(told(_offered(BARLEY, v), weight_kg=35), by=by),
        "over",
    ),
    "acidosis-forage": (_share(feed("hay", "hay"), feed("cubes", "compound")), "under"),
    "trough-split": (lambda v, by: found(told(_offered(feed("c", "compound"), v)), by=by), "over"),
    "urinary-ratio": (
        lambda v, by: found(
            told(plain_ration(ca_g_per_kg_dm=3 * v, p_g_per_kg_dm=3), **WETHER), by=by
        ),
        "under",
    ),
    "urinary-p": (_uniform("p_g_per_kg_dm", **WETHER), "over"),
    "urinary-mg": (_uniform("mg_g_per_kg_dm", **WETHER), "over"),
    "ca-to-p-low": (lambda v, by: found(told(plain_ration(ca_g_per_kg_dm=3 * v)), by=by), "under"),
    "ca-to-p-high": (lambda v, by: found(told(plain_ration(ca_g_per_kg_dm=3 * v)), by=by), "over"),
    "p-low-forage": (_uniform("p_g_per_kg_dm"), "under"),
    "vitamin-d": (_replaced(lambda a, v: {"gain_g_per_day": v}), "over"),
    "listeria": (_silage, "over"),
    "listeria-strong": (_silage, "over"),
    "mouldy-hay": (_uniform("dm_g_per_kg_fresh"), "under"),
    "hay-change": (_hays, "over"),
    "low-protein": (_uniform("cp_g_per_kg_dm"), "under"),
    "protein-limits": (_replaced(lambda a, v: {"gain_protein_g_per_day": 20 - v}), "over"),
    "twin-lamb": (_lambing, "at or under"),
    "underfed": (
        _replaced(lambda a, v: {"me_mj_per_day": v * a.maintenance_me_mj_per_day}),
        "under",
    ),
    "losing-weight": (
        _replaced(lambda a, v: {"gain_without_margin_g_per_day": -v * 45_000 / 156}),
        "over",
    ),
    "rich": (_replaced(lambda a, v: {"gain_energy_g_per_day": v}), "over"),
    "urea-light": (_weight, "under"),
    "urea-much": (_urea, "over"),
    "pen-size": (lambda v, by: found(told(plain_ration(), head=math.ceil(v)), by=by), "over"),
    "trough-space": (_space("trough_m"), "under"),
    "trough-tight": (_space("trough_m"), "under"),
    "floor-space": (_space("floor_m2"), "under"),
    "water": (_share(feed("hay", "hay"), feed("cubes", "compound")), "over"),
    "feed-law": (_trough_feeds, "at or over"),
}
STEP = 0.005  # half a hundredth past the line
DAY = {"twin-lamb": 1.0}


@pytest.mark.parametrize("caution", NUMBERED)
def test_raised_just_past_its_line_and_not_just_short(caution: str) -> None:
    build, side = NUMBERED[caution]
    line = ROWS[caution].value
    assert line is not None
    step = DAY.get(caution, STEP * line)
    past, short = (line + step, line - step) if "over" in side else (line - step, line + step)
    assert caution in build(past, SHIPPED)
    assert caution not in build(short, SHIPPED)
    # A mix may stand exactly on a limit: that is not past it.
    assert (caution in build(line, SHIPPED)) == side.startswith("at")


@pytest.mark.parametrize("caution", NUMBERED)
def test_its_line_is_read_from_the_table(caution: str) -> None:
    build, side = NUMBERED[caution]
    line = ROWS[caution].value
    assert line is not None
    past = line + DAY.get(caution, STEP * line) * (1 if "over" in side else -1)
    moved = 2 * line if "over" in side else line / 2
    assert caution in build(past, SHIPPED)
    assert caution not in build(past, with_value(caution, moved))


# ---------------------------------------------------------------- cautions without a number


def _balance(nutrient: str, name: str, share: float) -> Found:
    """A ration that brings a share of the need of calcium or phosphorus."""
    need = next(b.need for b in told(plain_ration()).balances if b.name == name)
    assert need is not None
    return found(told(plain_ration(**{nutrient: share * need})))  # 1 kg DM a day


def _named(name: str, group: str = "byproduct") -> Found:
    return found(told([*plain_ration(), fed(feed("x", group), 0.01, name=name)]))


def _marked(mark: str) -> Found:
    return found(told([fed(feed("hay", "hay", mark=mark), 1.0)]))


def _with_offer(**said: Any) -> Found:
    x = offer(fed(feed("x-nuts", "compound"), 0.1), **said)
    return found(told(plain_ration()), farm(sheep(), offers=(x,)))


def _bought(group: str, home: bool) -> Found:
    return found(told([*plain_ration(), fed(feed("more", group), 0.05, home=home)]))


def _cubes(npn: float | None, home: bool = False, weight_kg: float = 34.0) -> Found:
    cubes = feed("hogg-cubes", "compound", npn_share_of_cp=npn)
    return found(
        told([fed(feed("hay", "hay"), 0.7), fed(cubes, 0.2, home=home)], weight_kg=weight_kg)
    )


def _bale(ash: float | None, mark: str = "lab") -> Found:
    bale = feed("bale", "silage", mark=mark, ash_g_per_kg_dm=ash)
    return found(told([fed(bale, 0.8), fed(feed("cubes", "compound"), 0.25)]))


# caution: (raised, not raised)
PLAIN: dict[str, tuple[Callable[[], Found], Callable[[], Found]]] = {
    "copper-unknown": (lambda: found(told(plain_ration(cu_mg_per_kg_dm=None))),
                       lambda: found(told(plain_ration(cu_mg_per_kg_dm=0)))),
    "wrong-stock": (lambda: _with_offer(made_for="cattle"), lambda: _with_offer()),
    "urinary-unknown": (lambda: found(told(plain_ration(mg_g_per_kg_dm=None), **WETHER)),
                        lambda: found(told(plain_ration(mg_g_per_kg_dm=None)))),
    "ca-p-unknown": (lambda: found(told(plain_ration(p_g_per_kg_dm=None))),
                     lambda: found(told(plain_ration()))),
    "p-short": (lambda: _balance("p_g_per_kg_dm", "phosphorus", 1 - STEP),
                lambda: _balance("p_g_per_kg_dm", "phosphorus", 1 + STEP)),
    "ca-short": (lambda: _balance("ca_g_per_kg_dm", "calcium", 1 - STEP),
                 lambda: _balance("ca_g_per_kg_dm", "calcium", 1 + STEP)),
    "listeria-unknown": (lambda: _bale(85, "memory"), lambda: _bale(75, "lab")),
    "in-lamb": (lambda: found(told(plain_ration(), days_to_lambing=150)),
                lambda: found(told(plain_ration()))),
    "lambing-countdown": (lambda: _in_lamb(litter_kg=6.0), lambda: _in_lamb(litter_kg=None)),
    "part-ration": (lambda: found(told(plain_ration(), part=True)),
                    lambda: found(told(plain_ration(), part=False))),
    "urea-unknown": (lambda: _cubes(None), lambda: _cubes(0.0)),
    "banned-words": (lambda: _named("fishmeal"), lambda: _named("soya")),
    "bought-hay": (lambda: _bought("hay", home=False), lambda: _bought("hay", home=True)),
    "book-values": (lambda: _marked("memory"), lambda: _marked("print")),
    # W-S32: every move is reported; W-S9: rickets in hoggs moved to lush keep
    "movement": (lambda: found(told(plain_ration(), housing="away")),
                 lambda: found(told(plain_ration(), housing="in-bye"))),
    "rickets-away": (lambda: found(told(plain_ration(), housing="away")),
                     lambda: found(told(plain_ration(), sheep_class="gimmer", housing="away"))),
}  # fmt: skip


@pytest.mark.parametrize("caution", PLAIN)
def test_raised_when_it_should_be_and_else_not(caution: str) -> None:
    raised, quiet = PLAIN[caution]
    assert caution in raised()
    assert caution not in quiet()


def test_every_rule_has_a_row_and_a_test() -> None:
    assert set(RULES) == set(ROWS) == set(NUMBERED) | set(PLAIN)
    assert not set(NUMBERED) & set(PLAIN)
    assert {i for i, r in RULES.items() if r.numbers} == set(NUMBERED)
    cautions.check_table(SHIPPED)


# ---------------------------------------------------------------- second numbers


@pytest.mark.parametrize(("kg", "raised"), [(39.9, True), (40.0, False)])
def test_cereal_at_one_feed_counts_under_forty_kilograms(kg: float, raised: bool) -> None:
    # common practice, no source
    assert ("acidosis-meal" in found(told(_offered(BARLEY, 0.35), weight_kg=kg))) == raised


@pytest.mark.parametrize(("mj", "raised"), [(0.71, True), (0.69, False)])
def test_hays_that_differ_in_energy(mj: float, raised: bool) -> None:
    # common practice, no source
    two = [feed("a", "hay", me_mj_per_kg_dm=9.0), feed("b", "hay", me_mj_per_kg_dm=9.0 + mj)]
    assert ("hay-change" in found(told([fed(f, 0.5) for f in two]))) == raised


@pytest.mark.parametrize(("ph", "raised"), [(5.4, False), (5.5, True)])
def test_silage_of_high_ph(ph: float, raised: bool) -> None:
    # P-S79 (Farm Advisory Service): listeria multiplies at pH 5.5 and over
    bale = feed("bale", "silage", ph=ph)
    a = told([fed(bale, 0.8), fed(feed("cubes", "compound"), 0.25)])
    assert ("listeria" in found(a)) == raised


@pytest.mark.parametrize(("share", "raised"), [(0.895, True), (0.905, False)])
def test_energy_short_before_lambing(share: float, raised: bool) -> None:
    # common practice, no source; the last weeks: W-S67
    a = told(plain_ration(), days_to_lambing=40)
    need = next(b.need for b in a.balances if b.name == "energy")
    assert need is not None
    assert ("twin-lamb" in found(dataclasses.replace(a, me_mj_per_day=share * need))) == raised


def test_in_lamb_and_fed_for_or_not_is_said_and_never_both() -> None:
    # by hand: tupped 12 November, 147 days to 8 April; six weeks (W-S67) before that: 25 February
    fed_for, not_fed_for = _in_lamb(litter_kg=6.0), _in_lamb(litter_kg=None)
    assert "about 8 April" in fed_for["lambing-countdown"].words
    assert "In the last 42 days, from 25 February" in fed_for["lambing-countdown"].words
    assert "in-lamb" not in fed_for
    assert "carry nothing for the lamb" in not_fed_for["in-lamb"].words
    assert "lambing-countdown" not in not_fed_for


def test_lambing_is_counted_from_the_end_of_the_winter_fed_for() -> None:
    a = told(plain_ration(), days_to_lambing=190)
    a = dataclasses.replace(a, me_mj_per_day=0.5 * a.me_mj_per_day)
    assert "twin-lamb" in found(a, farm(a.batch))  # 190 less 156 days: 34
    assert "twin-lamb" not in found(a, farm(a.batch, days=140))  # 50


def test_floor_words_give_both_ends_of_the_code() -> None:
    # P-S85 (Defra code): 0.75 to 0.9 m2 for sheep of 12 weeks to 12 months
    assert "0.75 to 0.9" in _space("floor_m2")(0.7, SHIPPED)["floor-space"].words


# ---------------------------------------------------------------- against what the sources print


def test_copper_lines_are_the_law_on_dry_matter() -> None:
    # P-S26 (EU 2018/1039): 15 mg/kg in complete feed of 12 % moisture; over 10 the label must warn
    assert ROWS["copper-stop"].value == pytest.approx(15 / 0.88, rel=0.005)
    assert ROWS["copper-stop"].value <= 15 / 0.88
    assert ROWS["copper-breed"].value == pytest.approx(10 / 0.88, rel=0.005)


@pytest.mark.parametrize(
    ("p", "ca", "stones"),
    [(3.3, 6.6, False), (3.3, 9.6, False), (6.2, 4.4, True), (8.1, 8.0, True)],
)
def test_bladder_stones_as_in_the_lamb_trial(p: float, ca: float, stones: bool) -> None:
    # P-S45 (lamb trial of 1963, abstract): none at 3.3 g P, in 31 % at 6.2 g P with 4.4 Ca, 73 %
    # at 8.1 g P (its calcium is not in the abstract)
    raised = found(told(plain_ration(p_g_per_kg_dm=p, ca_g_per_kg_dm=ca), **WETHER))
    assert ("urinary-p" in raised) == stones
    females = found(told(plain_ration(p_g_per_kg_dm=p, ca_g_per_kg_dm=ca)))
    assert not [i for i in females if i.startswith("urinary")]  # P-S51: rare in females


@pytest.mark.parametrize(
    ("kg", "words"), [(30.0, "1.4 to 1.9 litres"), (40.0, "1.7 to 2.3 litres")]
)
def test_water_by_metabolic_weight(kg: float, words: str) -> None:
    # P-S90 restates NRC (2007): 107 to 146 mL a kg of W^0.75; the litres are arithmetic on it
    raised = found(told(plain_ration(), weight_kg=kg, housing="shed"))
    assert words in raised["water"].words


def test_in_lamb_sheep_drink_more() -> None:
    # P-S90 restates NRC (2007): 215 to 290 mL a kg of W^0.75 in lamb; 40 kg: 3.4 to 4.6 litres
    raised = found(told(plain_ration(), weight_kg=40.0, housing="shed", days_to_lambing=100))
    assert "3.4 to 4.6 litres" in raised["water"].words


def test_trough_and_floor_of_184_sheep() -> None:
    # 0.305 m of trough a head: common practice, no source. 0.75 m2: P-S85 (Defra code).
    b = sheep(head=184, housing="shed")
    at = farm(b, trough_m=54.0, floor_m2=128.0)
    raised = found(assess(needs.of(b), plain_ration()), at)
    assert "177 of 184 can eat at once" in raised["trough-space"].words
    assert "It holds 170 of 184: 14 must come out" in raised["floor-space"].words


@pytest.mark.parametrize("breed", ["Texel", "Suffolk cross", "Charollais", "Blue-faced Leicester",
                                   "North Ronaldsay", "Soay", "Rouge"])  # fmt: skip
def test_breeds_that_store_copper(breed: str) -> None:
    # P-S37 to P-S40: Texel, Suffolk, Charollais, Bluefaced Leicester, North Ronaldsay, Soay, Rouge
    raised = found(told(plain_ration(cu_mg_per_kg_dm=12), breed=breed))
    assert breed in raised["copper-breed"].words
    hill = found(told(plain_ration(cu_mg_per_kg_dm=12), breed="Scottish Blackface"))
    assert not [i for i in hill if i.startswith("copper")]


def test_part_ration_is_never_called_adequate() -> None:
    # common practice, no source: beet nuts and hay for six weeks before lambing, the rest grazed
    hay = feed("hay", "hay", dm_g_per_kg_fresh=850, me_mj_per_kg_dm=9.0)
    beet = feed("beet", "byproduct", dm_g_per_kg_fresh=880, me_mj_per_kg_dm=12.5)
    portions = [Portion("hay", "hay", hay, 0.45), Portion("beet", "beet nuts", beet, 0.11)]
    raised = found(told(portions, part=True, weight_kg=50.0, sheep_class="gimmer", housing="hill"))
    assert re.search(
        r"\d\d% of maintenance energy, remainder from grazing", raised["part-ration"].words
    )
    assert "adequate" not in " ".join(c.words for c in raised.values())
    assert "underfed" not in raised
    assert "underfed" in found(told(portions, weight_kg=50.0, sheep_class="gimmer", housing="hill"))


def test_grazing_could_put_right_what_a_part_ration_lacks() -> None:
    thin = [fed(feed("oats", "cereal", cp_g_per_kg_dm=60, ca_g_per_kg_dm=1, p_g_per_kg_dm=1), 0.4)]
    whole, part = found(told(thin)), found(told(thin, part=True))
    of_the_whole = {"acidosis-cereal", "acidosis-forage", "ca-to-p-low", "p-short", "ca-short",
                    "low-protein", "protein-limits", "underfed"}  # fmt: skip
    assert of_the_whole <= set(whole)
    assert not of_the_whole & set(part)


# ---------------------------------------------------------------- missing is not zero


def test_unknown_copper_is_said_and_not_taken_as_zero() -> None:
    known, unknown = feed("hay", "hay"), feed("nuts", "compound", cu_mg_per_kg_dm=None)
    raised = found(told([fed(known, 0.7), fed(unknown, 0.3, home=False)]))
    assert "nuts" in raised["copper-unknown"].words
    assert "hay" not in raised["copper-unknown"].words
    rich = feed("hay", "hay", cu_mg_per_kg_dm=40)
    assert "copper-stop" in found(told([fed(rich, 0.7), fed(unknown, 0.3)]))


def test_unknown_minerals_are_not_called_short() -> None:
    raised = found(told(plain_ration(p_g_per_kg_dm=None, ca_g_per_kg_dm=None)))
    assert "ca-p-unknown" in raised
    assert not {"p-short", "ca-short", "ca-to-p-low", "ca-to-p-high"} & set(raised)


def test_unknown_molybdenum_is_not_low() -> None:
    assert "copper-molybdenum" not in found(
        told(plain_ration(cu_mg_per_kg_dm=12, mo_mg_per_kg_dm=None))
    )


def test_book_figures_of_ash_ph_and_phosphorus_are_no_evidence_about_a_lot() -> None:
    book = {"ash_g_per_kg_dm": 120, "ph": 6.0, "p_g_per_kg_dm": 1.0}
    bale = feed("bale", "silage", mark="memory", **book)
    raised = found(told([fed(bale, 0.8), fed(feed("cubes", "compound"), 0.25)]))
    assert not {"listeria", "listeria-strong", "p-low-forage"} & set(raised)
    assert "listeria-unknown" in raised


def test_a_number_left_out_of_the_farm_is_not_a_caution() -> None:
    b = sheep(head=50, housing="shed")
    raised = found(assess(needs.of(b), plain_ration()), farm(b))
    assert not {"trough-space", "trough-tight", "floor-space"} & set(raised)


# ---------------------------------------------------------------- signs, dates, places


@pytest.mark.parametrize("sign", ["dusty", "mouldy", "brown"])
def test_hay_with_signs(sign: str) -> None:
    offers = tuple(offer(p, signs=(sign,)) for p in plain_ration()[:1])
    raised = found(told(plain_ration()), offers=offers)
    assert f"hay ({sign})" in raised["mouldy-hay"].words


def test_signs_on_hay_that_is_not_fed_are_let_be() -> None:
    other = offer(fed(feed("other", "hay"), 1.0), signs=("mouldy",))
    assert "mouldy-hay" not in found(told(plain_ration()), offers=(other,))


def test_punctured_bale() -> None:
    # P-S79 (Farm Advisory Service): do not feed from punctured bales
    bale = fed(feed("bale", "silage"), 0.8)
    a = told([bale, fed(feed("cubes", "compound"), 0.25)])
    assert (
        "bale (punctured)"
        in found(a, offers=(offer(bale, signs=("punctured",)),))["listeria"].words
    )
    assert "listeria" not in found(a, offers=(offer(bale),))


def test_each_silage_is_named_in_one_listeria_caution() -> None:
    bales = [feed("worst", "silage", ash_g_per_kg_dm=120, ph=6.0), feed("bad", "silage", ph=6.0)]
    raised = found(told([*plain_ration(), *(fed(b, 0.2) for b in bales)]))
    assert "worst" not in raised["listeria"].words
    assert "bad (pH 6.0)" in raised["listeria"].words
    assert "worst (ash 120 g, pH 6.0)" in raised["listeria-strong"].words


@pytest.mark.parametrize(
    ("start", "end", "dark"),
    [
        (date(2026, 4, 1), date(2026, 10, 31), False),
        (date(2026, 4, 1), date(2026, 11, 1), True),
        (date(2026, 3, 31), date(2026, 10, 1), True),
        (date(2026, 10, 1), date(2027, 4, 30), True),
    ],
)
def test_vitamin_d_only_where_the_winter_has_a_dark_month(
    start: date, end: date, dark: bool
) -> None:
    # W-S9 (SRUC): no vitamin D is made in the skin in a northern winter; November to March is ours
    a = dataclasses.replace(told(plain_ration()), gain_g_per_day=90.0)
    assert ("vitamin-d" in found(a, farm(a.batch, start=start, end=end))) == dark
    assert "vitamin-d" not in found(a)  # no dates


def test_meals_a_day_share_out_the_trough_feed() -> None:
    # P-S52: once a day up to 500 g, twice above
    a = told(_offered(BARLEY, 0.58), weight_kg=38)
    once, twice = (found(a, farm(a.batch, meals_per_day=n)) for n in (1, 2))
    assert {"acidosis-meal", "trough-split"} <= set(once)
    assert not {"acidosis-meal", "trough-split"} & set(twice)


def test_water_in_the_shed_or_on_hay() -> None:
    half = [fed(feed("hay", "hay"), 0.5), fed(feed("bale", "silage"), 0.5)]
    assert "water" in found(told(half, housing="shed"))
    assert "water" not in found(told(half, housing="hill"))


@pytest.mark.parametrize(
    "name",
    ["fishmeal", "meat and bone meal", "blood meal", "bloodmeal", "Fish meal 66", "kitchen waste"],
)
def test_banned_names(name: str) -> None:
    # W-S71: mammalian protein, kitchen and catering waste are banned
    assert name in _named(name)["banned-words"].words


@pytest.mark.parametrize("name", ["sweetmeats", "wasted oats", "Bloodworth barley", "wheatfeed"])
def test_names_that_only_look_banned(name: str) -> None:
    assert "banned-words" not in _named(name)


def test_a_field_may_be_called_blood_moss() -> None:
    assert "banned-words" not in _named("Blood Moss hay", "hay")


def test_made_for_other_stock_is_found_among_all_that_is_offered() -> None:
    raised = _with_offer(made_for="pig")
    assert "x nuts (pig)" in raised["wrong-stock"].words
    assert raised["wrong-stock"].level == "stop"
    assert raised["wrong-stock"].batch == ""


def test_two_sources_of_urea_are_too_many() -> None:
    two = [fed(feed(f"block-{i}", "compound", npn_share_of_cp=0.1), 0.01) for i in range(2)]
    assert "urea-much" in found(told([*plain_ration(), *two]))
    assert "urea-much" not in found(told([*plain_ration(), two[0]]))


def test_urea_unknown_is_asked_of_bought_cubes_for_light_sheep_only() -> None:
    assert "hogg cubes" in _cubes(None)["urea-unknown"].words
    assert "urea-unknown" not in _cubes(None, home=True)
    assert "urea-unknown" not in _cubes(None, weight_kg=36.0)


def test_no_home_mix_of_one_feed_unless_said() -> None:
    # W-S70: mixing feed on the farm needs registration
    a = told(plain_ration())
    assert "feed-law" not in found(a, farm(a.batch))
    assert "feed-law" in found(a, farm(a.batch, is_mixing_at_home=True))


def test_rich_feeding_is_a_matter_of_breeding_females() -> None:
    # common practice, no source
    a = dataclasses.replace(told(plain_ration(), **WETHER), gain_energy_g_per_day=150.0)
    assert "rich" not in found(a)


def test_book_values_are_counted_once_each() -> None:
    raised = found(told([fed(feed("hay", "hay", mark="guess"), 1.0)]))
    # dry matter, energy, protein, calcium, phosphorus, degradability a b c, bound nitrogen, oil
    assert " 10 figures " in raised["book-values"].words


# ---------------------------------------------------------------- never twice, worst first


def _one_of(raised: Found, *ids: str) -> int:
    return len(set(ids) & set(raised))


figure = st.floats(0.1, 60.0)


@given(
    cu=st.none() | figure, mo=st.none() | st.floats(0.1, 5), p=st.none() | st.floats(0.5, 9),
    ca=st.none() | st.floats(0.5, 20), mg=st.none() | st.floats(0.1, 6), cp=st.floats(30, 300),
    npn=st.floats(0, 0.4), share=st.floats(0.05, 0.95), weight=st.floats(20, 55),
    trough=st.none() | st.floats(1, 60), floor=st.none() | st.floats(1, 99),
    sheep_class=st.sampled_from(sorted(set(animals.CLASSES) - set(animals.GROWN))), part=st.booleans(),
    breed=st.sampled_from(["", "Texel", "Swaledale"]), lambing=st.none() | st.integers(1, 300),
    signs=st.sets(st.sampled_from(["dusty", "mouldy", "brown", "punctured"])),
)  # fmt: skip
def test_any_ration_raises_each_once_worst_first(
    cu: float | None, mo: float | None, p: float | None, ca: float | None, mg: float | None,
    cp: float, npn: float, share: float, weight: float, trough: float | None,
    floor: float | None, sheep_class: str, part: bool, breed: str, lambing: int | None,
    signs: set[str],
) -> None:  # fmt: skip
    figures = {"cu_mg_per_kg_dm": cu, "mo_mg_per_kg_dm": mo, "p_g_per_kg_dm": p,
               "ca_g_per_kg_dm": ca, "mg_g_per_kg_dm": mg}  # fmt: skip
    portions = [
        fed(feed("hay", "hay", cp_g_per_kg_dm=cp, **figures), 0.6 * share),
        fed(feed("bale", "silage", ash_g_per_kg_dm=cp / 2), 0.4 * share),
        fed(feed("barley", "cereal", mark="guess", **figures), 0.9 * (1 - share)),
        fed(feed("nuts", "compound", npn_share_of_cp=npn), 0.1 * (1 - share), home=False),
    ]
    b = sheep(weight_kg=weight, sheep_class=sheep_class, breed=breed, days_to_lambing=lambing,
              housing="shed")  # fmt: skip
    at = farm(b, trough_m=trough, floor_m2=floor,
              offers=(offer(portions[0], signs=tuple(signs), made_for="pig"),))  # fmt: skip
    raised = cautions.for_assessment(
        assess(needs.of(b), portions, is_part_ration=part), at, SHIPPED
    )
    ids = [c.id for c in raised]
    assert len(set(ids)) == len(ids)
    assert [c.level for c in raised] == sorted(
        (c.level for c in raised), key=("stop", "warn", "note").index
    )
    by_id = {c.id: c for c in raised}
    assert _one_of(by_id, "copper-stop", "copper-breed", "copper-warn", "copper-molybdenum") <= 1
    assert _one_of(by_id, "urea-light", "urea-much") <= 1
    assert _one_of(by_id, "trough-space", "trough-tight") <= 1
    assert _one_of(by_id, "underfed", "losing-weight", "part-ration") <= 1
    if ca is None or p is None:
        assert "ca-p-unknown" in by_id
        assert not {"ca-to-p-low", "ca-to-p-high", "urinary-ratio"} & set(by_id)
    assert ("copper-unknown" in by_id) == (cu is None)
    for c in raised:
        assert not re.search(r"[{}]|\b(nan|inf|None)\b", c.words), c.words


# ---------------------------------------------------------------- several batches


def ration(a: Assessment | None, batch: animals.Batch) -> Ration:
    nothing: Any = None
    return Ration(
        batch=batch, days=156, status="least cost" if a else "no mix", needs=None, assessment=a,
        feeds=(), nutrients=(), cost_gbp_per_head_day=0.0, proved_gap_share=0.0,
        linear_programmes=0, gaps=(), conflict=None, left_out=(), offers=(), model=nothing,
        solver="",
    )  # fmt: skip


def of_farm(at: Farm, *portions: list[Portion] | None) -> list[Caution]:
    rations = tuple(
        ration(None if p is None else assess(needs.of(b), p), b)
        for b, p in zip(at.batches, portions, strict=True)
    )
    return list(cautions.for_farm(FarmRations(at, rations, ""), SHIPPED))


def test_a_caution_shared_by_all_is_printed_once() -> None:
    batches = [sheep("strong", weight_kg=48.0), sheep("small", weight_kg=42.0)]
    hays = [plain_ration(cu_mg_per_kg_dm=18), plain_ration(cu_mg_per_kg_dm=20)]
    copper = [c for c in of_farm(farm(*batches), *hays) if c.id == "copper-stop"]
    assert len(copper) == 1
    assert copper[0].batch == ""
    assert copper[0].words.startswith("All batches: this ration has 18.0 to 20.0 mg copper")


def test_a_caution_of_some_batches_names_them() -> None:
    batches = [sheep(n) for n in ("strong", "middle", "small")]
    high, low = plain_ration(cu_mg_per_kg_dm=18), plain_ration()
    copper = [c for c in of_farm(farm(*batches), high, low, high) if c.id == "copper-stop"]
    assert len(copper) == 1
    assert copper[0].batch == "strong and small"
    assert copper[0].words.startswith("Strong and small: this ration has 18.0 mg copper")


def test_one_batch_is_the_whole_farm() -> None:
    [c] = of_farm(farm(sheep()), plain_ration(cu_mg_per_kg_dm=18))
    assert (c.batch, c.words[:16]) == ("", "This ration has ")


def test_a_caution_of_the_farm_names_no_batch() -> None:
    batches = [sheep(n, head=50, housing="shed") for n in ("strong", "small")]
    at = farm(*batches, trough_m=20.0, floor_m2=50.0)
    raised = {c.id: c for c in of_farm(at, plain_ration(), plain_ration(cu_mg_per_kg_dm=None))}
    for caution in ("trough-space", "floor-space", "copper-unknown"):
        assert raised[caution].batch == ""
        assert not re.match("all|strong|small", raised[caution].words, re.I)


def test_only_those_fed_at_the_trough_stand_at_it() -> None:
    batches = [sheep("strong", head=100), sheep("small", head=100)]
    hay = [fed(feed("hay", "hay"), 0.9)]
    at = farm(*batches, trough_m=35.0)
    both = {c.id for c in of_farm(at, plain_ration(), plain_ration())}
    one = {c.id for c in of_farm(at, hay, plain_ration())}
    none = {c.id for c in of_farm(farm(*batches, trough_m=1.0), hay, hay)}
    assert "trough-space" in both  # 0.175 m
    assert "trough-space" not in one  # 0.35 m
    assert not {"trough-space", "trough-tight"} & none


def test_a_batch_without_a_mix_still_has_its_cautions() -> None:
    b = sheep("big", head=92, housing="shed")
    at = farm(b, floor_m2=40.0, offers=(offer(plain_ration()[0], made_for="cattle"),))
    raised = {c.id for c in of_farm(at, None)}
    assert {"pen-size", "floor-space", "wrong-stock", "water"} <= raised
    assert not raised & {"underfed", "p-short", "copper-unknown", "part-ration"}
    assert {c.id for c in cautions.for_ration(ration(None, b), at, SHIPPED)} == raised


def test_rations_already_fed_are_laid_together_too() -> None:
    a, b = (told(plain_ration(cu_mg_per_kg_dm=v), name=n) for v, n in ((18, "a"), (30, "b")))
    raised = cautions.for_assessments([a, b], None, SHIPPED)
    assert [c.id for c in raised] == ["copper-stop"]
    assert "18.0 to 30.0" in raised[0].words


def test_book_values_of_two_batches_are_not_added_up() -> None:
    batches = [sheep("strong"), sheep("small")]
    hay = [fed(feed("hay", "hay", mark="guess"), 1.0)]
    [book] = [c for c in of_farm(farm(*batches), hay, hay) if c.id == "book-values"]
    assert " 10 figures " in book.words


BATCHES = ("strong", "middle", "small", "tups")
raised_by = st.dictionaries(
    st.sampled_from(["copper-stop", "pen-size", "hay-change", "floor-space", "in-lamb"]),
    st.dictionaries(st.sampled_from(BATCHES), st.floats(1, 99), min_size=1),
)


def _hit(caution: str, batch: str, v: float) -> Hit:
    parts = {
        g: names([f"hay {v:.0f}"]) if g == "feeds" else number(v) for g in RULES[caution].gives
    }
    return Hit(ROWS[caution], RULES[caution].of_farm, batch, parts)


@given(raised_by, st.randoms(use_true_random=False))
def test_merging_keeps_every_caution_once_with_all_its_batches(
    raised: dict[str, dict[str, float]], order: Any
) -> None:
    hits = [_hit(c, b, v) for c, by in raised.items() for b, v in by.items()]
    order.shuffle(hits)
    merged = cautions.merged(hits, BATCHES, SHIPPED)
    assert sorted(c.id for c in merged) == sorted(raised)
    ranks = [("stop", "warn", "note").index(c.level) for c in merged]
    assert ranks == sorted(ranks)
    for c in merged:
        by = raised[c.id]
        if RULES[c.id].of_farm or set(by) == set(BATCHES):
            assert c.batch == ""
        else:
            assert set(re.split(", | and ", c.batch)) == set(by)
            assert c.words.lower().startswith(f"{c.batch}: ")
        if c.id == "copper-stop":
            low, high = (f"{f(by.values()):.1f}" for f in (min, max))
            assert (low if low == high else f"{low} to {high}") in c.words
        if c.id == "hay-change":
            assert all(f"hay {v:.0f}" in c.words for v in by.values())
        assert c.words.count(ROWS[c.id].words[-12:]) == 1


@given(st.lists(st.floats(0, 1e3), min_size=1), st.lists(st.sampled_from("abcd"), min_size=1))
def test_figures_laid_together(values: list[float], letters: list[str]) -> None:
    span = number(values[0])
    for v in values[1:]:
        span = span.with_other(number(v))
    assert span == Span(min(values), max(values))
    joined = Names((letters[0],))
    for letter in letters[1:]:
        joined = joined.with_other(Names((letter,)))
    assert joined.names == tuple(dict.fromkeys(letters))
    heap = Tally(frozenset({("x",)})).with_other(Tally(frozenset((c,) for c in letters)))
    assert f"{heap}" == str(1 + len(set(letters)))


# ---------------------------------------------------------------- words and the table


def test_standing_line() -> None:
    assert cautions.STANDING == (
        "This is arithmetic on the figures you entered. Look at the sheep. Ask your vet or a "
        "qualified nutritionist before acting on a warning or changing minerals; follow the "
        "local feed law."
    )


@pytest.mark.parametrize("row", SHIPPED.cautions, ids=lambda r: r.caution)
def test_sources_are_told_no_better_than_they_are(row: Any) -> None:
    if not row.source:
        assert row.mark == "practice"
        return
    known = SHIPPED.sources[row.source]
    # print only of what was read in print; what is remembered or restated says so
    better = {"print": ("print",), "restated": ("print", "restated"), "memory": ("memory", "print")}
    assert row.mark == "practice" or known.mark in better[row.mark]


def test_source_words() -> None:
    raised = _space("floor_m2")(0.7, SHIPPED)
    assert raised["floor-space"].source == "Defra code space allowances"
    assert raised["floor-space"].source_key == "P-S85"
    assert raised["water"].source.startswith("restated in: South Dakota State University")
    rich = _replaced(lambda a, v: {"gain_energy_g_per_day": v})(150.0, SHIPPED)["rich"]
    assert (rich.source, rich.source_key, rich.mark) == (
        "common practice, no source",
        "",
        "practice",
    )
    short = PLAIN["p-short"][0]()["p-short"]
    assert short.source.endswith("; from memory, unverified")
    cereal = NUMBERED["acidosis-cereal"][0](0.6, SHIPPED)["acidosis-cereal"]
    assert cereal.source.endswith("; the figure is common practice")


@pytest.mark.parametrize("row", SHIPPED.cautions, ids=lambda r: r.caution)
def test_words_are_plain(row: Any) -> None:
    assert row.level in cautions.LEVELS
    assert not re.search(r"[A-Z]{3,}-?\d|NPN|\bDM\b|\bCP\b|\bME\b|ruminal|urolith", row.words)
    assert row.words.endswith(".")
    assert len(row.words) < 200
    assert not row.words.startswith("{")  # names of batches may be put before it


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"caution": "copper-stopp"}, "nothing raises this caution"),
        ({"caution": "copper-stopp"}, "copper-stop has no row"),
        ({"level": "red"}, 'level "red"'),
        ({"value": None}, "value is empty"),
        ({"words": "Too much {coper:.1f}."}, "{coper}"),
        ({"words": "Too much {copper.low}."}, "{copper.low}"),
        ({"words": "Too much {copper!r}."}, "{copper}"),
        ({"words": "Too much {copper:>99999999}."}, "{copper:>99999999}"),
        ({"words": "Too much {copper:.1f"}, "cannot be read"),
        ({"words": "Over {second:g}."}, "{second}"),
        ({"source": ""}, "mark print without a source"),
    ],
)
def test_a_table_the_rules_cannot_use_is_refused(change: dict[str, Any], words: str) -> None:
    others = (r for r in SHIPPED.cautions if r.caution != "copper-stop")
    rows = (dataclasses.replace(ROWS["copper-stop"], **change), *others)
    broken = dataclasses.replace(SHIPPED, cautions=rows)
    with pytest.raises(TableError, match=re.escape(words)):
        cautions.check_table(broken)
    with pytest.raises(TableError, match=re.escape(words)):
        cautions.for_assessment(told(plain_ration()), None, broken)


def test_a_table_that_lacks_a_caution_is_refused() -> None:
    short = dataclasses.replace(SHIPPED, cautions=SHIPPED.cautions[1:])
    with pytest.raises(TableError, match=f"{SHIPPED.cautions[0].caution} has no row"):
        cautions.check_table(short)


def test_the_words_can_be_the_users_own() -> None:
    rows = tuple(
        dataclasses.replace(r, words="Cu {copper:.2f}.") if r.caution == "copper-stop" else r
        for r in SHIPPED.cautions
    )
    raised = found(
        told(plain_ration(cu_mg_per_kg_dm=18)), by=dataclasses.replace(SHIPPED, cautions=rows)
    )
    assert raised["copper-stop"].words == "Cu 18.00."


def test_a_rule_gives_the_figures_it_promises() -> None:
    raised: dict[str, set[str]] = {}
    b = sheep(head=200, weight_kg=30.0, housing="shed", sheep_class="tup-lamb", days_to_lambing=5)
    bad = [
        fed(feed("hay", "hay", dm_g_per_kg_fresh=800, cu_mg_per_kg_dm=None), 0.1, home=False),
        fed(feed("barley", "cereal", mark="memory", cp_g_per_kg_dm=60, ca_g_per_kg_dm=0.5), 0.5),
        fed(feed("nuts", "compound", npn_share_of_cp=0.5, cu_mg_per_kg_dm=99), 0.1),
    ]
    at = farm(b, trough_m=9.0, floor_m2=20.0)
    look = Look(b, assess(needs.of(b), bad), at, (), ROWS, 200, 200)
    for caution, rule in RULES.items():
        parts = rule.run(look)
        if parts is not None:
            raised[caution] = set(parts)
            assert set(parts) == set(rule.gives), caution
    assert len(raised) >= 14


def test_shares_are_of_the_dry_matter_however_much_is_fed() -> None:
    hay, cubes = feed("hay", "hay", cu_mg_per_kg_dm=20), feed("cubes", "compound")
    thin, full = (told([fed(hay, 0.9 * kg), fed(cubes, 0.1 * kg)]) for kg in (0.6, 1.4))
    for raised in (found(thin), found(full)):
        assert "18.5 mg copper" in raised["copper-stop"].words
        assert "water" in raised  # hay is 90 %
    damp = [fed(hay, 0.75 * 0.6), fed(cubes, 0.25 * 0.6)]
    assert "water" not in found(told(damp))
    assert "water" not in found(told([fed(hay, 0.75 * 1.4), fed(cubes, 0.25 * 1.4)]))


def test_only_hay_is_called_damp() -> None:
    bale = feed("bale", "silage", dm_g_per_kg_fresh=300)
    assert "mouldy-hay" not in found(told([fed(bale, 0.8), *plain_ration()]))
    damp = found(told(plain_ration(dm_g_per_kg_fresh=800)))["mouldy-hay"].words
    assert "hay (80% dry matter)" in damp
    assert "cubes" not in damp


def test_what_more_a_part_ration_is_not_told() -> None:
    high = plain_ration(ca_g_per_kg_dm=30)
    assert "ca-to-p-high" in found(told(high))
    assert "ca-to-p-high" not in found(told(high, part=True))
    losing = {"gain_without_margin_g_per_day": -50.0}
    for part in (False, True):
        a = dataclasses.replace(told(plain_ration(), part=part), **losing)
        assert ("losing-weight" in found(a, farm(a.batch))) != part


def test_energy_before_lambing_where_no_diet_supports_the_gain() -> None:
    poor = [fed(feed("hay", "hay", me_mj_per_kg_dm=6.0), 1.0)]
    a = told(poor, days_to_lambing=40, gain_g_per_day=250.0)
    assert next(b.need for b in a.balances if b.name == "energy") == math.inf
    share = a.me_mj_per_day / (a.margin * a.maintenance_me_mj_per_day)
    assert f"brings {share:.0%} of" in found(a)["twin-lamb"].words


def test_words_in_capitals_stay_so_after_the_names() -> None:
    both = [told(plain_ration(), part=True, name=n) for n in ("a", "b")]
    [c] = cautions.for_assessments(both, None, SHIPPED)
    assert c.words.startswith("All batches: PART ration: ")

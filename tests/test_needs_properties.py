"""Promises of the needs of any sheep by any standard, tried on sheep that hypothesis makes up.

Nothing here says what a need is: that is checked against print in `tests/published`. Held are the
ways a need must move (facts of feeding: a heavier, faster-growing, colder, later in lamb or
deeper milking sheep never needs less; common practice, no source) and that standards set beside
each other stay themselves.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from ration import animals, needs
from ration.animals import Batch
from ration.errors import InputError, OutOfRange, UnknownName
from ration.needs import Beside, Needs
from ration.needs.beside import COMPARED, WIDE_SHARE
from ration.standards import MARGINS

NAMES = tuple(MARGINS)
GROWING = ("ewe-lamb", "wether-lamb", "tup-lamb", "gimmer", "wether", "tup")
MD = st.floats(8.5, 12.0).map(lambda v: round(v, 2))
Draw = Callable[[st.SearchStrategy[Any]], Any]


def tenths(lo: float, hi: float) -> st.SearchStrategy[float]:
    return st.integers(round(10 * lo), round(10 * hi)).map(lambda n: n / 10)


@st.composite
def growing(draw: Draw) -> dict[str, Any]:
    """A growing sheep as `animals.batch` takes it."""
    walks = draw(st.booleans())
    return {
        "sheep_class": draw(st.sampled_from(GROWING)),
        "weight_kg": draw(tenths(18, 55)),
        "gain_g_per_day": draw(st.integers(0, 150)),
        "housing": draw(st.sampled_from(animals.HOUSINGS)),
        "mature_weight_kg": draw(st.integers(56, 95)),
        "cold_me_mj_per_day": draw(st.sampled_from([0.0, 0.0, 0.4, 2.5])),
        "walk_km_per_day": draw(tenths(0, 8)) if walks else None,
        "climb_km_per_day": draw(tenths(0, 0.5)) if walks else None,
    }


@st.composite
def ewes(draw: Draw) -> dict[str, Any]:
    """A grown ewe: dry, in lamb or in milk."""
    state = draw(st.sampled_from(["dry", "in lamb", "in milk"]))
    said: dict[str, Any] = {
        "sheep_class": "ewe",
        "weight_kg": draw(tenths(50, 90)),
        "gain_g_per_day": 0,
        "housing": draw(st.sampled_from(animals.HOUSINGS)),
        "mature_weight_kg": draw(st.integers(55, 90)),
        "cold_me_mj_per_day": draw(st.sampled_from([0.0, 1.0])),
    }
    if state == "in lamb":
        lambs = draw(st.sampled_from([1.0, 1.4, 2.0]))
        said |= {
            "days_pregnant": draw(st.integers(1, 147)),
            "litter_kg": round(4.6 * lambs, 1),
            "lambs": lambs,
        }
    elif state == "in milk":
        said |= {
            "milk_kg_per_day": draw(tenths(0.5, 3.5)),
            "lambs": draw(st.sampled_from([1.0, 2.0])),
        }
    return said


SHEEP = st.one_of(growing(), ewes())
SWITCHES = st.fixed_dictionaries(
    {},
    optional={
        "margin": st.sampled_from([0.95, 1.0, 1.1]),
        "maintenance": st.sampled_from([0.9, 1.0, 1.45]),
        "recycled_n_share": st.sampled_from([0.0, 0.15]),
    },
)


def made(said: dict[str, Any]) -> Batch:
    return animals.batch("sheep", **said)


def asked(name: str, said: dict[str, Any], md: float, **switches: Any) -> Needs:
    """Its needs; an example that the standard does not cover is passed over."""
    try:
        return needs.of(made(said), name, **switches).at(md)
    except InputError:
        assume(False)
        raise


# ---------------------------------------------------------------- beside each other


@given(SHEEP, MD, SWITCHES, st.one_of(st.none(), tenths(0.5, 2.0)))
def test_beside_each_other_each_standard_stays_itself(
    said: dict[str, Any], md: float, switches: dict[str, Any], dmi: float | None
) -> None:
    own: dict[str, Needs] = {}
    for name in NAMES:
        try:
            own[name] = needs.of(made(said), name, **switches).at(md, dmi_kg_per_day=dmi)
        except InputError:
            continue
    if not own:
        with pytest.raises(OutOfRange):
            needs.side_by_side(made(said), md, dmi_kg_per_day=dmi, **switches)
        return
    told = needs.side_by_side(made(said), md, dmi_kg_per_day=dmi, **switches)
    assert dict(told.needs) == own
    assert set(told.refused) == set(NAMES) - set(own)
    assert all(why and "\n" not in why for why in told.refused.values())
    frame = told.frame()
    assert list(frame.columns) == list(own)
    for name, need in own.items():
        assert frame[name]["energy [MJ ME]"] == need.me_mj_per_day


@given(SHEEP, MD, SWITCHES)
def test_differences_are_just_those_over_a_tenth_and_their_parts_add_up(
    said: dict[str, Any], md: float, switches: dict[str, Any]
) -> None:
    told = beside(said, md, switches)
    found = {d.need: d for d in told.differences}
    assert len(found) == len(told.differences)
    for need, attribute, unit in COMPARED:
        amounts = {n: getattr(x, attribute) for n, x in told.needs.items()}
        high, low = max(amounts.values()), min(amounts.values())
        over = high / low - 1 if low > 0 else 0.0
        assert (need in found) == (len(amounts) > 1 and over > WIDE_SHARE)
        if need not in found:
            continue
        d = found[need]
        assert (d.high_per_day, d.low_per_day, d.unit) == (high, low, unit)
        assert (amounts[d.high], amounts[d.low]) == (high, low)
        assert d.over_share == pytest.approx(over)
        assert d.why
        if need == "energy":
            assert sum(v for _, v in d.parts) == pytest.approx(high - low, rel=1e-9)
            sizes = [abs(v) for _, v in d.parts]
            assert sizes == sorted(sizes, reverse=True)
        else:
            assert d.parts == ()


def beside(said: dict[str, Any], md: float, switches: dict[str, Any]) -> Beside:
    try:
        return needs.side_by_side(made(said), md, **switches)
    except OutOfRange:
        assume(False)
        raise


@given(SHEEP, MD, st.sampled_from(NAMES), SWITCHES)
def test_parts_add_up_and_no_part_of_standing_still_holds_lambs_or_milk(
    said: dict[str, Any], md: float, name: str, switches: dict[str, Any]
) -> None:
    told = asked(name, said, md, **switches)
    for need, whole in (("energy", told.me_mj_per_day), ("protein", told.protein_g_per_day)):
        parts = [f.per_day for f in told.figures if f.id.startswith(f"{need}: ")]
        assert sum(parts) == pytest.approx(whole, rel=1e-9)
    if name == "NRC 1985":
        return
    idle = {
        k: v
        for k, v in said.items()
        if k not in ("days_pregnant", "litter_kg", "lambs", "milk_kg_per_day")
    }
    dry = needs.of(made(idle), name, **switches).at(md)
    still = "protein: to stand still, fleece included"
    assert told.figure(still).per_day == pytest.approx(dry.figure(still).per_day)
    ids = {f.id for f in told.figures}
    for need in ("energy", "protein"):
        assert (f"{need}: for the lambs inside" in ids) == ("litter_kg" in said)
        assert (f"{need}: for milk and weight change" in ids) == ("milk_kg_per_day" in said)


# ---------------------------------------------------------------- which way a need moves


def never_less(more: Needs, less: Needs, *what: str) -> None:
    for attribute in what or ("me_mj_per_day", "protein_g_per_day"):
        a, b = getattr(more, attribute), getattr(less, attribute)
        assert a >= b * (1 - 1e-9), (attribute, a, b)


@given(SHEEP, MD, st.sampled_from(NAMES), st.integers(1, 60))
def test_heavier_sheep_never_need_less(
    said: dict[str, Any], md: float, name: str, tenths_more: int
) -> None:
    heavier = said | {"weight_kg": round(said["weight_kg"] + tenths_more / 10, 1)}
    assume(heavier["weight_kg"] <= animals.weights_kg(said["sheep_class"])[1])
    less, more = asked(name, said, md), asked(name, heavier, md)
    assert more.maintenance_me_mj_per_day > less.maintenance_me_mj_per_day
    never_less(more, less, "me_mj_per_day")


@given(growing(), MD, st.sampled_from(NAMES), st.integers(1, 60))
def test_faster_growth_never_needs_less(
    said: dict[str, Any], md: float, name: str, more_g: int
) -> None:
    faster = said | {"gain_g_per_day": said["gain_g_per_day"] + more_g}
    less, more = asked(name, said, md), asked(name, faster, md)
    assert more.me_mj_per_day > less.me_mj_per_day
    never_less(more, less)
    if name != "NRC 1985":
        never_less(more, less, "ca_g_per_day", "p_g_per_day")


@given(SHEEP, MD, st.sampled_from(NAMES), st.floats(0.1, 10))
def test_cold_is_energy_and_no_margin_is_put_on_it(
    said: dict[str, Any], md: float, name: str, more_mj: float
) -> None:
    colder = said | {"cold_me_mj_per_day": said["cold_me_mj_per_day"] + more_mj}
    less, more = asked(name, said, md, margin=1.2), asked(name, colder, md, margin=1.2)
    assert more.me_mj_per_day - less.me_mj_per_day == pytest.approx(more_mj)
    same = needs.of(made(said), name).protein_need()
    assert needs.of(made(colder), name).protein_need() == same


@given(ewes(), MD, st.sampled_from(NAMES), tenths(0.5, 4))
def test_heavier_litter_later_day_and_more_milk_never_need_less(
    said: dict[str, Any], md: float, name: str, more: float
) -> None:
    then = asked(name, said, md)
    moves_with_it = name != "NRC 1985"  # it goes by rows for lambs a ewe
    if "litter_kg" in said:
        heavier = asked(name, said | {"litter_kg": said["litter_kg"] + more}, md)
        never_less(heavier, then)
        assert (heavier.me_mj_per_day > then.me_mj_per_day) == moves_with_it
        day = min(said["days_pregnant"] + 7, 147)
        later = asked(name, said | {"days_pregnant": day}, md)
        never_less(later, then)
        dry = {k: v for k, v in said.items() if k not in ("days_pregnant", "litter_kg", "lambs")}
        if name == "CSIRO 2007":  # AFRC allows a pregnant ewe less walking about than a dry one
            never_less(then, asked(name, dry, md))
        triplets = asked(name, said | {"lambs": 3.0, "litter_kg": said["litter_kg"] + more}, md)
        never_less(triplets, then)
    if "milk_kg_per_day" in said:
        deeper = asked(name, said | {"milk_kg_per_day": said["milk_kg_per_day"] + more}, md)
        never_less(deeper, then)
        assert (deeper.me_mj_per_day > then.me_mj_per_day) == moves_with_it
        assert deeper.protein_g_per_day > then.protein_g_per_day


@given(ewes(), MD, st.sampled_from(NAMES))
def test_minerals_of_ewes_near_lambing_and_in_milk_are_never_those_of_growth(
    said: dict[str, Any], md: float, name: str
) -> None:
    """NRC-2007 as tabulated: the diet holds 4.9 g Ca and 2.9 g P late in lamb (restated, N-S5)."""
    assume(said.get("days_pregnant", 0) > 119 or "milk_kg_per_day" in said)
    told = asked(name, said, md)
    dry = {
        k: v
        for k, v in said.items()
        if k not in ("days_pregnant", "litter_kg", "lambs", "milk_kg_per_day")
    }
    before = asked(name, dry, md)
    assert told.ca_g_per_day > 1.5 * before.ca_g_per_day
    assert told.p_g_per_day > 1.3 * before.p_g_per_day


@given(growing(), MD, st.sampled_from(["AFRC 1993", "CSIRO 2007"]))
def test_nought_walked_is_nought_and_not_unknown(
    said: dict[str, Any], md: float, name: str
) -> None:
    # close to the most that a poor feed allows, AFRC's curve asks a little less for more activity
    assume(said["gain_g_per_day"] <= 60)
    still = asked(name, said | {"walk_km_per_day": 0.0, "climb_km_per_day": 0.0}, md)
    places = [
        asked(
            name,
            said | {"walk_km_per_day": None, "climb_km_per_day": None, "housing": place},
            md,
        ).me_mj_per_day
        for place in ("shed", "in-bye", "hill")
    ]
    assert still.me_mj_per_day <= min(places) * (1 + 1e-9)
    assert places == sorted(places)
    walked = asked(name, said | {"walk_km_per_day": 2.0, "climb_km_per_day": 0.1}, md)
    assert walked.me_mj_per_day > still.me_mj_per_day


# ---------------------------------------------------------------- names and nonsense


@given(st.sampled_from(NAMES), st.sampled_from([" ", "-", "  ", " - "]), st.booleans())
def test_names_are_known_however_they_are_written(name: str, between: str, small: bool) -> None:
    written = f" {name.replace(' ', between)} "
    assert needs.known(written.lower() if small else written) == name


@given(st.text(max_size=30))
def test_any_other_name_is_refused_and_the_known_are_told(text: str) -> None:
    tidy = " ".join(text.replace("-", " ").upper().split())
    assume(tidy not in NAMES)
    with pytest.raises(UnknownName, match="AFRC 1993, NRC 1985, CSIRO 2007"):
        needs.known(text)


@given(SHEEP, st.floats(allow_nan=True, allow_infinity=True), st.sampled_from(NAMES))
def test_any_quality_of_feed_gives_finite_needs_or_a_refusal(
    said: dict[str, Any], md: float, name: str
) -> None:
    try:
        told = needs.of(made(said), name).at(md)
    except OutOfRange as error:
        assert all(str(p) for p in error.problems)
        return
    for figure in told.figures:
        assert 0 <= figure.per_day < 1e5 or figure.is_part, figure


@given(
    st.floats(allow_nan=True), st.floats(allow_nan=True), st.floats(allow_nan=True)
)  # fmt: skip
def test_switches_out_of_range_are_all_told_at_once(
    margin: float, maintenance: float, recycled: float
) -> None:
    wrong = [
        not 0.8 <= margin <= 1.5,
        not 0.7 <= maintenance <= 2.0,
        not 0.0 <= recycled <= 0.3,
    ]
    batch = animals.batch(weight_kg=35, gain_g_per_day=40)
    if not any(wrong):
        needs.of(batch, margin=margin, maintenance=maintenance, recycled_n_share=recycled)
        return
    with pytest.raises(OutOfRange) as caught:
        needs.of(batch, margin=margin, maintenance=maintenance, recycled_n_share=recycled)
    assert len(caught.value.problems) == sum(wrong)

"""Breeding ewes by AFRC (1993): what must hold over a whole range, beside the check rows.

The rows themselves are in `tests/published/afrc1993_ewes.csv`. Sources are named by their key in
`feedtables/sources.csv`; what only memory gives says so.
"""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from numpy.typing import NDArray

from ration.errors import OutOfRange
from ration.standards import afrc1991, afrc1993
from ration.standards.afrc1993.breeding import GRAVID_ENERGY, GRAVID_PROTEIN

PLACES = ("shed", "in-bye", "hill", "away")
KINDS = ("lamb", "ewe", "pregnant ewe")
Q: NDArray[np.float64] = np.linspace(0.3, 0.75, 46)

weights = st.floats(30, 100)
qualities = st.floats(0.3, 0.75)
days = st.floats(0, 147)
litters = st.floats(1, 25)
milks = st.floats(0.05, 5)
gains = st.floats(0, 300)
places = st.sampled_from(PLACES)


@st.composite
def ewes(draw: st.DrawFn) -> dict[str, Any]:
    """A ewe dry, in lamb or in milk, kept somewhere; her weight and all but her gain."""
    ewe: dict[str, Any] = {"weight_kg": draw(weights), "housing": draw(places)}
    ewe["maintenance"] = draw(st.sampled_from([1.0, 1.4]))
    ewe["activity_mj_per_day"] = draw(st.sampled_from([None, 0.0, 1.5]))
    state = draw(st.sampled_from(["dry", "in lamb", "in milk"]))
    if state == "in lamb":
        ewe |= {"days_pregnant": draw(days), "litter_kg": draw(litters)}
    if state == "in milk":
        ewe["milk_kg_per_day"] = draw(milks)
    return ewe


def for_protein(ewe: dict[str, Any]) -> dict[str, Any]:
    return {
        key: value
        for key, value in ewe.items()
        if key in ("weight_kg", "milk_kg_per_day", "days_pregnant", "litter_kg")
    }


def maintenance_me(ewe: dict[str, Any], q: float) -> float:
    """By the lambs' function, her activity handed to it."""
    activity = ewe["activity_mj_per_day"]
    if activity is None:
        kind = "pregnant ewe" if "litter_kg" in ewe else "ewe"
        activity = afrc1993.activity_mj_per_day(ewe["weight_kg"], ewe["housing"], kind=kind)
    return afrc1993.maintenance_me_mj_per_day(
        ewe["weight_kg"],
        q,
        under_one_year=False,
        maintenance=ewe["maintenance"],
        activity_mj_per_day=activity,
    )


def most_loss_g_per_day(ewe: dict[str, Any], q: float) -> float:
    """Loss whose 23.85 MJ/kg (memory) cover all her milk, at 0.84, and all her maintenance."""
    net = maintenance_me(ewe, q) * (0.35 * q + 0.503)
    milk = ewe.get("milk_kg_per_day", 0.0) * 4.6
    return min(1000 * (milk / 0.84 + net) / 23.85, 500)


# ---- activity


@pytest.mark.parametrize(
    ("level_m", "climb_m", "standing_h", "changes", "housing", "kind", "printed"),
    [
        (50, 0, 12, 6, "shed", "lamb", 0.0067),
        (50, 0, 9, 6, "shed", "pregnant ewe", 0.0054),
        (250, 0, 14, 12, "shed", "ewe", 0.0096),
        (1000, 0, 12, 12, "in-bye", "ewe", 0.0107),
        (5000, 100, 12, 12, "hill", "ewe", 0.024),
    ],
)
def test_allowances_are_made_of_walking_standing_and_rising(
    level_m: float,
    climb_m: float,
    standing_h: float,
    changes: int,
    housing: str,
    kind: str,
    printed: float,
) -> None:
    """Unit costs of AFRC's energy report, from memory; hours and changes are fitted (memory)."""
    moved = afrc1993.activity_from_distance_mj_per_day(50, level_m / 1000, climb_m / 1000)
    made = moved + 50 * (0.010 * standing_h / 24 + 0.00026 * changes)
    assert made / 50 == pytest.approx(printed, abs=1e-4)
    assert afrc1993.activity_mj_per_day(50, housing, kind=kind) == pytest.approx(50 * printed)


@given(weight=st.floats(5, 100), place=st.sampled_from(PLACES[1:]))
def test_out_of_doors_every_kind_of_sheep_has_the_same_allowance(weight: float, place: str) -> None:
    assert len({afrc1993.activity_mj_per_day(weight, place, kind=kind) for kind in KINDS}) == 1
    assert afrc1993.activity_mj_per_day(weight, "away") == afrc1993.activity_mj_per_day(
        weight, "in-bye"
    )


@given(
    weight=st.floats(15, 55),
    q=qualities,
    gain=st.floats(0, 100),
    place=places,
    sex=st.sampled_from(["female", "castrate", "entire"]),
    maintenance=st.sampled_from([1.0, 1.4]),
)
def test_the_places_allowance_handed_in_changes_nothing(
    weight: float, q: float, gain: float, place: str, sex: str, maintenance: float
) -> None:
    lamb: dict[str, Any] = {"sex": sex, "maintenance": maintenance}
    own = afrc1993.activity_mj_per_day(weight, place)
    most = afrc1993.most_gain_g_per_day(weight, q, housing=place, **lamb)
    assert most == afrc1993.most_gain_g_per_day(weight, q, activity_mj_per_day=own, **lamb)
    assert afrc1993.maintenance_me_mj_per_day(
        weight, q, housing=place, **lamb
    ) == afrc1993.maintenance_me_mj_per_day(weight, q, activity_mj_per_day=own, **lamb)
    assume(gain < 0.95 * most)
    me = afrc1993.growth_me_mj_per_day(weight, gain, q, housing=place, **lamb)
    assert me == afrc1993.growth_me_mj_per_day(weight, gain, q, activity_mj_per_day=own, **lamb)
    back = afrc1993.gain_from_me_g_per_day(weight, me, q, activity_mj_per_day=own, **lamb)
    assert back == pytest.approx(gain, abs=1e-6)


@given(weight=st.floats(15, 55), q=qualities, walk=st.floats(0.1, 20), climb=st.floats(0, 2))
def test_walking_costs_a_lamb_energy(weight: float, q: float, walk: float, climb: float) -> None:
    moved = afrc1993.activity_from_distance_mj_per_day(weight, walk, climb)
    still, walking = (
        afrc1993.maintenance_me_mj_per_day(weight, q, activity_mj_per_day=activity)
        for activity in (0.0, moved)
    )
    assert walking - still == pytest.approx(moved / (0.35 * q + 0.503))


# ---- pregnancy


@pytest.mark.parametrize(
    ("b", "c", "printed"),
    [
        (*GRAVID_ENERGY[1:3], GRAVID_ENERGY[3]),
        (*GRAVID_PROTEIN[1:3], GRAVID_PROTEIN[3]),
        (151.64, 0.0000576, 0.0201),  # cattle, restated by A-S7: the rule is the same there
    ],
)
def test_the_second_constant_is_the_derivative_of_the_first(
    b: float, c: float, printed: float
) -> None:
    half_a_digit = 0.5 * 10.0 ** -len(str(printed).partition(".")[2])
    assert math.log(10) * b * c == pytest.approx(printed, abs=half_a_digit)


@given(day=st.floats(1, 146))
def test_daily_energy_is_the_growth_of_the_womb(day: float) -> None:
    """By differences, for the 4 kg lamb that the curve describes."""
    step = 0.01
    grown = afrc1993.energy_in_gravid_uterus_mj(day + step)
    grown -= afrc1993.energy_in_gravid_uterus_mj(day - step)
    assert grown / (2 * step) == pytest.approx(
        afrc1993.pregnancy_energy_mj_per_day(day, 4.0), rel=1e-3
    )


def test_the_daily_energy_adds_up_to_what_the_womb_holds_at_term() -> None:
    """Simpson's rule over the days by hand; 24.4 MJ derived from N-S7."""
    edge = [afrc1993.pregnancy_energy_mj_per_day(t, 4.0) for t in np.linspace(0, 147, 295)]
    whole = edge[0] + edge[-1] + 4 * sum(edge[1:-1:2]) + 2 * sum(edge[2:-1:2])
    assert whole * 0.5 / 3 == pytest.approx(24.4, abs=0.05)


@given(day=st.floats(0, 146), more=st.floats(0.1, 147), litter=litters, share=st.floats(1.01, 2))
def test_pregnancy_needs_rise_with_the_day_and_keep_step_with_the_litter(
    day: float, more: float, litter: float, share: float
) -> None:
    later = min(day + more, 147.0)
    larger = min(litter * share, 25.0)
    for need in (
        afrc1993.pregnancy_energy_mj_per_day,
        afrc1993.pregnancy_me_mj_per_day,
        afrc1993.pregnancy_net_protein_g_per_day,
        afrc1993.pregnancy_mp_g_per_day,
    ):
        assert need(later, litter) > need(day, litter) > 0
        assert need(day, larger) == pytest.approx(need(day, litter) * larger / litter)


@given(day=days, litter=litters)
def test_efficiencies_of_pregnancy(day: float, litter: float) -> None:
    """0.133 restated by A-S7 and A-S24; 0.85 memory."""
    kept = afrc1993.pregnancy_energy_mj_per_day(day, litter)
    assert afrc1993.pregnancy_me_mj_per_day(day, litter) * 0.133 == pytest.approx(kept)
    protein = afrc1993.pregnancy_net_protein_g_per_day(day, litter)
    assert afrc1993.pregnancy_mp_g_per_day(day, litter) * 0.85 == pytest.approx(protein)


# ---- the whole ewe


@given(ewe=ewes(), q=qualities, share=st.floats(-1, 1))
def test_energy_is_exactly_the_sum_of_its_parts(
    ewe: dict[str, Any], q: float, share: float
) -> None:
    gain = share * (most_loss_g_per_day(ewe, q) if share < 0 else 300)
    milk = ewe.get("milk_kg_per_day", 0.0)
    standing = maintenance_me(ewe, q)
    parts = standing + afrc1993.weight_change_me_mj_per_day(gain, q, milk)
    if "litter_kg" in ewe:
        parts += afrc1993.pregnancy_me_mj_per_day(ewe["days_pregnant"], ewe["litter_kg"])
    if milk:
        parts += afrc1993.milk_me_mj_per_day(milk, q)
        parts *= 1 + 0.018 * (parts / standing - 1)
    got = afrc1993.ewe_me_mj_per_day(q=q, gain_g_per_day=gain, **ewe)
    assert got == pytest.approx(parts, rel=1e-9, abs=1e-9)


@given(ewe=ewes(), gain=st.floats(-300, 300))
def test_protein_is_exactly_the_sum_of_its_parts(ewe: dict[str, Any], gain: float) -> None:
    sheep = for_protein(ewe)
    parts = 2.1875 * sheep["weight_kg"] ** 0.75 + afrc1993.ewe_wool_mp_g_per_day()
    parts += afrc1993.weight_change_mp_g_per_day(gain)
    parts += afrc1993.milk_mp_g_per_day(sheep.get("milk_kg_per_day", 0.0))
    if "litter_kg" in sheep:
        parts += afrc1993.pregnancy_mp_g_per_day(sheep["days_pregnant"], sheep["litter_kg"])
    assert afrc1993.ewe_mp_g_per_day(gain_g_per_day=gain, **sheep) == pytest.approx(parts)


@given(ewe=ewes(), share=st.floats(-0.95, 1))
def test_energy_need_falls_as_diet_quality_rises(ewe: dict[str, Any], share: float) -> None:
    gain = share * (most_loss_g_per_day(ewe, 0.5) if share < 0 else 300)
    need = afrc1993.ewe_me_mj_per_day(q=Q, gain_g_per_day=gain, **ewe)
    assert need.shape == Q.shape
    assert np.all(np.diff(need) < 0)
    assert np.all(need > 0)


@given(ewe=ewes(), share=st.floats(-0.95, 1))
def test_an_array_gives_what_its_members_give(ewe: dict[str, Any], share: float) -> None:
    gain = share * (most_loss_g_per_day(ewe, 0.5) if share < 0 else 300)
    whole = afrc1993.ewe_me_mj_per_day(q=Q, gain_g_per_day=np.full_like(Q, gain), **ewe)
    for q, need in zip(Q[::9], whole[::9], strict=True):
        one = afrc1993.ewe_me_mj_per_day(q=float(q), gain_g_per_day=gain, **ewe)
        assert isinstance(one, float)
        assert one == pytest.approx(need, rel=1e-12)


@given(ewe=ewes(), q=qualities, share=st.floats(-1, 1))
def test_gain_and_need_turn_round(ewe: dict[str, Any], q: float, share: float) -> None:
    gain = share * (most_loss_g_per_day(ewe, q) if share < 0 else 300)
    me = max(afrc1993.ewe_me_mj_per_day(q=q, gain_g_per_day=gain, **ewe), 0.0)
    back = afrc1993.ewe_gain_from_me_g_per_day(me_mj_per_day=me, q=q, **ewe)
    assert back == pytest.approx(gain, abs=1e-6)
    sheep = for_protein(ewe)
    mp = afrc1993.ewe_mp_g_per_day(gain_g_per_day=gain, **sheep)
    assume(mp >= 0)
    assert afrc1993.ewe_gain_from_mp_g_per_day(mp_g_per_day=mp, **sheep) == pytest.approx(
        gain, abs=1e-6
    )


@given(ewe=ewes(), q=qualities, me=st.floats(0, 60), more=st.floats(0.01, 10))
def test_more_food_is_more_gain(ewe: dict[str, Any], q: float, me: float, more: float) -> None:
    less, rest = (
        afrc1993.ewe_gain_from_me_g_per_day(me_mj_per_day=x, q=q, **ewe) for x in (me, me + more)
    )
    assert rest > less
    sheep = for_protein(ewe)
    less, rest = (
        afrc1993.ewe_gain_from_mp_g_per_day(mp_g_per_day=10 * x, **sheep) for x in (me, me + more)
    )
    assert rest > less


@given(ewe=ewes(), q=qualities, gain=gains, more=st.floats(0.01, 1))
def test_needs_rise_with_weight_gain_litter_day_and_milk(
    ewe: dict[str, Any], q: float, gain: float, more: float
) -> None:
    """Weight only to eight times maintenance: above, the factor on feeding level outruns it."""
    most = {
        "weight_kg": 100.0,
        "gain_g_per_day": 500.0,
        "litter_kg": 25.0,
        "days_pregnant": 147.0,
        "milk_kg_per_day": 5.0,
    }
    small = {**ewe, "gain_g_per_day": gain}
    me, mp = afrc1993.ewe_me_mj_per_day(q=q, **small), protein(small)
    asked = set(most) & set(small)
    if me > 8 * maintenance_me(ewe, q):
        asked.remove("weight_kg")
    for key in sorted(asked):
        larger = {**small, key: min(small[key] + more, most[key])}
        assume(larger[key] > small[key] * (1 + 1e-6))
        assert afrc1993.ewe_me_mj_per_day(q=q, **larger) > me, key
        assert protein(larger) > mp, key


def protein(ewe: dict[str, Any]) -> float:
    return afrc1993.ewe_mp_g_per_day(gain_g_per_day=ewe["gain_g_per_day"], **for_protein(ewe))


@given(weight=weights, q=qualities, place=places)
def test_a_dry_ewe_at_no_gain_takes_the_maintenance_of_sheep_over_a_year(
    weight: float, q: float, place: str
) -> None:
    ewe = afrc1993.ewe_me_mj_per_day(weight, q, housing=place)
    activity = afrc1993.activity_mj_per_day(weight, place, kind="ewe")
    sheep = afrc1993.maintenance_me_mj_per_day(
        weight, q, under_one_year=False, activity_mj_per_day=activity
    )
    assert ewe == pytest.approx(sheep, rel=1e-12)
    assert afrc1993.ewe_me_mj_per_day(weight, q, housing=place, under_one_year=True) > ewe


@given(weight=weights, q=qualities, share=st.floats(0.01, 0.99))
def test_a_starved_dry_ewe_loses_at_the_efficiency_of_maintenance(
    weight: float, q: float, share: float
) -> None:
    """The rule below maintenance is remembered of ARC-1980; 23.85 MJ/kg is memory."""
    standing = afrc1993.ewe_me_mj_per_day(weight, q, housing="shed")
    gain = afrc1993.ewe_gain_from_me_g_per_day(weight, share * standing, q, housing="shed")
    missing = (1 - share) * standing * afrc1993.efficiency_maintenance(q)
    assert -gain * 0.02385 == pytest.approx(missing)


def test_a_kilogram_lost_in_milk_makes_20_mj_of_milk() -> None:
    """0.84 restated by A-S7, 23.85 MJ/kg memory: 20.0 MJ derived."""
    spared = -afrc1993.weight_change_me_mj_per_day(-100, 0.6, 3.0)
    assert 10 * spared * afrc1993.efficiency_milk(0.6) == pytest.approx(20.0, abs=0.05)


def test_gain_in_milk_is_cheaper_than_gain_when_dry_on_any_winter_diet() -> None:
    """kg = 0.95 kl while in milk, restated by A-S7; kf when dry is the rule of ARC-1980, memory."""
    dry = afrc1993.weight_change_me_mj_per_day(100.0, Q)
    milked = afrc1993.weight_change_me_mj_per_day(100.0, Q, 2.0)
    assert np.all(milked < dry)


@pytest.mark.parametrize("q", [0.4, 0.5, 0.6])
def test_an_ewe_lamb_in_lamb_is_growth_and_pregnancy(q: float) -> None:
    """About 80 g/day is the Irish target of ewe lambs in lamb (A-S26), 45 kg, one lamb of 4 kg."""
    grow = afrc1993.growth_me_mj_per_day(45, 80, q)
    lamb = afrc1993.pregnancy_me_mj_per_day(133, 4)
    assert lamb == pytest.approx(3.78, abs=0.005)
    assert 0.2 < lamb / grow < 0.5


# ---- refusals


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: afrc1993.pregnancy_me_mj_per_day(148, 4), "day of pregnancy 148"),
        (lambda: afrc1993.pregnancy_me_mj_per_day(-1, 4), "day of pregnancy -1"),
        (lambda: afrc1993.pregnancy_mp_g_per_day(100, 0.5), r"litter weight \[kg\] 0.5"),
        (lambda: afrc1993.pregnancy_mp_g_per_day(100, 26), r"litter weight \[kg\] 26"),
        (lambda: afrc1993.pregnancy_energy_mj_per_day(math.nan, 4), "day of pregnancy nan"),
        (lambda: afrc1993.energy_in_gravid_uterus_mj(200), "day of pregnancy 200"),
        (lambda: afrc1993.milk_me_mj_per_day(6, 0.6), r"milk \[kg/day\] 6"),
        (lambda: afrc1993.milk_me_mj_per_day(2, 0.6, 20), r"energy of milk \[MJ/kg\] 20"),
        (lambda: afrc1993.milk_mp_g_per_day(-0.1), r"milk \[kg/day\] -0.1"),
        (lambda: afrc1993.milk_energy_mj_per_kg(70), "takes both, or neither"),
        (lambda: afrc1993.milk_energy_mj_per_kg(7, 40), r"milk fat \[g/kg\] 7"),
        (lambda: afrc1993.efficiency_milk(1.2), "diet quality q 1.2"),
        (lambda: afrc1993.weight_change_me_mj_per_day(math.nan, 0.6), r"gain \[g/day\] nan"),
        (lambda: afrc1993.weight_change_mp_g_per_day(900), r"gain \[g/day\] 900"),
        (lambda: afrc1993.level_correction(-1), "feeding level -1"),
        (lambda: afrc1993.activity_mj_per_day(40, "moon"), 'housing "moon"'),
        (lambda: afrc1993.activity_mj_per_day(40, "shed", kind="cow"), 'kind "cow"'),
        (lambda: afrc1993.activity_from_distance_mj_per_day(40, 30, 0), r"walk \[km/day\] 30"),
        (lambda: afrc1993.activity_from_distance_mj_per_day(40, 3, 100), r"climb \[km/day\] 100"),
        (
            lambda: afrc1993.maintenance_me_mj_per_day(40, 0.6, activity_mj_per_day=-1.0),
            r"activity \[MJ/day\] -1",
        ),
        (lambda: ewe_me(days_pregnant=100), "no litter weight"),
        (lambda: ewe_me(litter_kg=8), "no day of pregnancy"),
        (lambda: ewe_me(days_pregnant=100, litter_kg=8, milk_kg_per_day=1), "both in lamb and in"),
        (lambda: ewe_me(weight_kg=700), r"live weight \[kg\] 700"),
        (lambda: ewe_me(housing="tent"), 'housing "tent"'),
        (lambda: ewe_me(gain_g_per_day=-400), "Ask for a loss of at most 248 g/day"),
        (lambda: afrc1993.ewe_mp_g_per_day(70, litter_kg=8), "no day of pregnancy"),
        (lambda: afrc1993.ewe_mp_g_per_day(math.inf), r"live weight \[kg\] inf"),
        (lambda: afrc1993.ewe_gain_from_mp_g_per_day(70, -1), r"MP supplied \[g/day\] -1"),
        (
            lambda: afrc1993.ewe_gain_from_me_g_per_day(70, math.nan, 0.6, housing="shed"),
            r"ME eaten \[MJ/day\] nan",
        ),
        (lambda: afrc1991.breeding_content_g_per_kg_dm("dry"), 'state "dry".*late pregnancy'),
    ],
)
def test_what_is_not_covered_is_refused_in_words(call: Any, words: str) -> None:
    with pytest.raises(OutOfRange, match=words):
        call()


def ewe_me(**changes: Any) -> float:
    ewe: dict[str, Any] = {"weight_kg": 70, "q": 0.6, "housing": "shed", **changes}
    return afrc1993.ewe_me_mj_per_day(**ewe)

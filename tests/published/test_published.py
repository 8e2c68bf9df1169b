"""Every check row of `tests/published/*.csv` is one test; its name is the row's case.

Columns: case; function ("module.function" of ration/standards or ration, "[i]" picks one of a
tuple; "composed.name" is built below from such functions); inputs, a JSON object of keyword
arguments ("12/18.8" stands for the quotient); expected_as_printed (a number, or "low-high");
unit; source (key of feedtables/sources.csv, or "hand working"); place; origin (print, restated,
derived, hand, program, memory, regression); gap_reason (why the tolerance is wider than the
print); tolerance (blank: half a unit of the last printed digit); margin (multiplies the result:
printed tables include a safety margin); erratum (what is wrong in the source). Nothing is rounded.
"""

from __future__ import annotations

import csv
import importlib
import importlib.util
import json
import re
from collections.abc import Callable
from decimal import Decimal
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import NDArray

from ration.errors import OutOfRange
from ration.standards import afrc1991, afrc1993

HERE = Path(__file__).parent
ORIGINS = ("print", "restated", "derived", "hand", "program", "memory", "regression")
NUMBER = r"-?\d+(?:\.\d+)?(?:[eE]-?\d+)?"


def rows() -> list[dict[str, str]]:
    out = []
    for path in sorted(HERE.glob("*.csv")):
        with path.open(encoding="utf-8", newline="") as file:
            out += [{**row, "file": path.name} for row in csv.DictReader(file)]
    return out


# ---- the runner


def function_named(name: str) -> Callable[..., Any]:
    module, attribute = re.fullmatch(r"(\w+)\.(\w+)(?:\[\d+\])?", name).groups()  # type: ignore[union-attr]
    if module == "composed":
        return COMPOSED[attribute]
    for package in ("ration.standards", "ration"):
        if importlib.util.find_spec(f"{package}.{module}"):
            return getattr(importlib.import_module(f"{package}.{module}"), attribute)
    raise LookupError(f"no module {module} for {name}")


def arguments(text: str) -> dict[str, Any]:
    def quotient(value: Any) -> Any:
        if isinstance(value, str) and re.fullmatch(rf"{NUMBER}/{NUMBER}", value):
            over, under = value.split("/")
            return float(over) / float(under)
        return value

    return {key: quotient(value) for key, value in json.loads(text).items()}


def bounds(row: dict[str, str]) -> tuple[float, float]:
    """Lowest and highest value that agree with the print."""
    printed = re.fullmatch(rf"({NUMBER})(?:-({NUMBER}))?", row["expected_as_printed"])
    assert printed, f"cannot read {row['expected_as_printed']!r}"
    low, high = printed[1], printed[2] or printed[1]
    if row["tolerance"]:
        assert row["gap_reason"], "a tolerance of its own needs a gap_reason"
        tolerance = float(row["tolerance"])
    else:
        tolerance = 0.5 * 10.0 ** int(Decimal(low).as_tuple().exponent)
    return float(low) - tolerance, float(high) + tolerance


@pytest.mark.parametrize("row", rows(), ids=lambda row: row["case"])
def test_published(row: dict[str, str], record_property: Callable[[str, Any], None]) -> None:
    record_property("published_origin", row["origin"])
    record_property("published_gap", bool(row["gap_reason"]))
    assert row["origin"] in ORIGINS
    assert row["source"], "every row names its source"
    result = function_named(row["function"])(**arguments(row["inputs"]))
    if index := re.search(r"\[(\d+)\]$", row["function"]):
        result = result[int(index[1])]
    low, high = bounds(row)
    got = float(row["margin"] or 1) * result
    slack = 1e-9 * max(abs(low), abs(high))
    assert low - slack <= got <= high + slack, (
        f"{row['file']}: {row['function']} gave {got}, printed {row['expected_as_printed']}"
        f" {row['unit']} ({row['source']}, {row['place']})"
    )


def test_rows_are_complete_and_told_apart() -> None:
    cases = [row["case"] for row in rows()]
    assert len(cases) > 500
    assert sorted({c for c in cases if cases.count(c) > 1}) == []
    assert [r["case"] for r in rows() if None in r.values() or None in r] == []


# ---- quantities that the sources print but that no single function gives


def _net(weight_kg: float, housing: str = "shed", maintenance: float = 1.0) -> float:
    fasting = afrc1993.fasting_metabolism_mj_per_day(weight_kg, True, False)
    return maintenance * (fasting + afrc1993.activity_mj_per_day(weight_kg, housing))


def _retained(weight_kg: float, gain_g_per_day: float, sex: str = "female") -> float:
    return gain_g_per_day / 1000 * afrc1993.energy_of_gain_mj_per_kg(weight_kg, sex)


def _plain_sum(weight_kg: float, gain_g_per_day: float, q: float, sex: str) -> float:
    kept = _retained(weight_kg, gain_g_per_day, sex)
    maintenance = afrc1993.maintenance_me_mj_per_day(weight_kg, q, sex)
    return maintenance + kept / afrc1993.efficiency_growth(q)


def _need_over_maintenance(weight_kg: float, q: float, ratio: str) -> float:
    km, kf = afrc1993.efficiency_maintenance(q), afrc1993.efficiency_growth(q)
    kept = {"zero": 0.0, "kf/km": kf / km}[ratio] * _net(weight_kg)
    gain = 1000 * kept / afrc1993.energy_of_gain_mj_per_kg(weight_kg, "female")
    need = afrc1993.growth_me_mj_per_day(weight_kg, gain, q)
    return need / afrc1993.maintenance_me_mj_per_day(weight_kg, q)


def _loss_ratio(weight_kg: float, q: float, share: float) -> float:
    me = share * afrc1993.maintenance_me_mj_per_day(weight_kg, q)
    gain = afrc1993.gain_from_me_g_per_day(weight_kg, me, q)
    return _retained(weight_kg, gain) / _net(weight_kg)


def _gain_energy_line(sex: str) -> tuple[float, float]:
    at20, at40 = (afrc1993.energy_of_gain_mj_per_kg(w, sex) for w in (20, 40))
    slope = (at40 - at20) / 20
    return at20 - 20 * slope, slope


def _crossing() -> float:
    (a, b), (c, d) = _gain_energy_line("female"), _gain_energy_line("castrate")
    return (c - a) / (b - d)


def _turning_weight(sex: str) -> float:
    y = [afrc1993.net_protein_of_gain_g_per_kg(w, sex) for w in (20, 40, 60)]
    curve, slope, _ = np.polyfit((20, 40, 60), y, 2)
    return float(-slope / (2 * curve))


def _mp_gain(weight_kg: float, gain_g_per_day: float, sex: str = "female") -> tuple[float, float]:
    """MP above that of no gain, and net protein of the gain without the fleece."""
    above = afrc1993.mp_need_g_per_day(weight_kg, gain_g_per_day, sex)
    above -= afrc1993.mp_need_g_per_day(weight_kg, 0, sex)
    return above, gain_g_per_day / 1000 * afrc1993.net_protein_of_gain_g_per_kg(weight_kg, sex)


def _mp_fleece(weight_kg: float, gain_g_per_day: float) -> float:
    need = afrc1993.mp_need_g_per_day(weight_kg, gain_g_per_day)
    return need - 2.1875 * weight_kg**0.75 - _mp_gain(weight_kg, gain_g_per_day)[1] / 0.59


def _ca_absorption() -> float:
    return afrc1991.endogenous_ca_g_per_day(1.0) / afrc1991.ca_need_g_per_day(30, 60, 0, 1.0)


def _p_absorption(diet: str) -> float:
    return afrc1991.endogenous_p_g_per_day(1.0, diet) / afrc1991.p_need_g_per_day(
        30, 60, 0, 1.0, diet
    )


# DM share, ME, CP, oil, ADIN, a, b, c: rounded figures from memory that the worked rations used.
HAYS = {
    "8": (0.85, 8.4, 80, 14, 1.2),
    "8.5": (0.85, 8.6, 85, 14.5, 1.15),
    "9": (0.85, 8.8, 90, 15, 1.1),
    "10": (0.85, 9.2, 100, 16, 1.0),
}
CONCENTRATES = {
    "barley": (0.86, 13.2, 115, 17, 0.2, 0.25, 0.70, 0.35),
    "oats": (0.86, 12.1, 108, 42, 0.2, 0.69, 0.25, 0.35),
    "beet": (0.88, 12.5, 100, 4, 0.7, 0.30, 0.50, 0.06),
    "cube": (0.87, 12.4, 184, 40, 0.5, 0.28, 0.60, 0.12),
}


def _check_ration(hay: str, concentrate: str, figure: str) -> float:
    """0.680 kg hay and 0.227 kg concentrate to a 30 kg ewe lamb, housed, need for 20 g/day."""
    feeds = ((0.680, (*HAYS[hay], 0.22, 0.60, 0.08)), (0.227, CONCENTRATES[concentrate]))
    eaten = [(fresh * f[0], f) for fresh, f in feeds]
    dm = sum(kg for kg, _ in eaten)
    me = sum(kg * f[1] for kg, f in eaten)
    q = me / dm / afrc1993.GROSS_ENERGY_MJ_PER_KG_DM
    level = me / afrc1993.maintenance_me_mj_per_day(30, q)
    flow = afrc1993.outflow_per_h(level)
    fme = sum(kg * afrc1993.fermentable_me_mj_per_kg_dm(f[1], f[3]) for kg, f in eaten)
    erdp = sum(kg * afrc1993.erdp_g_per_kg_dm(f[2], *f[5:], flow) for kg, f in eaten)
    dup = sum(kg * afrc1993.dup_g_per_kg_dm(f[2], *f[5:], f[4], flow) for kg, f in eaten)
    mp = afrc1993.mp_supply_g_per_day(erdp, fme, dup, level)
    microbial = afrc1993.microbial_yield_g_per_mj(level)
    return {
        "dm_kg": dm,
        "me": me,
        "mp": mp,
        "fme": fme,
        "erdp": erdp,
        "dup": dup,
        "level": level,
        "outflow": flow,
        "yield": microbial,
        "microbial_by_energy": microbial * fme,
        "me_percent": 100 * me / afrc1993.growth_me_mj_per_day(30, 20, q),
        "mp_percent": 100 * mp / afrc1993.mp_need_g_per_day(30, 20),
        "gain_by_energy": afrc1993.gain_from_me_g_per_day(30, me, q),
        "gain_by_protein": afrc1993.gain_from_mp_g_per_day(30, mp),
    }[figure]


COMPOSED: dict[str, Callable[..., float]] = {
    "km_slope_per_md": lambda ge_mj_per_kg_dm: (
        (afrc1993.efficiency_maintenance(0.6) - afrc1993.efficiency_maintenance(0.5))
        / (0.1 * ge_mj_per_kg_dm)
    ),
    "fasting_per_metabolic_weight": lambda weight_kg, under_one_year, is_entire: (
        afrc1993.fasting_metabolism_mj_per_day(weight_kg, under_one_year, is_entire)
        / weight_kg**0.75
    ),
    "activity_per_kg": lambda weight_kg, housing: (
        afrc1993.activity_mj_per_day(weight_kg, housing) / weight_kg
    ),
    "net_maintenance": _net,
    "net_maintenance_per_metabolic_weight": lambda weight_kg: _net(weight_kg) / weight_kg**0.75,
    "maintenance_me_per_metabolic_weight": lambda weight_kg, **rest: (
        afrc1993.maintenance_me_mj_per_day(weight_kg, **rest) / weight_kg**0.75
    ),
    "retained_energy": _retained,
    "gain_energy_constant": lambda sex: _gain_energy_line(sex)[0],
    "gain_energy_slope": lambda sex: _gain_energy_line(sex)[1],
    "gain_energy_crossing_kg": _crossing,
    "weight_at_gain_energy_kg": lambda energy_mj_per_kg, sex: (
        (energy_mj_per_kg - _gain_energy_line(sex)[0]) / _gain_energy_line(sex)[1]
    ),
    "plain_sum_me": _plain_sum,
    "need_over_maintenance": _need_over_maintenance,
    "loss_ratio_under_maintenance": _loss_ratio,
    "limit_ratio": lambda weight_kg, q: (
        _retained(weight_kg, afrc1993.most_gain_g_per_day(weight_kg, q)) / _net(weight_kg)
    ),
    "protein_turning_weight_kg": _turning_weight,
    "mp_maintenance": lambda weight_kg: afrc1993.mp_need_g_per_day(weight_kg, 0) - 3 / 0.26,
    "mp_gain_body": lambda weight_kg, gain_g_per_day: (
        _mp_gain(weight_kg, gain_g_per_day)[0] - 0.1 / 0.26 * _mp_gain(weight_kg, gain_g_per_day)[1]
    ),
    "mp_fleece": _mp_fleece,
    "mp_per_net_protein": lambda weight_kg, gain_g_per_day, sex: (
        _mp_gain(weight_kg, gain_g_per_day, sex)[0] / _mp_gain(weight_kg, gain_g_per_day, sex)[1]
    ),
    "mp_growth_efficiency": lambda weight_kg, gain_g_per_day: (
        1
        / (
            _mp_gain(weight_kg, gain_g_per_day)[0] / _mp_gain(weight_kg, gain_g_per_day)[1]
            - 0.1 / 0.26
        )
    ),
    "true_protein_share": lambda: afrc1993.mp_supply_g_per_day(100, 1000, 0, 2) / 100,
    "quick_credit": lambda: afrc1993.erdp_g_per_kg_dm(100.0, 1.0, 0.0, 0.1, 0.05) / 100,
    "undegraded_digestibility": lambda: (
        afrc1993.dup_g_per_kg_dm(100.0, 0.0, 0.0, 0.1, 0.0, 0.05) / 100
    ),
    "bound_protein_per_n": lambda: (
        (
            afrc1993.dup_g_per_kg_dm(100.0, 0.0, 0.0, 0.1, 0.0, 0.05)
            - afrc1993.dup_g_per_kg_dm(100.0, 0.0, 0.0, 0.1, 1.0, 0.05)
        )
        / 0.9
    ),
    "check_ration": _check_ration,
    "endogenous_ca_slope": lambda: (
        afrc1991.endogenous_ca_g_per_day(1.0) - afrc1991.endogenous_ca_g_per_day(0.0)
    ),
    "endogenous_p_slope": lambda diet: (
        afrc1991.endogenous_p_g_per_day(1.0, diet) - afrc1991.endogenous_p_g_per_day(0.0, diet)
    ),
    "ca_absorption": _ca_absorption,
    "p_absorption": _p_absorption,
    "ca_need_per_kg_dm": lambda dmi_kg_per_day, **rest: (
        afrc1991.ca_need_g_per_day(dmi_kg_per_day=dmi_kg_per_day, **rest) / dmi_kg_per_day
    ),
    "p_need_per_kg_dm": lambda dmi_kg_per_day, **rest: (
        afrc1991.p_need_g_per_day(dmi_kg_per_day=dmi_kg_per_day, **rest) / dmi_kg_per_day
    ),
}


# ---- properties of the equations that hold over a whole range, not at one printed point

WEIGHTS = (15, 20, 25, 30, 35, 40, 45, 50, 55)


@pytest.mark.parametrize("weight_kg", WEIGHTS)
@pytest.mark.parametrize("sex", ["female", "castrate", "entire"])
def test_energy_need_falls_as_diet_quality_rises(weight_kg: float, sex: str) -> None:
    q: NDArray[np.float64] = np.linspace(0.45, 0.75, 31)
    for gain in (0.0, 50.0, 100.0):
        need = afrc1993.growth_me_mj_per_day(weight_kg, np.full_like(q, gain), q, sex)
        assert np.all(np.diff(need) < 0)


@pytest.mark.parametrize("q", [0.5, 0.6, 0.7])
@pytest.mark.parametrize("weight_kg", WEIGHTS)
def test_ewe_lambs_need_more_energy_than_castrates_above_17_7_kg(
    weight_kg: float, q: float
) -> None:
    ewe, castrate = (
        afrc1993.growth_me_mj_per_day(weight_kg, 100, q, sex) for sex in ("female", "castrate")
    )
    assert (ewe > castrate) is (weight_kg > 17.7)


@pytest.mark.parametrize("weight_kg", [w for w in WEIGHTS if w >= 20])
def test_ewe_lambs_need_less_protein_than_castrates(weight_kg: float) -> None:
    for gain in (1, 50, 100, 150, 200, 250):
        ewe, castrate = (
            afrc1993.mp_need_g_per_day(weight_kg, gain, sex) for sex in ("female", "castrate")
        )
        assert ewe < castrate


@pytest.mark.parametrize("q", [0.45, 0.5, 0.6, 0.7])
@pytest.mark.parametrize("sex", ["female", "castrate", "entire"])
def test_gain_that_no_amount_of_a_diet_supports_is_refused_in_words(q: float, sex: str) -> None:
    most = afrc1993.most_gain_g_per_day(35, q, sex)
    assert np.isfinite(afrc1993.growth_me_mj_per_day(35, 0.999 * most, q, sex))
    for gain in (most * (1 + 1e-9), 1.5 * most):
        with pytest.raises(OutOfRange, match=r"no amount of this diet can support that gain"):
            afrc1993.growth_me_mj_per_day(35, gain, q, sex)


def test_loss_of_weight_is_refused_in_words() -> None:
    with pytest.raises(OutOfRange, match=r"gain -10 g/day is a loss of weight"):
        afrc1993.growth_me_mj_per_day(35, -10, 0.55)
    with pytest.raises(OutOfRange, match=r"gain -10 g/day"):
        afrc1993.mp_need_g_per_day(35, -10)


@given(
    weight_kg=st.floats(15, 55),
    share=st.floats(0.0, 0.95),
    q=st.floats(0.4, 0.7),
    sex=st.sampled_from(["female", "castrate", "entire"]),
    housing=st.sampled_from(["shed", "in-bye", "hill"]),
)
def test_gain_and_need_turn_round(
    weight_kg: float, share: float, q: float, sex: str, housing: str
) -> None:
    sheep: dict[str, Any] = {"sex": sex, "housing": housing}
    gain = share * afrc1993.most_gain_g_per_day(weight_kg, q, **sheep)
    me = afrc1993.growth_me_mj_per_day(weight_kg, gain, q, **sheep)
    assert afrc1993.gain_from_me_g_per_day(weight_kg, me, q, **sheep) == pytest.approx(
        gain, abs=1e-6
    )
    mp = afrc1993.mp_need_g_per_day(weight_kg, gain, sex)
    assert afrc1993.gain_from_mp_g_per_day(weight_kg, mp, sex) == pytest.approx(gain, abs=1e-6)


@given(erdp=st.floats(0, 300), fme=st.floats(0, 30), dup=st.floats(0, 100), level=st.floats(0.2, 4))
def test_microbial_protein_is_never_above_either_limit(
    erdp: float, fme: float, dup: float, level: float
) -> None:
    mp = afrc1993.mp_supply_g_per_day(erdp, fme, dup, level)
    by_protein = 0.6375 * erdp + dup
    by_energy = 0.6375 * afrc1993.microbial_yield_g_per_mj(level) * fme + dup
    assert mp <= min(by_protein, by_energy) + 1e-9
    assert mp >= min(by_protein, by_energy) - 1e-9


@given(
    cp=st.floats(0, 600),
    a=st.floats(0, 1),
    c=st.floats(0.01, 0.5),
    adin=st.floats(0, 20),
    flow=st.floats(0, 0.12),
)
def test_undegraded_protein_is_never_negative(
    cp: float, a: float, c: float, adin: float, flow: float
) -> None:
    dup = afrc1993.dup_g_per_kg_dm(cp, a, 1 - a, c, adin, flow)
    assert 0 <= dup <= 0.9 * cp

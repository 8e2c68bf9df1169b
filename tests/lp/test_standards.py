"""Every standard of the registry keeps the promises that the proof of least cost rests on.

The search itself, on the invented farms of `test_search.py`, is held against a second method for
each standard: NRC (1985) does not move with the diet, so its mix is one ordinary linear programme
for SciPy; the others are held against the grid over quality and level.
"""

from __future__ import annotations

import csv
from dataclasses import replace
from functools import cache
from itertools import product
from pathlib import Path

import numpy as np
import pytest
from lp.test_search import grid, pair, random_chemistry
from properties.strategies import Made, broken, real_mixes, seeded_farm
from scipy.optimize import linprog

from ration import animals, needs, search
from ration.errors import OutOfRange
from ration.needs import REGISTRY, Eaten
from ration.standards import MARGINS

ROOT = Path(__file__).parents[2]
NAMES = tuple(REGISTRY)
MOVING = tuple(n for n in NAMES if n != "NRC 1985")
Q = np.linspace(0.15, 0.85, 701)
GAP = 1e-4

# weights that every standard covers for the class, states of breeding ewes
SHEEP = [
    {"sheep_class": c, "weight_kg": w, "housing": h, "gain_g_per_day": g}
    for (c, weights), h, g in product(
        (("ewe-lamb", (30, 38, 50)), ("wether-lamb", (30, 45)), ("tup-lamb", (40, 52))),
        ("shed", "in-bye", "hill"),
        (0, 40, 120),
    )
    for w in weights
]
EWES = [
    {"sheep_class": "ewe", "weight_kg": w, "gain_g_per_day": 0, "mature_weight_kg": 65, **state}
    for w, state in product(
        (52, 70),
        (
            {},
            {"days_pregnant": 60, "litter_kg": 6, "lambs": 1.5},
            {"days_pregnant": 140, "litter_kg": 9, "lambs": 2},
            {"milk_kg_per_day": 1.6, "lambs": 1},
        ),
    )
]
IN_LAMB = [
    {
        "sheep_class": "ewe-lamb", "weight_kg": w, "gain_g_per_day": 80, "days_pregnant": d,
        "litter_kg": 4, "lambs": 1,
    }
    for w, d in product((42, 50), (50, 130))
]  # fmt: skip
ALL = SHEEP + EWES + IN_LAMB


def standard(name: str, said: dict, **switches: float) -> needs.Standard:
    return needs.of(animals.batch("sheep", **said), name, **switches)


# ---- the registry


def test_registry_and_margins_name_the_same_standards() -> None:
    assert set(REGISTRY) == set(MARGINS)
    for name, kind in REGISTRY.items():
        assert kind.name == name
        assert kind(animals.batch(weight_kg=40, gain_g_per_day=20)).margin == MARGINS[name]


@pytest.mark.parametrize("name", NAMES)
def test_every_standard_has_check_rows_and_every_figure_a_known_source(name: str) -> None:
    module = name.lower().replace(" ", "")
    rows = [
        row
        for path in (ROOT / "tests" / "published").glob("*.csv")
        for row in csv.DictReader(path.read_text(encoding="utf-8").splitlines())
        if row["function"].startswith(f"{module}.")
    ]
    assert len(rows) > 20
    assert any(row["origin"] in ("print", "restated") for row in rows)
    keys = {
        line.partition(",")[0]
        for line in (ROOT / "feedtables" / "sources.csv").read_text(encoding="utf-8").splitlines()
    }
    for said in ALL:
        told = standard(name, {**said, "cold_me_mj_per_day": 1.0}, margin=1.02).at(10.0)
        for figure in told.figures:
            assert figure.mark in ("print", "restated", "derived", "memory", "practice")
            named = [k for k in figure.source.split(", ") if k]
            assert named or figure.mark == "practice", figure
            assert set(named) <= keys, figure


@pytest.mark.parametrize("name", NAMES)
@pytest.mark.parametrize("said", ALL, ids=str)
def test_parts_of_a_need_add_up_to_it(name: str, said: dict) -> None:
    told = standard(name, {**said, "cold_me_mj_per_day": 0.7}, margin=1.05, maintenance=1.2).at(
        10.5
    )
    for need, whole in (("energy", told.me_mj_per_day), ("protein", told.protein_g_per_day)):
        assert told.figure(need).per_day == pytest.approx(whole, rel=1e-12)
        parts = [f.per_day for f in told.figures if f.id.startswith(f"{need}: ")]
        assert sum(parts) == pytest.approx(whole, rel=1e-9)
    assert told.figure("calcium").per_day == pytest.approx(told.ca_g_per_day)
    assert told.figure("phosphorus").per_day == pytest.approx(told.p_g_per_day)


# ---- which way each moves


@pytest.mark.parametrize("name", NAMES)
@pytest.mark.parametrize("switch", [{}, {"maintenance": 1.45}, {"recycled_n_share": 0.2}])
def test_energy_need_falls_with_quality_bends_one_way_and_rises_with_gain(
    name: str, switch: dict
) -> None:
    for said in ALL:
        need = standard(name, said, **switch)
        gains = np.array([need.batch.gain_g_per_day, 60.0, 130.0, 200.0])[:, None]
        me = need.me_need(Q[None], np.sort(gains, axis=0))
        known = np.isfinite(me)
        assert (np.diff(known.astype(int), axis=1) >= 0).all()
        flat = np.where(known, me, 0.0)
        both = known[:, 1:] & known[:, :-1]
        assert (np.diff(flat, axis=1)[both] <= 1e-12).all(), said
        bend = flat[:, :-2] + flat[:, 2:] - 2 * flat[:, 1:-1]
        assert (bend[known[:, :-2]] > -1e-9).all(), said
        assert (np.diff(flat, axis=0)[known[1:] & known[:-1]] >= -1e-9).all(), said
        assert (np.diff(need.maintenance_me(Q)) <= 1e-12).all()
        assert need.maintenance_me(Q).min() > 0


@pytest.mark.parametrize("name", NAMES)
@pytest.mark.parametrize("recycled", [0.0, 0.15])
def test_kindest_protein_is_an_upper_bound_inside_every_box(name: str, recycled: float) -> None:
    rng = np.random.default_rng(5)
    chemistry = random_chemistry(rng, 400)
    need = standard(name, SHEEP[0], recycled_n_share=recycled)
    lo = rng.uniform(0.2, 4.8, 60)
    hi = np.minimum(lo + rng.uniform(0, 2, 60), 5.0)
    kindest = need.kindest_protein_value(chemistry, lo, hi)
    for share in np.linspace(0, 1, 21):
        for bound, true in zip(
            kindest, need.protein_value(chemistry, lo + share * (hi - lo)), strict=True
        ):
            assert (bound >= true - 1e-9).all()


@pytest.mark.parametrize("name", NAMES)
def test_chord_never_cuts_off_a_mix_that_just_meets_its_need(name: str) -> None:
    rng = np.random.default_rng(13)
    base = seeded_farm(0).model
    for said in ALL[::3]:
        need = standard(name, said)
        model = replace(
            base,
            needs=need,
            ceiling_gain_g_per_day=None,
            me=np.array([1.0, 0.0]),
            ge=np.array([0.0, 1.0]),
            chemistry=pair(base.chemistry),
        )
        reached = Q[np.isfinite(need.me_need(Q))]
        q1 = np.minimum(reached[0] + 10 ** rng.uniform(-5, -0.3, 80), 0.84)
        q2 = np.minimum(q1 + 0.7 * 10 ** rng.uniform(-5, 0, 80), 0.85)
        rows, lo, _, _ = model.box_rows(q1, q2, np.ones(80), np.ones(80))
        q = np.minimum(q1[:, None] + (q2 - q1)[:, None] * np.linspace(0, 1, 101)[None], 0.85)
        me = need.me_need(q)
        short = lo[:, 5:] - (rows[:, 5, :1] * me + rows[:, 5, 1:] * me / q)
        assert np.nanmax(np.where(np.isfinite(me), short, 0.0)) <= 1e-9


# ---- there and back


@pytest.mark.parametrize("name", NAMES)
@pytest.mark.parametrize("said", ALL, ids=str)
def test_gain_comes_back_from_its_energy_and_its_protein(name: str, said: dict) -> None:
    need = standard(name, {**said, "cold_me_mj_per_day": 0.5}, margin=1.03)
    for gain in (need.batch.gain_g_per_day, 30.0, 75.0):
        me = float(need.me_need(np.array([0.55]), gain)[0])
        assert need.gain_from_me(me, 0.55) == pytest.approx(gain, abs=1e-5)
        if name == "NRC 1985" and gain < 40 and need.batch.is_grown:
            continue  # the table charges grown ewes no protein for the first 10 or 30 g
        protein = need.protein_need(gain) + need.protein_slope_g_per_kg_dm * 0.9
        assert need.gain_from_protein(protein, 0.9) == pytest.approx(gain, abs=1e-4)


@pytest.mark.parametrize("name", NAMES)
def test_plain_sums_of_protein_equal_the_optimisers_values(name: str) -> None:
    rng = np.random.default_rng(3)
    need = standard(name, SHEEP[4], recycled_n_share=0.1)
    for _ in range(50):
        c = random_chemistry(rng, 6)
        kg, level = rng.uniform(0, 0.4, 6), float(rng.uniform(0.4, 2.5))
        eaten = [
            Eaten(*map(float, row))
            for row in zip(kg, c.cp, c.a, c.b, c.c, c.adin, c.fme, c.me, strict=True)
        ]
        by_n, by_e = need.protein_value(c, np.array([level]))
        with_intake = need.protein_slope_g_per_kg_dm * kg.sum()
        least = min(float(by_n[0] @ kg), float(by_e[0] @ kg)) + with_intake
        assert need.protein_supply(eaten, level).g_per_day == pytest.approx(least, rel=1e-9)


@pytest.mark.parametrize("name", NAMES)
def test_cold_is_added_whole_and_moves_nothing_else(name: str) -> None:
    for said in SHEEP[::5]:
        plain = standard(name, said)
        cold = standard(name, {**said, "cold_me_mj_per_day": 1.7})
        q = Q[np.isfinite(plain.me_need(Q))]
        assert cold.me_need(q) - plain.me_need(q) == pytest.approx(np.full(len(q), 1.7))
        assert cold.protein_need() == plain.protein_need()
        assert cold.ca_line() == plain.ca_line()
        assert cold.maintenance_me(Q) == pytest.approx(plain.maintenance_me(Q))


@pytest.mark.parametrize("name", [n for n in NAMES if n != "NRC 1985"])
def test_hill_asks_more_than_in_bye_and_in_bye_more_than_the_shed(name: str) -> None:
    asked = [
        standard(name, {"weight_kg": 38, "gain_g_per_day": 30, "housing": place}).me_need(
            Q[300:301]
        )[0]
        for place in ("shed", "away", "in-bye", "hill")
    ]
    assert asked[0] < asked[1] == asked[2] < asked[3]
    walked = [
        standard(
            name,
            {
                "weight_kg": 38, "gain_g_per_day": 30, "housing": "hill",
                "walk_km_per_day": km, "climb_km_per_day": 0.1,
            },
        ).me_need(Q[300:301])[0]
        for km in (1.0, 3.0, 8.0)
    ]  # fmt: skip
    assert walked == sorted(walked)
    assert walked[0] < walked[2]


# ---- the search, by each


@cache
def farm(seed: int, name: str) -> Made | None:
    made = seeded_farm(seed)
    try:
        need = needs.of(made.batch, name, maintenance=made.needs.maintenance)
    except OutOfRange:
        return None
    return replace(made, needs=need)


def covered(name: str, most: int) -> list[tuple[int, Made]]:
    found = [(seed, made) for seed in range(120) if (made := farm(seed, name)) is not None]
    assert len(found) >= most
    return found[:most]


@pytest.mark.parametrize("name", MOVING)
def test_search_agrees_with_the_grid(name: str) -> None:
    mixes = 0
    for seed, made in covered(name, 40):
        answer = search.search(made.model, gap_share=GAP)[0]
        cost, _ = grid(made.model)
        if answer.x is None:
            assert not np.isfinite(cost) or answer.is_borderline, (name, seed)
            continue
        mixes += 1
        assert answer.lower_bound <= cost * (1 + 1e-9), (name, seed)
        assert answer.gap_share <= 1e-3 * (1 + 1e-9), (name, seed)
        assert broken(made, answer.x) == [], (name, seed)
    assert mixes > 20


def test_nrc_is_one_linear_programme_and_scipy_gives_the_same_cost() -> None:
    mixes = 0
    for seed, made in covered("NRC 1985", 40):
        model = made.model
        answer = search.search(model, gap_share=GAP)[0]
        need, ceiling = (float(v[0]) for v in model.energy_limits(np.array([0.5])))
        cp = model.chemistry.cp - model.needs.protein_slope_g_per_kg_dm
        (q_lo, q_hi), ge = model.needs.quality, model.ge
        rows = np.vstack(
            [
                model.me,
                -model.me,
                cp,
                model.me - q_lo * ge,
                q_hi * ge - model.me,
                model.fixed,
                -model.fixed,
            ]
        )
        least = np.concatenate(
            [[need, -ceiling, model.needs.protein_need(), 0, 0], model.fixed_lo, -model.fixed_hi]
        )
        kept = np.isfinite(least)
        judge = linprog(
            model.cost,
            A_ub=-rows[kept],
            b_ub=-least[kept],
            bounds=list(zip(model.col_lo, model.col_hi, strict=True)),
            method="highs",
        )
        if answer.x is None:
            assert judge.status == 2, seed
            continue
        mixes += 1
        assert judge.status == 0, seed
        assert answer.cost == pytest.approx(judge.fun, rel=1.1e-3), seed
        assert answer.lower_bound <= judge.fun * (1 + 1e-9), seed
        assert broken(made, answer.x) == [], seed
    assert mixes > 20


@pytest.mark.parametrize("name", NAMES)
def test_tangent_rows_say_what_the_needs_say_at_the_mix(name: str) -> None:
    rng = np.random.default_rng(17)
    looked_at = 0
    for _, made in covered(name, 12):
        model = made.model
        x = real_mixes(model, rng, tries=1500)[:5]
        if not len(x):
            continue
        looked_at += len(x)
        rows, lo, hi = model.tangent_rows(x)
        q, level = model.quality_and_level(x)
        need, ceiling = model.energy_limits(q)
        by_n, by_e = model.needs.protein_value(model.chemistry, level)
        me, protein = x @ model.me, model.needs.protein_need()
        true = np.column_stack(
            [me - need, ceiling - me, (by_n * x).sum(1) - protein, (by_e * x).sum(1) - protein]
        )
        line = np.einsum("kmn,kn->km", rows, x) - lo
        line[:, 1] = hi[:, 1] - np.einsum("kn,kn->k", rows[:, 1], x)
        ok = np.isfinite(true)
        assert line[ok] == pytest.approx(true[ok], rel=1e-8, abs=1e-8)
    assert looked_at > 10

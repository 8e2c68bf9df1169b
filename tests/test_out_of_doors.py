"""Cold, grazing, hay to appetite and recycled nitrogen inside the ration and the winter.

Nothing published answers the invented farm: what is held is arithmetic (a cold day's energy turns
up whole in the need, grass in the books), and second methods (each hay by itself; the same ration
summed from the feeds).
"""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import date, timedelta
from functools import cache
from pathlib import Path

import numpy as np
import pytest

from ration import appetite, card, demo, farm, grazing, limits, mix, needs, outdoors, tables
from ration.buying import tie
from ration.farm import Farm
from ration.jobs import winter as winter_jobs
from ration.mix import FarmRations

DEMO = (Path(demo.__file__).parent / "quernhope.yaml").read_text(encoding="utf-8")
TEXT = re.sub(r"^(outdoors|wintering):.*\n(?:[ #].*\n|\n)*", "", DEMO, flags=re.M)
OUTSIDE = """
outdoors:
  fleece: 50 mm
  shelter: 45 %
  wind measured: at the sheep
  typical weather:
    October: 8 C, 16 km/h, 4 mm
    November: 4 C, 18 km/h, 4 mm
    December: 2 C, 20 km/h, 5 mm
    January: 1 C, 20 km/h, 5 mm
    February: 1 C, 20 km/h, 4 mm
    March: 3 C, 18 km/h, 4 mm
    April: 6 C, 16 km/h, 3 mm
"""
GRASS = """  grazing:
    28 October: 3.0 MJ
    1 January: 0
"""


@cache
def book() -> tables.Tables:
    return tables.load()


@cache
def read(more: str = "", housing: str = "shed", said: str = "assume: all") -> Farm:
    text = TEXT.replace("housing: shed", f"housing: {housing}").replace("assume: all", said)
    text = text.replace("quotes: quernhope-quotes.csv", "")
    return farm.read_text(text + more, tables=book())


@cache
def mixed(more: str = "", housing: str = "shed", said: str = "assume: all") -> FarmRations:
    return mix.mix(read(more, housing, said), book(), with_worth=False)


# ---- cold


def test_cold_asks_its_mean_and_the_ration_meets_it() -> None:
    plain, cold = mixed("", "in-bye"), mixed(OUTSIDE, "in-bye")
    for a, b in zip(plain.rations, cold.rations, strict=True):
        assert a.assessment is not None
        assert b.assessment is not None
        extra = b.assessment.batch.cold_me_mj_per_day
        assert extra > 0.1
        at = b.assessment.q
        need = [
            float(needs.of_farm(read(o, "in-bye"), b.batch).me_need(np.array([at]))[0])
            for o in ("", OUTSIDE)
        ]
        assert need[1] - need[0] == pytest.approx(extra)
        assert b.assessment.me_mj_per_day >= need[1] * (1 - 1e-6)
        assert b.cost_gbp_per_head_day > a.cost_gbp_per_head_day


def test_allowance_in_the_ration_is_the_mean_of_its_days() -> None:
    one = read(OUTSIDE, "in-bye")
    batch, spell = one.batches[0], one.outdoors
    assert spell is not None
    heat = outdoors.heat_mj_per_day(batch)
    days = [one.start + timedelta(i) for i in range(one.days)]
    each = [
        outdoors.cold_allowance(
            batch.weight_kg, heat, spell, d, d + timedelta(1)
        ).mean_me_mj_per_day
        for d in days
    ]
    told = needs.of_farm(one, batch).batch.cold_me_mj_per_day
    assert told == pytest.approx(float(np.mean(each)), rel=1e-9)


def test_shed_is_not_touched_by_weather_or_grass() -> None:
    plain, same = mixed(), mixed(OUTSIDE + GRASS)
    for a, b in zip(plain.rations, same.rations, strict=True):
        assert b.cost_gbp_per_head_day == pytest.approx(a.cost_gbp_per_head_day, rel=1e-6)
        assert b.assessment is not None
        assert b.assessment.batch.cold_me_mj_per_day == 0


# ---- grazing


def test_grass_is_eaten_as_the_curve_says_and_never_costs_more() -> None:
    without, grazed = mixed(OUTSIDE, "in-bye"), mixed(OUTSIDE + GRASS, "in-bye")
    one = read(OUTSIDE + GRASS, "in-bye")
    assert one.outdoors is not None
    mean = outdoors.grazing_me_mj_per_day(one.outdoors, one.start, one.end)
    by_hand = sum(3.0 * (1 - i / 65) for i in range(65)) / one.days  # 65 days to 1 January
    assert mean == pytest.approx(by_hand, rel=1e-9)
    for a, b in zip(without.rations, grazed.rations, strict=True):
        line = next(f for f in b.feeds if f.id == "grazing")
        me = next(o for o in b.offers if o.id == "grazing").feed["me_mj_per_kg_dm"]
        assert line.kg_dm_per_head_day * me == pytest.approx(mean, rel=1e-6)
        assert line.cost_gbp_per_head_day == 0
        assert b.cost_gbp_per_head_day < a.cost_gbp_per_head_day


def test_grass_in_the_winter_follows_its_periods_and_is_not_ordered_or_put_out() -> None:
    one = read(OUTSIDE + GRASS, "in-bye")
    one = replace(one, batches=one.batches[2:])  # the small ones, for time
    tied = tie.tie(one, (), book(), on=one.start)
    whole = replace(one, offers=tied.offers)
    plan = winter_jobs.plan_of(whole, tied.supplies, book(), seconds=20)
    assert plan.is_found
    grass = next(o for o in plan.offers if o.is_grazed)
    for fed in plan.fed:
        kg = grazing.kg_fresh_per_head_day(
            one, grass, fed.batch, fed.period.start, fed.period.end
        ) * (grass.feed["dm_g_per_kg_fresh"] / 1000)
        assert fed.kg_dm.get("grazing", 0.0) == pytest.approx(kg, abs=1e-6)
        assert "grazing" not in fed.kg_offered
        then = needs.of_farm(one, fed.batch, fed.period.start, fed.period.end)
        assert fed.batch.cold_me_mj_per_day == pytest.approx(then.batch.cold_me_mj_per_day)
    first, last = plan.fed[0], plan.fed[-1]
    assert first.kg_dm["grazing"] > 0.2
    assert last.kg_dm.get("grazing", 0.0) == 0
    assert all(d.supply.offer_id != "grazing" for d in plan.deliveries)
    assert all(s.offer_id != "grazing" for s in plan.stocks)
    for told in card.cards(plan, date(2026, 11, 20), book()):
        assert "grazing" not in str(told)


def test_unknown_grass_is_refused_with_its_line() -> None:
    from ration.errors import InputError

    for like in ("barley", "nonsense"):
        with pytest.raises(InputError, match="line .*grazing like"):
            read(OUTSIDE + GRASS + f"  grazing like: {like}\n", "in-bye")


# ---- hay to appetite


@pytest.mark.parametrize("said", ["hay to appetite: yes", "hay to appetite: 0.80 kg"])
def test_hay_to_appetite_holds_its_row_and_is_cheapest_over_the_hays(said: str) -> None:
    one = read("", "shed", f"assume: all\n{said}")
    for ration in mix.mix(one, book(), with_worth=False).rations:
        assert ration.rack is not None
        x = {f.id: f.kg_dm_per_head_day for f in ration.feeds}
        hay = ration.rack.offer_id
        feeds = {o.id: o.feed for o in ration.offers}
        trough = sum(kg for i, kg in x.items() if feeds[i].is_concentrate)
        assert all(x[i] == 0 for i, f in feeds.items() if f.group == "hay" and i != hay)
        alone = ration.rack.appetite_kg_dm_per_day
        if "0.80" in said:
            assert alone == pytest.approx(0.80 * feeds[hay]["dm_g_per_kg_fresh"] / 1000)
        straw = sum(kg for i, kg in x.items() if feeds[i].group == "straw")
        pushed = ration.rack.substitution * trough
        assert x[hay] <= alone - pushed + 1e-6
        if straw < 1e-9:
            assert x[hay] == pytest.approx(alone - pushed, abs=1e-6)
        # every hay by itself, the others left out of the farm
        bounds = limits.resolve(
            ration.batch, one.batch_limits[ration.batch.name], ration.offers, book().limits
        )
        ways = appetite.ways(ration.model, ration.offers, bounds, one.hay_to_appetite)
        assert any(rack.offer_id == hay for rack, _ in ways)


def test_hay_to_appetite_without_hay_says_so() -> None:
    from ration.errors import InputError

    one = read("", "shed", "assume: all\nhay to appetite: yes")
    no_hay = replace(one, offers=tuple(o for o in one.offers if o.feed.group != "hay"))
    with pytest.raises(InputError, match="no hay to feed"):
        mix.mix(no_hay, book(), with_worth=False)


# ---- recycled nitrogen, maintenance


def test_recycled_nitrogen_never_costs_and_maintenance_never_spares() -> None:
    plain = mixed()
    credited = mixed("", "shed", "assume: all\nrecycled nitrogen: 15 %")
    dearer = mixed("", "shed", "assume: all\nmaintenance: 1.2")
    for a, b, c in zip(plain.rations, credited.rations, dearer.rations, strict=True):
        assert b.cost_gbp_per_head_day <= a.cost_gbp_per_head_day * (1 + 1e-6)
        assert c.cost_gbp_per_head_day >= a.cost_gbp_per_head_day * (1 - 1e-6)
    assert sum(r.cost_gbp_per_head_day for r in credited.rations) < sum(
        r.cost_gbp_per_head_day for r in plain.rations
    )


def test_recycled_nitrogen_reproduces_the_worked_barley_of_low_protein_hay() -> None:
    """30 kg, 20 g/day, no margin, hay 8 % CP 8.4 MJ at 0.68 kg: 0.248 kg barley, 0.186 with 15 %.

    Hand working on AFRC (1993) as remembered, common-practice weights; guards the code only.
    """
    from scipy.optimize import brentq

    from ration import animals, assess
    from ration.feeds import Feed, Figure

    def feed(name: str, group: str, *values: float) -> Feed:
        ids = (
            "dm_g_per_kg_fresh", "me_mj_per_kg_dm", "cp_g_per_kg_dm", "n_a_share", "n_b_share",
            "n_c_per_h", "adin_g_n_per_kg_dm", "oil_g_per_kg_dm", "ca_g_per_kg_dm", "p_g_per_kg_dm",
        )  # fmt: skip
        return Feed(
            name, name, group, {k: Figure(v, "user") for k, v in zip(ids, values, strict=True)}
        )

    hay = feed("hay", "hay", 850, 8.4, 80, 0.22, 0.60, 0.08, 1.2, 14, 5, 2)
    barley = feed("barley", "cereal", 860, 13.2, 115, 0.25, 0.70, 0.35, 0.2, 17, 1, 4)
    lamb = animals.batch(weight_kg=30, gain_g_per_day=20)
    for recycled, expected in ((0.0, 0.248), (0.15, 0.186)):
        need = needs.of(lamb, margin=1.0, recycled_n_share=recycled)

        def over(kg: float, need: needs.Standard = need) -> float:
            told = assess.assess(
                need,
                [assess.Portion("hay", "hay", hay, 0.68), assess.Portion("b", "b", barley, kg)],
            )
            return told.gain_g_per_day - 20

        assert brentq(over, 0.05, 0.5) == pytest.approx(expected, abs=0.0015)

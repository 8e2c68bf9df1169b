"""The winter as JSON-ready dictionaries; no arithmetic. Every number's key ends in its unit."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from ration import cautions, weighing
from ration.buying import compare
from ration.card import card_json
from ration.faces import winter_words
from ration.faces.as_json import caution_json, plain
from ration.winter import order

if TYPE_CHECKING:
    from collections.abc import Sequence
    from datetime import date

    from ration.card import Card
    from ration.jobs.quotes import Compared, LandedLine, LandedOnly
    from ration.jobs.weigh import CatchUp, Weighed
    from ration.jobs.winter import Wintered
    from ration.stack import RunOut, Tonnes
    from ration.stack.lots import Stacked
    from ration.winter.order import NowOrLater, OrderRow
    from ration.winter.records import Fed, Plan


def _day(day: date | None) -> str | None:
    return None if day is None else day.isoformat()


# ---------------------------------------------------------------- the stack


def _tonnes(t: Tonnes) -> dict[str, Any]:
    return {"t_fresh": t.t, "least_t_fresh": t.low_t, "most_t_fresh": t.high_t, "words": t.words}


def _run_out(found: RunOut) -> dict[str, Any]:
    return {
        "lasts_to": _day(found.date),
        "early": _day(found.early),
        "late": _day(found.late),
        "left_t_fresh": found.left_t_at_end,
        "short_t_fresh": found.short_t,
        "wanted_t_fresh": found.wanted_t,
    }


def stack_json(found: Stacked) -> dict[str, Any]:
    """`ration stack` as a dictionary."""
    out = {
        "farm": found.farm.name,
        "from": found.farm.start.isoformat(),
        "to": found.farm.end.isoformat(),
        "line": found.line,
        "kind": found.kind,
        "is_planned": found.is_planned,
        "assumed_kg_fresh_per_head_day": found.kg_per_head_day,
        "put_out_t_fresh": found.put_out_t,
        "wanted_t_fresh": found.wanted_t,
        "bought_t_fresh": found.bought_t,
        "in_stack": _tonnes(found.whole),
        "left": _tonnes(found.left),
        "run_out": _run_out(found.run_out),
        "long_winter": {
            "days": found.long.days,
            "more_t_fresh": found.long.more_t,
            "run_out": _run_out(found.long.run_out),
            "more_t_fresh_of": dict(found.more_t),
        },
        "lots": [
            {
                "id": lot.offer_id,
                "name": lot.name,
                "in_stack": _tonnes(lot.tonnes),
                "claims_t_fresh": dict(lot.claims),
                "left": _tonnes(lot.left),
                "run_out": _run_out(lot.run_out),
                "words": lot.words,
            }
            for lot in found.lots
        ],
        "classes": {who: _run_out(run) for who, run in found.classes.items()},
        "words": winter_words.behind_the_stack(found),
    }
    return dict(plain(out))


# ---------------------------------------------------------------- the order


def row_json(row: OrderRow) -> dict[str, Any]:
    """One row of the order sheet."""
    return {
        "feed": row.supply.offer_id,
        "name": row.feed,
        "merchant": row.supply.quote.merchant,
        "pack": row.supply.quote.pack,
        "tonnes_fresh": row.tonnes,
        "packs": row.packs,
        "loads": row.loads,
        "amount": row.amount,
        "when": row.when,
        "deliveries": [
            {"date": day.isoformat(), "tonnes_fresh": tonnes} for day, tonnes in row.deliveries
        ],
        "price_gbp_per_t_fresh": row.price_gbp_per_t,
        "cost_gbp": row.cost_gbp,
        "walk_away_gbp_per_t_fresh": row.walk_away_gbp_per_t,
        "cannot_do_without": row.walk_away_gbp_per_t == float("inf"),
    }


def _now(x: NowOrLater) -> dict[str, Any]:
    return {
        "feed": x.supply.offer_id,
        "merchant": x.supply.quote.merchant,
        "is_now": x.is_now,
        "months": x.months,
        "hold_gbp_per_t_fresh": x.hold_gbp_per_t,
        "rise_gbp_per_t_fresh": x.rise_gbp_per_t,
        "words": x.words,
    }


def _bill(plan: Plan) -> dict[str, Any] | None:
    b = plan.bill
    if b is None:
        return None
    return {
        "total_gbp": b.total_gbp,
        "feed_gbp": b.feed_gbp,
        "drops_gbp": b.drops_gbp,
        "to_merchants_gbp": b.cash_gbp,
        "home_gbp": b.home_gbp,
        "interest_gbp": b.interest_gbp,
        "left_over_gbp": b.leftover_gbp,
    }


def _plan_json(plan: Plan) -> dict[str, Any]:
    return {
        "is_found": plan.is_found,
        "why_not": plan.why_not,
        "bill": _bill(plan),
        "bound_gbp": plan.bound_gbp,
        "gap_share": plan.gap_share if plan.is_found else None,
        "is_cut_short": plan.is_cut_short,
        "proof": winter_words.proof(plan),
        "order": [row_json(r) for r in order.rows_of(plan)],
    }


def _head(done: Wintered) -> dict[str, Any]:
    farm, ready = done.ready.farm, done.ready
    return {
        "farm": farm.name,
        "from": farm.start.isoformat(),
        "to": farm.end.isoformat(),
        "days": farm.days,
        "quotes_on": ready.on.isoformat(),
        "standing": cautions.STANDING,
        "stack": stack_json(done.stack),
        **_plan_json(done.plan),
        "words": list(done.why_not),
        "refused": [
            {
                "feed": s.quote.feed,
                "merchant": s.quote.merchant,
                "pack": s.quote.pack,
                "why": s.refused,
                "place": s.quote.place,
            }
            for s in ready.refused
        ],
        "to_ask": winter_words.to_ask(ready.tied, ready.sheets),
        "left_out": [{"feed": feed, "why": why} for feed, why in farm.unpriced],
    }


def order_json(done: Wintered) -> dict[str, Any]:
    """`ration order` as a dictionary."""
    stops = [caution_json(c) for c in done.cautions if c.level == "stop"]
    return dict(plain({**_head(done), "cautions": stops, "what_ifs": _what_ifs(done)}))


def winter_json(done: Wintered) -> dict[str, Any]:
    """`ration winter` as a dictionary."""
    plan = done.plan
    out = {
        **_head(done),
        "periods": [
            {"from": p.start.isoformat(), "to": p.end.isoformat(), "days": p.days}
            for p in plan.periods
        ],
        "fed": [_fed(f) for f in plan.fed],
        "stocks": [
            {
                "feed": s.offer_id,
                "period": s.period.index,
                "opening_t_fresh": s.opening_t,
                "bought_t_fresh": s.bought_t,
                "fed_t_fresh": s.fed_t,
                "lost_t_fresh": s.lost_t,
                "closing_t_fresh": s.closing_t,
            }
            for s in plan.stocks
        ],
        "drops": [
            {
                "merchant": d.merchant,
                "pack": d.pack,
                "date": d.period.start.isoformat(),
                "loads": d.loads,
                "tonnes_fresh": d.tonnes,
                "charge_gbp": d.charge_gbp,
            }
            for d in plan.drops
        ],
        "now_or_later": [_now(x) for x in order.now_or_later(plan)],
        "one_more": [
            {
                "what": m.what,
                "unit": m.unit,
                "worth_gbp": m.worth_gbp,
                "would_fetch_gbp": m.would_fetch_gbp,
                "note": m.note,
            }
            for m in plan.more
        ],
        "bill_words": winter_words.bill(plan),
        "what_ifs": _what_ifs(done),
        "assumed": [
            {
                "feed": g.offer,
                "nutrient": g.nutrient,
                "value": g.figure.value,
                "mark": g.figure.mark,
                "note": g.figure.note,
            }
            for g in done.ready.gaps
        ],
        "cautions": [caution_json(c) for c in done.cautions],
        "tables": plan.tables_digest,
        "solver": plan.solver,
    }
    return dict(plain(out))


def _fed(f: Fed) -> dict[str, Any]:
    return {
        "batch": f.batch.name,
        "period": f.period.index,
        "head": f.batch.head,
        "weight_kg": f.batch.weight_kg,
        "gain_g_per_day": f.assessment.gain_g_per_day,
        "target_gain_g_per_day": f.batch.gain_g_per_day,
        "kg_fresh_offered_per_head_day": dict(f.kg_offered),
        "kg_dm_per_head_day": dict(f.kg_dm),
    }


def _what_ifs(done: Wintered) -> list[dict[str, Any]]:
    return [
        {
            "what": x.change.words,
            "line": x.line,
            "notes": list(x.notes),
            "is_found": x.plan is not None and x.plan.is_found,
            "bill": None if x.plan is None else _bill(x.plan),
            "bound_gbp": None if x.plan is None else x.plan.bound_gbp,
        }
        for x in done.what_ifs
    ]


# ---------------------------------------------------------------- cards, a weighing, quotes


def cards_json(done: Wintered, cards: Sequence[Card]) -> dict[str, Any]:
    """`ration card` as a dictionary."""
    farm = done.ready.farm
    return dict(plain({"farm": farm.name, "cards": [card_json(c) for c in cards]}))


def _catch_up(found: CatchUp | None) -> dict[str, Any] | None:
    if found is None:
        return None
    return {
        "by": found.by.isoformat(),
        "gain_g_per_day": dict(found.gain_g_per_day),
        "more_gbp": found.more_gbp,
        "words": list(found.words),
        "plan": None if found.plan is None else _plan_json(found.plan),
    }


def weigh_json(done: Weighed) -> dict[str, Any]:
    """`ration weigh` as a dictionary."""
    t = done.told
    least, most = t.behind_range_kg
    out = {
        "farm": done.base.ready.farm.name,
        "date": t.weighing.when.isoformat(),
        "batch": t.weighing.batch,
        "weighed": t.weighing.number,
        "mean_kg": t.weighing.mean_kg,
        "sd_kg": t.weighing.sd_kg,
        "line_kg": t.line_kg,
        "behind_kg": t.behind_kg,
        "half_width_kg": t.half_width_kg,
        "gut_fill_least_kg": t.gut_fill_kg[0],
        "gut_fill_most_kg": t.gut_fill_kg[1],
        "behind_least_kg": least,
        "behind_most_kg": most,
        "verdict": t.verdict,
        "gain_g_per_day": t.gain_g_per_day,
        "needed_g_per_day": t.needed_g_per_day,
        "later": _day(t.later_end),
        "needed_later_g_per_day": t.needed_later_g_per_day,
        "words": weighing.words(t),
        "weights_kg": dict(done.weights),
        "notes": list(done.notes),
        "base": _plan_json(done.base.plan),
        "on_the_line": None if done.on_line is None else _plan_json(done.on_line),
        "by_turnout": _catch_up(done.by_turnout),
        "by_later": _catch_up(done.later),
        "expired": list(done.expired),
        "cards": [card_json(c) for c in done.cards],
        "standing": cautions.STANDING,
    }
    return dict(plain(out))


def compared_json(found: Compared) -> dict[str, Any]:
    """`ration quotes` with a farm as a dictionary."""
    out = {
        "farm": found.farm.name,
        "quotes_on": found.on.isoformat(),
        "ranking": compare.as_dicts(found.ranked),
        "to_ask": winter_words.to_ask(found.tied, found.sheets),
    }
    return dict(plain(out))


def landed_json(found: LandedOnly) -> dict[str, Any]:
    """`ration quotes` without a farm as a dictionary."""
    out = {
        "quotes_on": _day(found.on),
        "tonnes_fresh": found.tonnes,
        "drops": found.drops,
        "quotes": [_landed(x) for x in found.lines],
        "to_ask": winter_words.to_ask(found.tied, found.sheets),
    }
    return dict(plain(out))


def _landed(x: LandedLine) -> dict[str, Any]:
    at, u, q = x.landed, x.unit_costs, x.supply.quote
    return {
        "merchant": q.merchant,
        "feed": x.feed,
        "pack": q.pack,
        "pack_kg": q.pack_kg,
        "tonnes_fresh": x.tonnes,
        "drops": x.drops,
        "price_gbp_per_t_fresh": at.price_gbp_per_t_fresh if at else None,
        "landed_gbp_per_t_fresh": at.gbp_per_t_fresh if at else None,
        "cost_gbp": at.cost_gbp if at else None,
        "landed_gbp_per_t_dm": u.gbp_per_t_dm if u else None,
        "landed_p_per_mj": u.p_per_mj if u else None,
        "landed_gbp_per_kg_cp": u.gbp_per_kg_cp if u else None,
        "landed_gbp_per_kg_mp": u.gbp_per_kg_mp if u else None,
        "conditions": x.conditions,
        "refused": x.refused,
    }

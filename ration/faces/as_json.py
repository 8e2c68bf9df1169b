"""Answers as JSON-ready dictionaries; no arithmetic."""

from __future__ import annotations

import json
import math
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from ration import cautions, explain
from ration.assess import Assessment
from ration.faces import changes
from ration.lines import FeedLine, NutrientLine
from ration.mix import Ration

if TYPE_CHECKING:
    from ration.cautions import Caution
    from ration.jobs import Assessed, Mixed, MixedByEach
    from ration.needs import Beside, Needs


def plain(value: Any) -> Any:
    """A value as JSON can carry it: infinite and not-a-number become null."""
    if isinstance(value, float):
        return value if math.isfinite(value) else None
    if isinstance(value, dict):
        return {k: plain(v) for k, v in value.items()}
    if isinstance(value, (list, tuple)):
        return [plain(v) for v in value]
    return value


def text(value: Any) -> str:
    """A dictionary as the JSON text that every face gives."""
    return json.dumps(value, indent=1, ensure_ascii=False, allow_nan=False)


def needs_json(needs: Needs) -> dict[str, Any]:
    """`ration needs` as a dictionary."""
    figures = [dict(vars(f)) for f in needs.figures]
    appetites = [p._asdict() for p in needs.appetites]
    return dict(
        plain(
            {**vars(needs), "figures": figures, "appetites": appetites, "notes": list(needs.notes)}
        )
    )


def beside_json(told: Beside) -> dict[str, Any]:
    """`ration needs --standard all` as a dictionary."""
    return dict(
        plain(
            {
                "needs": {name: needs_json(n) for name, n in told.needs.items()},
                "refused": dict(told.refused),
                "differences": [
                    {**vars(d), "parts": dict(d.parts), "over_share": d.over_share}
                    for d in told.differences
                ],
            }
        )
    )


def mix_by_each_json(done: MixedByEach) -> dict[str, Any]:
    """`ration mix --standard all` as a dictionary."""
    return {
        "farm": done.farm.name,
        "by": {name: mix_json(mixed) for name, mixed in done.by.items()},
        "refused": {name: [str(p) for p in e.problems] for name, e in done.refused.items()},
        "judged": [
            plain({"batch": b, "made_by": maker, "judged_by": judge, "gain_g_per_day": gain})
            for (b, maker, judge), gain in done.judged.items()
        ],
    }


def caution_json(caution: Caution) -> dict[str, Any]:
    """One caution as a dictionary."""
    return {
        "id": caution.id,
        "level": caution.level,
        "title": caution.title,
        "words": caution.words,
        "source": caution.source,
        "mark": caution.mark,
    }


def _feed_json(line: FeedLine) -> dict[str, Any]:
    return {
        "id": line.id,
        "name": line.name,
        "kg_dm_per_head_day": line.kg_dm_per_head_day,
        "kg_fresh_per_head_day": line.kg_fresh_per_head_day,
        "kg_fresh_offered_per_head_day": line.kg_fresh_offered_per_head_day,
        "cost_gbp_per_head_day": line.cost_gbp_per_head_day,
        "worth_gbp_per_t": line.worth_gbp_per_t_fresh,
        "worth_words": explain.worth_words(line),
        "price_gbp_per_t": line.price_gbp_per_t_fresh,
        "same_mix_from_gbp_per_t": line.low_gbp_per_t_fresh,
        "same_mix_to_gbp_per_t": line.high_gbp_per_t_fresh,
        "is_home": line.is_home,
        "t_fresh_for_winter": line.t_fresh_for_winter,
        "is_at_stock_limit": line.is_at_stock_limit,
    }


def _nutrient_json(line: NutrientLine) -> dict[str, Any]:
    return {
        "id": line.id,
        "name": line.name,
        "unit": line.unit,
        "supply": line.supply,
        "need": line.need,
        "limit": line.limit,
        "binding": line.binding,
        "cost_of_one_more_gbp": line.cost_of_one_more_gbp,
        "origin": line.origin,
    }


def ration_json(ration: Ration, found: Sequence[Caution]) -> dict[str, Any]:
    """One batch of `ration mix` as a dictionary."""
    a = ration.assessment
    out: dict[str, Any] = {
        "name": ration.batch.name,
        "head": ration.batch.head,
        "weight_kg": ration.batch.weight_kg,
        "target_gain_g_per_day": ration.batch.gain_g_per_day,
        "status": ration.status,
        "days": ration.days,
    }
    if a is None:
        told = ration.conflict
        out["words"] = explain.in_a_few_sentences(ration)
        out["conflict"] = {
            "members": list(told.members) if told else [],
            "cures": [
                {
                    "row": c.row,
                    "now": c.now,
                    "least_change": c.least_change,
                    "words": explain.cure_words(c, ration),
                }
                for c in (told.cures if told else ())
            ],
        }
        out["cautions"] = [caution_json(c) for c in found]
        return dict(plain(out))
    out |= {
        "cost_gbp_per_head_day": ration.cost_gbp_per_head_day,
        "cost_gbp_for_winter": ration.cost_gbp_for_winter,
        "proved_gap": ration.proved_gap_share,
        "q": a.q,
        "md_mj_per_kg_dm": a.md_mj_per_kg_dm,
        "feeding_level": a.feeding_level,
        "feeds": [_feed_json(f) for f in ration.feeds],
        "nutrients": [_nutrient_json(n) for n in ration.nutrients],
        "gain_g_per_day": a.gain_g_per_day,
        "gain_energy_g_per_day": a.gain_energy_g_per_day,
        "gain_protein_g_per_day": a.gain_protein_g_per_day,
        "gain_without_margin_g_per_day": a.gain_without_margin_g_per_day,
        "limited_by": a.limited_by,
        "ca_to_p": a.ca_to_p,
        "words": explain.in_a_few_sentences(ration),
        "assumed": [
            {
                "feed": g.offer,
                "nutrient": g.nutrient,
                "value": g.figure.value,
                "mark": g.figure.mark,
                "note": g.figure.note,
            }
            for g in ration.gaps
        ],
        "cautions": [caution_json(c) for c in found],
        "solver": ration.solver,
    }
    return dict(plain(out))


def mix_json(done: Mixed) -> dict[str, Any]:
    """`ration mix` as a dictionary."""
    result, farm = done.result, done.result.farm
    out: dict[str, Any] = {
        "farm": farm.name,
        "from": farm.start.isoformat(),
        "to": farm.end.isoformat(),
        "days": farm.days,
        "standard": farm.standard,
        "margin": farm.margin,
        "maintenance": farm.maintenance,
        "tables": result.tables_digest,
        "standing": cautions.STANDING,
        "batches": [ration_json(r, done.cautions_of.get(r.batch.name, ())) for r in result.rations],
    }
    if done.before is not None:
        out["changed_feeds"] = changes.what_changed_in_feeds(done.before, result)
        out["changes"] = [
            {
                "name": new.batch.name,
                "cost_before_gbp_per_head_day": plain(old.cost_gbp_per_head_day),
                "cost_after_gbp_per_head_day": plain(new.cost_gbp_per_head_day),
                "words": changes.what_changed(old, new),
            }
            for old, new in zip(done.before.rations, result.rations, strict=True)
        ]
    return out


def assess_json(done: Assessed) -> dict[str, Any]:
    """`ration assess` as a dictionary."""
    return {
        "farm": done.farm.name,
        "standing": cautions.STANDING,
        "batches": [assessment_json(a, done.cautions_of[a.batch.name]) for a in done.told],
    }


def assessment_json(a: Assessment, found: Sequence[Caution]) -> dict[str, Any]:
    """One batch of `ration assess` as a dictionary."""
    return dict(
        plain(
            {
                "name": a.batch.name,
                "head": a.batch.head,
                "gain_energy_g_per_day": a.gain_energy_g_per_day,
                "gain_protein_g_per_day": a.gain_protein_g_per_day,
                "gain_g_per_day": a.gain_g_per_day,
                "gain_without_margin_g_per_day": a.gain_without_margin_g_per_day,
                "limited_by": a.limited_by,
                "is_part_ration": a.is_part_ration,
                "maintenance_share": a.maintenance_share,
                "balances": [
                    {
                        "name": b.name,
                        "unit": b.unit,
                        "supply": b.supply,
                        "need": b.need,
                        "balance": b.balance,
                        "unknown_for": list(b.unknown),
                    }
                    for b in a.balances
                ]
                + [
                    {
                        "name": b.name,
                        "unit": b.unit,
                        "supply": b.supply,
                        "need": None,
                        "balance": None,
                        "unknown_for": list(b.unknown),
                    }
                    for b in a.watched.values()
                ],
                "ca_to_p": a.ca_to_p,
                "q": a.q,
                "feeding_level": a.feeding_level,
                "dm_kg_per_day": a.dm_kg_per_day,
                "margin": a.margin,
                "cost_gbp_per_head_day": a.cost_gbp_per_head_day,
                "feeds": [
                    {
                        "id": p.id,
                        "kg_dm_per_head_day": p.kg_dm_per_head_day,
                        "kg_fresh_per_head_day": p.kg_fresh_per_head_day,
                        "kg_fresh_offered_per_head_day": p.kg_fresh_offered_per_head_day,
                        "cost_gbp_per_head_day": p.cost_gbp_per_head_day,
                    }
                    for p in a.portions
                ],
                "notes": list(a.notes),
                "cautions": [caution_json(c) for c in found],
            }
        )
    )

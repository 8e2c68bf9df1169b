"""Minerals and vitamins as JSON-ready dictionaries; no arithmetic."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from ration import cautions
from ration.faces import as_json
from ration.faces import minerals_words as words
from ration.minerals import Beside, MineralLine, Supplement

if TYPE_CHECKING:
    from ration.jobs.minerals import BatchMinerals, FarmMinerals


def _beside_json(beside: Beside) -> dict[str, Any]:
    level = beside.level
    return {
        "what": level.what,
        "edition": level.edition,
        "least_per_kg_dm": beside.least,
        "most_per_kg_dm": beside.most,
        "printed_least": level.least,
        "printed_most": level.most,
        "unit": level.unit,
        "basis": level.basis,
        "applies": "yes" if beside.is_sure else "not known",
        "source": level.source,
        "mark": level.mark,
        "note": level.note,
    }


def _line_json(line: MineralLine) -> dict[str, Any]:
    return {
        "nutrient": line.nutrient,
        "name": line.name,
        "unit": line.unit,
        "per_kg_dm": line.per_kg_dm,
        "per_head_day": line.per_head_day,
        "is_at_least": bool(line.unknown),
        "unknown_for": list(line.unknown),
        "by_feed": [
            {"feed": feed, "per_head_day": brought, "origin": origin}
            for feed, brought, origin in line.by_feed
        ],
        "needs": [_beside_json(n) for n in line.needs],
        "limits": [_beside_json(m) for m in line.limits],
        "cautions": [_beside_json(c) for c in line.cautions],
        "verdict": line.verdict,
        "words": words.verdict_words(line),
    }


def _supplement_json(found: Supplement) -> dict[str, Any]:
    first = found.first
    return {
        "feed": found.feed_id,
        "name": found.name,
        "holds_copper": found.holds_copper,
        "copper_unknown_for": list(found.copper_unknown),
        "covers": [
            {
                "nutrient": c.nutrient,
                "edition": c.beside.level.edition,
                "g_fresh_per_head_day": c.g_fresh_per_day,
            }
            for c in found.covers
        ],
        "does_not_cover": list(found.lacks),
        "first_limit": None
        if first is None
        else {
            "nutrient": first.nutrient,
            "edition": first.beside.level.edition,
            "most_per_kg_dm": first.beside.most,
            "g_fresh_per_head_day": first.g_fresh_per_day,
        },
        "limits_not_checked": list(found.unchecked),
        "words": words.supplement_lines(found),
    }


def _batch_json(found: BatchMinerals) -> dict[str, Any]:
    told = found.account
    out: dict[str, Any] = {
        "name": found.batch.name,
        "head": found.batch.head,
        "status": "no mix" if told is None else "found",
        "cautions": [as_json.caution_json(c) for c in found.cautions],
    }
    if told is None:
        return out
    return out | {
        "stages": list(told.stages),
        "dm_kg_per_head_day": told.dm_kg_per_day,
        "ca_to_p": told.ca_to_p,
        "stores_copper": told.stores_copper,
        "copper_absorbed_share": told.copper_absorbed_share,
        "is_part_ration": told.is_part_ration,
        "minerals_given": [{"name": n, "g_fresh_per_head_day": g} for n, g in told.given],
        "lines": [_line_json(line) for line in told.lines],
        "supplements": [_supplement_json(s) for s in found.supplements],
        "differences": words.differences(told),
        "words": words.three_sentences(told),
    }


def minerals_json(done: FarmMinerals) -> dict[str, Any]:
    """`ration minerals` as a dictionary."""
    return dict(
        as_json.plain(
            {
                "farm": done.farm.name,
                "is_fed_now": done.is_fed,
                "batches": [_batch_json(b) for b in done.batches],
                "tables": done.tables.digest,
                "standing": cautions.STANDING,
            }
        )
    )

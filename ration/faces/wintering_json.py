"""The ways of wintering as a JSON-ready dictionary; no arithmetic.

Every number's key ends in its unit.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from ration.faces.as_json import plain
from ration.faces.wintering_report import BOXES, in_words, method, split_words
from ration.jobs.wintering import with_mix_gbp_per_head
from ration.wintering import risks

if TYPE_CHECKING:
    from ration.jobs.wintering import Compared
    from ration.jobs.wintering_mix import ByMix
    from ration.wintering.compare import Partial
    from ration.wintering.risks import Note
    from ration.wintering.split import Split
    from ration.wintering.switch import Switch


def wintering_json(done: Compared) -> dict[str, Any]:
    """`ration wintering` as a dictionary; every number's key ends in its unit."""
    return dict(
        plain(
            {
                "farm": done.farm.name,
                "head": done.head,
                "basis": f"heads {done.wintering.terms.basis}",
                "words": in_words(done),
                "cheapest": done.budgets[done.best].way,
                "base": done.budgets[done.base].way,
                "ways": [_way_json(done, i) for i in range(len(done.budgets))],
                "most_for_keep": [vars(k) for k in done.keeps],
                "switching_values": [_switch_json(s) for s in done.switches.found],
                "never_change_it": [lever.words for lever in done.switches.steady],
                "how_many_to_send": _split_json(done.split),
                "how_many_to_send_without_cheapest": None
                if done.split_without is None
                else _split_json(done.split_without),
                "partial_budgets": [_partial_json(p) for p in done.partials],
                "feed_by_mix": [_mix_json(done, m) for m in done.mixes],
                "shed": [vars(c) for c in done.checks],
                "welfare": None if done.welfare is None else _note_json(done.welfare),
                "notes": [_note_json(n) for n in done.notes],
                "trials": [_note_json(n) for n in done.trials],
                "method": method(done),
            }
        )
    )


def _way_json(done: Compared, i: int) -> dict[str, Any]:
    budget, way = done.budgets[i], done.wintering.ways[i]
    return {
        "way": budget.way,
        "place": way.place,
        "days": way.days,
        "deaths_share": way.deaths_share,
        "dead_head": risks.dead(budget),
        "places_head": done.places[i][0],
        "places_words": done.places[i][1],
        "gbp_per_head_wintered": budget.gbp_per_head,
        "gbp_per_head_returned": budget.gbp_per_head_returned,
        "gbp_for_flock": budget.gbp_for_flock,
        "lines": [
            {
                "id": line.id,
                "name": line.name,
                "gbp_per_head": line.each_gbp(budget.head),
                "for_the_flock_gbp": line.flock_gbp,
                "for_each_gbp": line.per_head_gbp,
            }
            for line in budget.lines
        ],
    }


def _switch_json(s: Switch) -> dict[str, Any]:
    return {
        "id": s.lever.id,
        "words": s.lever.words,
        "unit": s.lever.unit,
        "now": s.lever.value,
        "passes": s.at,
        "then_cheapest": s.to,
        "is_exact": s.lever.is_straight,
    }


def _split_json(split: Split) -> dict[str, Any]:
    return {
        "words": split_words(split),
        "head": split.head,
        "gbp": split.gbp if split.is_found else None,
        "room_head": split.room,
        "sent": [vars(s) for s in split.sent],
    }


def _partial_json(change: Partial) -> dict[str, Any]:
    out: dict[str, Any] = {"base": change.base, "way": change.way}
    out |= {box: [vars(c) for c in getattr(change, box)] for box, _ in BOXES}
    return {**out, "gain_gbp_per_head": change.gain_gbp_per_head}


def _mix_json(done: Compared, told: ByMix) -> dict[str, Any]:
    return {
        "way": told.way,
        "by_hand_gbp_per_head": told.by_hand_gbp_per_head,
        "by_mix_gbp_per_head": told.gbp_per_head,
        "way_with_mix_gbp_per_head": with_mix_gbp_per_head(done, told),
        "counted": list(told.words),
        "why_not": told.why_not,
        "batches": [
            {
                "batch": r.batch.name,
                "head": r.batch.head,
                "cost_gbp_per_head_day": r.cost_gbp_per_head_day,
                "kg_fresh_offered_per_head_day": {
                    f.name: f.kg_fresh_offered_per_head_day for f in r.feeds if f.is_used
                },
            }
            for r in told.rations
        ],
    }


def _note_json(note: Note) -> dict[str, Any]:
    return {**vars(note), "ways": list(note.ways)}

"""Needs by every standard on paper, the rations they make, and what an analysis changed."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from ration import jobs
from ration import needs as standards
from ration.cautions import STANDING
from ration.faces import as_json, needs_report, report
from ration.sheets.ears import Block, Grid, Said, grid, heard, merged, parts
from ration.sheets.html import Foot, Picture, sheet
from ration.sheets.rations import GIVEN, LAST

if TYPE_CHECKING:
    from ration.jobs import Mixed, MixedByEach, Sheets
    from ration.mix import Ration
    from ration.needs import Beside

AMOUNTS = (1, 3, 4, 5)  # put out, as dry matter, for all, cost


@dataclass(frozen=True)
class NeedsBeside:
    """Needs and rations of a farm by every standard, and before and after an analysis.

    Attributes
    ----------
    mixed : Mixed
        By the farm's own standard; with what was before where sheets were laid on.
    by_each : MixedByEach
    needs : mapping of str to Beside
        By name of the batch, on a diet of the quality of its own ration.
    """

    mixed: Mixed
    by_each: MixedByEach
    needs: dict[str, Beside]


def needs_beside(
    path: Path,
    *,
    batches: Sequence[str] = (),
    sheets: Sheets | None = None,
    overlays: Sequence[Path] = (),
) -> NeedsBeside:
    """What the needs sheet of a farm file shows.

    Parameters
    ----------
    path, batches, sheets, overlays
        As in `ration.jobs.mix_file`.

    Raises
    ------
    InputError
        The files cannot be used, or no standard covers these sheep.
    """
    mixed = jobs.mix_file(path, batches=batches, sheets=sheets, overlays=overlays)
    by_each = jobs.mix_by_each(path, batches=batches, sheets=sheets, overlays=overlays)
    return beside_of(mixed, by_each)


def beside_of(mixed: Mixed, by_each: MixedByEach) -> NeedsBeside:
    """The same of rations that are worked."""
    found = {}
    for r in mixed.result.rations:
        if r.assessment is None:
            continue
        farm = mixed.result.farm
        found[r.batch.name] = standards.side_by_side(
            r.assessment.batch,
            r.assessment.md_mj_per_kg_dm,
            margin=farm.own_margin,
            maintenance=farm.maintenance,
            recycled_n_share=farm.recycled_n_share,
        )
    return NeedsBeside(mixed, by_each, found)


def needs_beside_json(done: NeedsBeside) -> dict[str, Any]:
    """The needs sheet as a dictionary."""
    return {
        "mix": as_json.mix_json(done.mixed),
        "by_each": as_json.mix_by_each_json(done.by_each),
        "needs": {name: as_json.beside_json(told) for name, told in done.needs.items()},
    }


def needs_sheet(done: NeedsBeside, at_foot: Foot, pictures: Sequence[Picture] = ()) -> str:
    """Needs by every standard, a batch at a time; the analysis first where there is one.

    Parameters
    ----------
    done : NeedsBeside
    at_foot : Foot
    pictures : sequence of Picture
    """
    farm = done.mixed.result.farm
    by_each = parts(heard(lambda c: needs_report.print_mix_by_each(c, done.by_each)))
    sections: list[tuple[Block, ...]] = [
        (*heard(lambda c: report.print_heading(c, farm)), *_changes(done))
    ]
    # the first part is the heading of all, the last what is common to all
    names = [r.batch.name for r in done.mixed.result.rations]
    told = [_needs(done.needs[n]) if n in done.needs else () for n in names]
    shared = _shared(told)
    for needs, rations in zip(told, by_each[1:-1], strict=True):
        own = [b for b in needs[1:] if b not in shared]
        sections.append((rations[0], *own, *rations[1:]))
    standing = Said(STANDING, "bold")  # it is in the foot of every page
    last = [b for b in (*by_each[0][1:], *by_each[-1]) if b != standing]
    sections.append((*last, *shared))
    return sheet(
        "plain.html",
        f"Needs by each standard, {farm.name}",
        at_foot,
        body="dense",
        kind="Needs by each standard",
        farm=farm.name,
        parts=sections,
        new_page=tuple(range(2 if done.mixed.before is None else 1, len(sections))),
        pictures=pictures,
    )


def _needs(told: Beside) -> tuple[Block, ...]:
    return heard(lambda c: needs_report.print_beside(c, told))


def _shared(told: Sequence[Sequence[Block]]) -> list[Block]:
    """Method, and what is said word for word of several batches; each once, for the last page."""
    out: list[Block] = []
    lines = [b for needs in told for b in needs[1:] if isinstance(b, Said)]
    for one in lines:
        is_common = len(told) > 1 and lines.count(one) == len(told)
        if (one.style == "dim" or is_common) and one not in out:
            out.append(one)
    return out


def _changes(done: NeedsBeside) -> tuple[Block, ...]:
    """Before and after the analysis: the words, then the rations side by side."""
    before, after = done.mixed.before, done.mixed.result
    if before is None:
        return ()
    out = list(heard(lambda c: report.print_changes(c, before, after)))
    for old, new in zip(before.rations, after.rations, strict=True):
        if old.is_found and new.is_found:
            out.append(_before_and_after(old, new))
    return tuple(out)


def _before_and_after(old: Ration, new: Ration) -> Grid:
    """One batch's ration before and after, feed by feed."""
    told = [
        (when, grid(heard(lambda c, r=r: report.print_ration(c, r)), GIVEN))  # type: ignore[misc]
        for when, r in (("before", old), ("after", new))
    ]
    heads = [told[1][1].heads[i] for i in AMOUNTS]
    both = merged(told, AMOUNTS, heads, (LAST,))
    return Grid(
        f"{new.batch.name}: before and after the analysis",
        ("Feed", *(f"{head}, {when}" for head in heads for when in both.names)),
        (True, *(False for _ in range(2 * len(heads)))),
        tuple(
            (label, *(cells[k][i] for i in range(len(heads)) for k in (0, 1)))
            for label, cells in both.rows
        ),
    )

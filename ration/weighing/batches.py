"""A weighing against the line of a farm's batches, and the weight of each batch from it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date, timedelta
from types import MappingProxyType

from ration.animals import Batch
from ration.errors import InputError, Problem, UnknownName
from ration.farm import Farm
from ration.plain_text import joined
from ration.weighing.line import Told, against_line
from ration.weighing.records import Weighing
from ration.weighing.rest import target_kg


def against_farm(
    weighing: Weighing,
    farm: Farm,
    *,
    later_end: date | None = None,
    start_hours_off: float | None = None,
) -> Told:
    """A weighing held against the line of its batch, or of all batches by their heads.

    Parameters
    ----------
    weighing : Weighing
    farm : Farm
    later_end : date, optional
        None takes the farm's long winter.
    start_hours_off : float, optional
        Hours off feed at the first weighing. [h]

    Raises
    ------
    UnknownName
        No such batch.
    """
    batches = farm.batches if not weighing.batch else (_batch_of(weighing, farm),)
    head = sum(b.head for b in batches)
    first = sum(b.head * farm.start_kg(b) for b in batches) / head
    last = sum(b.head * target_kg(farm, b) for b in batches) / head
    slip = farm.end + timedelta(days=farm.winter.long_winter_days)
    return against_line(
        weighing, first, farm.start, last, farm.line_end, later_end or slip, start_hours_off
    )


def _batch_of(weighing: Weighing, farm: Farm) -> Batch:
    for batch in farm.batches:
        if batch.name == weighing.batch:
            return batch
    names = ", ".join(b.name for b in farm.batches)
    raise UnknownName(
        Problem("", f'"{weighing.batch}" is not a batch of this farm', f"batches: {names}")
    )


def batch_weights(
    weighings: Sequence[Weighing], farm: Farm
) -> tuple[Mapping[str, float], tuple[str, ...]]:
    """The weight of each batch to go on from, and where it comes from.

    A batch weighed by itself has its own mean. Where a sample of all was weighed, the others are
    put as far from their own lines as the sample is from the line of all. The rest are taken to
    be on their lines. Means are as weighed, nothing added for gut fill.

    Parameters
    ----------
    weighings : sequence of Weighing
        Of one day, each batch once.
    farm : Farm

    Returns
    -------
    mapping of str to float, tuple of str
        Weight by batch [kg], and one sentence for each way it was come by.

    Raises
    ------
    InputError
        No weighing, several days, a batch twice or not of this farm.
    """
    names = [w.batch or "all" for w in weighings]
    days = {w.when for w in weighings}
    twice = sorted({n for n in names if names.count(n) > 1})
    faults = [Problem("", f"{n} was weighed twice", "one weighing a batch") for n in twice]
    if len(days) != 1:
        read = "no weighing" if not days else f"weighings of {len(days)} days"
        faults.append(Problem("", read, "weights of one day are wanted"))
    if faults:
        raise InputError(*faults)
    own = {_batch_of(w, farm).name: w.mean_kg for w in weighings if w.batch}
    sample = next((w for w in weighings if not w.batch), None)
    (when,) = days
    lines = {b.name: farm.line_kg(b, when) for b in farm.batches}
    behind, notes = 0.0, []
    rest = [b.name for b in farm.batches if b.name not in own]
    if sample is not None:
        head = sum(b.head for b in farm.batches)
        behind = sum(b.head * lines[b.name] for b in farm.batches) / head - sample.mean_kg
        way = "behind" if behind > 0 else "ahead of"
        if rest:
            notes.append(
                f"A sample of all was weighed, so {joined(rest)} are each taken to be "
                f"{abs(behind):.2f} kg {way} their own line; weigh each batch to know better."
            )
    elif rest:
        notes.append(f"Not weighed, so taken to be on the line: {joined(rest)}.")
    weights = {b.name: own.get(b.name, lines[b.name] - behind) for b in farm.batches}
    return MappingProxyType(weights), tuple(notes)

"""The limits a mix must keep besides its needs: the farm's own, or the shipped defaults.

Defaults are common practice unless their row in `feedtables/limits.csv` names a source; each can
be changed in the farm file, and each remembers where it came from.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from ration.animals import Batch
from ration.errors import InputError, Problem
from ration.feeds import Feed

if TYPE_CHECKING:
    from ration.farm import Limits, Offer
    from ration.tables import DefaultLimit

YOURS = "you"


@dataclass(frozen=True)
class Bounds:
    """Limits of one batch as numbers; None where there is none.

    Attributes
    ----------
    values : mapping
        Limit id to number, ids as in `feedtables/limits.csv`.
    family_caps : tuple
        (words, offer ids, share of DM or None, kg fresh or None) for feeds or families of feeds.
    origin : mapping
        Limit id to where it came from: "you", or "common practice" or a source key.
    """

    values: Mapping[str, float | None]
    family_caps: tuple[tuple[str, tuple[str, ...], float | None, float | None], ...]
    origin: Mapping[str, str]

    def __getitem__(self, name: str) -> float | None:
        return self.values.get(name)


def applies(when: str, batch: Batch) -> bool:
    """Whether a default's condition holds for a batch."""
    match when:
        case "":
            return True
        case "female":
            return batch.sex == "female"
        case "male":
            return batch.sex != "female"
    number = float(next(word for word in when.split() if word[0].isdigit()))
    return batch.weight_kg < number if when.startswith("under") else batch.weight_kg >= number


def matches(match: str, feed: Feed) -> bool:
    """Whether a default for a feed, a family of feeds or a group covers a feed."""
    return feed.id == match or feed.group == match or feed.id.startswith(match + "-")


def resolve(
    batch: Batch, limits: Limits, offers: Sequence[Offer], defaults: Sequence[DefaultLimit]
) -> Bounds:
    """The limits of one batch: the farm's where it set them, the defaults elsewhere.

    Raises
    ------
    InputError
        Two limits cross.
    """
    values: dict[str, float | None] = {}
    origin: dict[str, str] = {}
    caps: list[tuple[str, tuple[str, ...], float | None, float | None]] = []
    for row in defaults:
        if not applies(row.when, batch):
            continue
        if row.match:
            hit = tuple(o.id for o in offers if matches(row.match, o.feed))
            own = {
                o.id
                for o in offers
                if o.most_share_of_dm is not None or o.most_kg_fresh_per_head_day is not None
            }
            hit = tuple(i for i in hit if i not in own)
            if hit:
                is_share = row.limit.startswith("share")
                caps.append(
                    (
                        row.match,
                        hit,
                        row.value if is_share else None,
                        None if is_share else row.value,
                    )
                )
            continue
        values[row.limit] = row.value
        origin[row.limit] = row.source or "common practice"
    over = values.pop("ceiling_gain_over_target", None) or 0.0
    least = values.pop("ceiling_gain_least", None) or 0.0
    origin.pop("ceiling_gain_over_target", None), origin.pop("ceiling_gain_least", None)
    values["ceiling_gain_g_per_day"] = max(least, batch.gain_g_per_day + over)
    origin["ceiling_gain_g_per_day"] = "common practice"
    for name, value in vars(limits).items():
        if value is not None:
            values[name] = value
            origin[name] = YOURS
    for end in ("least", "most"):
        share = values.pop(f"intake_share_of_weight_{end}", None)
        own_kg = getattr(limits, f"intake_kg_dm_{end}", None)
        if own_kg is None and share is not None:
            values[f"intake_kg_dm_{end}"] = share * batch.weight_kg
            origin[f"intake_kg_dm_{end}"] = origin.get(f"intake_share_of_weight_{end}", "")
    _refuse_crossed(batch, values)
    return Bounds(values, tuple(caps), origin)


def _refuse_crossed(batch: Batch, values: Mapping[str, float | None]) -> None:
    faults = []
    for stem, words in (("intake_kg_dm", "dry matter a day"), ("ca_to_p", "Ca:P")):
        lo, hi = values.get(f"{stem}_least"), values.get(f"{stem}_most")
        if lo is not None and hi is not None and lo > hi:
            faults.append(
                Problem(
                    batch.name,
                    f"{words}: least {lo:g} is over most {hi:g}",
                    "the least must be under the most",
                    "Change one of them under limits",
                )
            )
    ceiling = values.get("ceiling_gain_g_per_day")
    if ceiling is not None and ceiling < batch.gain_g_per_day:
        faults.append(
            Problem(
                batch.name,
                f"ceiling gain {ceiling:g} g/day is under the gain asked for, "
                f"{batch.gain_g_per_day:g}",
                "the ceiling must be at or over the gain",
                "Raise the ceiling or ask for less",
            )
        )
    if faults:
        raise InputError(*faults)

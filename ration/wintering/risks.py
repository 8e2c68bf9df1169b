"""What the money does not show: risk notes, raised by what the ways say, and what trials found.

Each note carries its source key and mark. They are words beside the table, never money in it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from ration.plain_text import sentence
from ration.wintering.budget import Budget
from ration.wintering.records import Terms, Way, Wintering

PRACTICE = "practice"


@dataclass(frozen=True)
class Note:
    """One thing to weigh that is not money.

    Attributes
    ----------
    id, words : str
    source : str
        Key of its source; "" for none.
    mark : str
        print, restated, derived, memory or practice.
    ways : tuple of str
        Ways that raise it.
    """

    id: str
    words: str
    source: str
    mark: str
    ways: tuple[str, ...] = ()


AWAY = (
    ("agreement", "Keep away: write down the price, on whose heads, the dates, and who feeds, "
     "looks at them and answers for their welfare.",
     "W-S51", "print"),
    ("moves", "Each move off and on must be reported, and holdings over 10 miles apart are not one "
     "holding in England; other nations differ.", "W-S32", "print"),
    ("fences", "Walk the host's fences before they go; straying is learned, and comes home with "
     "them.", "", PRACTICE),
    ("scab and fluke", "They can come home with scab or fluke: ask what was on the ground, dose "
     "and keep them apart on return.", "", PRACTICE),
    ("lorries", "Book the lorry for both ways; the day of return is the day everybody wants one.",
     "", PRACTICE),
)  # fmt: skip
RICKETS = (
    "Hill hoggs moved to lush keep get rickets: no vitamin D is made in the skin in Britain from "
    "mid-September to mid-March. Ask your vet about vitamin D before they go."
)
TRIALS = (
    Note("trial, Blackface", "Away-wintered Blackface hoggs died less and came home about 7.3 kg "
         "heavier than hill-wintered ones; by 5 to 6 years the difference had gone, and it did not "
         "repay the cost of away.", "P-S121", "print"),
    Note("trial, Cheviot", "Cheviot hoggs fed better in their first winter did not rear more in "
         "their lives; on a hard hill they did worse later.", "P-S120", "print"),
    Note("trial, ADAS", "ADAS, 1996-99: lambing 143 % after away, 133 % after home, 129 % after "
         "housed; the extra lambs did not pay for away.", "P-S125", "restated"),
    Note("advice, Scotland", "Scottish advisers in 2015 found home and away cost much the same, "
         "and liked away for the grass it saves at home.", "P-S126", "restated"),
    Note("trial, lowland", "Lowland replacements in Ireland that kept gaining over the winter were "
         "barren less often and weaned heavier lambs.", "P-S108", "restated"),
)  # fmt: skip
DISAGREE = "Sources disagree, hill against lowland and one farm against another: no rule holds here"


def notes(
    wintering: Wintering, found: Sequence[Budget], *, winter_days: int, end: date | None
) -> tuple[Note, ...]:
    """The risk notes that these ways raise.

    Parameters
    ----------
    wintering : Wintering
    found : sequence of Budget
        Of each way.
    winter_days : int
        Of the whole winter.
    end : date or None
        Its last day.
    """
    out: list[Note] = []
    away = [w for w in wintering.ways if w.place == "away"]
    names = tuple(w.name for w in away)
    if away:
        out += [Note(i, words, source, mark, names) for i, words, source, mark in AWAY]
        no_vitamin = tuple(w.name for w in away if w.is_doses_with_vitamin_d is not True)
        if no_vitamin:
            out.append(Note("rickets", RICKETS, "W-S9", "print", no_vitamin))
        out += _about_keep(away, end)
    out += [note for way in wintering.ways for note in _about_way(way, winter_days)]
    out += _about_prices(wintering.terms, wintering.ways)
    return tuple(out)


def _about_keep(away: Sequence[Way], end: date | None) -> list[Note]:
    out = []
    names = tuple(w.name for w in away)
    if any(w.keep and w.keep.paid_on == "sent" for w in away):
        words = (
            "You pay keep on heads sent, the dead ones too; one district pays on the number that "
            "come home: ask."
        )
        out.append(Note("paid on", words, "W-S29", "print", names))
    if end is not None and (end.month, end.day) > (2, 15) and end.month < 7:
        words = "Many hosts want the grass back by mid-February: ask for the last day in writing."
        out.append(Note("back early", words, "P-S124", "print", names))
    words = (
        "No open series of keep prices was found. Seen: 70 p a head a week and £4 haulage "
        "(Scotland, undated, about 2013-15); ask round for this year's."
    )
    out.append(Note("keep seen", words, "P-S124", "print", names))
    return out


def _about_way(way: Way, winter_days: int) -> list[Note]:
    out, name = [], sentence(way.name)
    if way.days < winter_days:
        words = (
            f"{name} covers {way.days} of the winter's {winter_days} days; what the other "
            f"{winter_days - way.days} cost is not in its figures."
        )
        out.append(Note("short", words, "", "derived", (way.name,)))
    if way.place == "in-bye" and way.land is None:
        words = (
            f"{name} counts no grass lost: winter grazing cut spring grass by 38 % in April, "
            f"8 % in May and 5 % in June in one trial."
        )
        out.append(Note("grass", words, "W-S16", "print", (way.name,)))
    elif way.land is not None:
        words = (
            f"{name} counts {way.land.lost_t_dm_per_ha:g} t DM a ha of grass lost; grazing in "
            f"December cut first-cut silage by 0.8 to 1.0 t DM a ha in one trial."
        )
        out.append(Note("grass", words, "W-S17", "print", (way.name,)))
    if not way.deaths_share:
        words = f"{name} counts no deaths; no way of wintering has none."
        out.append(Note("no deaths", words, "", PRACTICE, (way.name,)))
    return out


def _about_prices(terms: Terms, ways: Sequence[Way]) -> list[Note]:
    if not any(w.wool_less_kg for w in ways):
        return []
    names = tuple(w.name for w in ways if w.wool_less_kg)
    words = (
        f"Wool is put at {100 * terms.wool_gbp_per_kg:.0f} p a kg; a guide of 2024 gave hill "
        f"grades 5 to 33 p. It is pennies either way."
    )
    return [Note("wool", words, "W-S50", "print", names)]


def dead(budget: Budget) -> int:
    """How many die on this way, to the nearest sheep. [head]"""
    return round(budget.head * budget.deaths_share)


def welfare(found: Sequence[Budget], best: Budget) -> Note | None:
    """What to say beside a cheapest way that loses more sheep than another; None if it does not."""
    kindest = min(found, key=lambda b: b.deaths_share)
    if dead(best) <= dead(kindest):
        return None
    words = (
        f"{sentence(best.way)} costs least but loses {dead(best)} of {best.head}; {kindest.way} "
        f"would lose {dead(kindest)}. Deaths are sheep, not only money: where that many are "
        f"expected to die, feed or shelter them, or take another way. The law wants a wholesome "
        f"diet in sufficient quantity for each of them, every day."
    )
    return Note("welfare", words, "W-S69", "print", (best.way,))

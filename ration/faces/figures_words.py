"""Where figures come from, and what it costs if one is out: sentences and rows of tables."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from ration.explain import FROM_WORDS, pence
from ration.plain_text import joined, sentence

if TYPE_CHECKING:
    from ration.feeds import Feed, Figure
    from ration.jobs.figures import Behind, IfOut, OneOut

# One word for a narrow table; what it means is FROM_WORDS.
SHORT = {
    "lab": "laboratory",
    "label": "label",
    "user": "yours",
    "print": "book",
    "restated": "restated",
    "derived": "derived",
    "memory": "memory",
    "practice": "practice",
    "guess": "guess",
}
KINDS = {
    "byproduct": "by-products",
    "npn": "urea and the like",
    "green": "green feed",
    "root": "roots",
}
GUESSES = ("memory", "practice", "guess")  # nobody can show where these were read
NOT_FELT_GBP = 5e-5  # under a hundredth of a penny a head a day
IF_OUT_HEADS = ("Feed and figure", "now", "where it comes from", "if lower", "if higher")


def value_words(value: float, decimals: int | None = None) -> str:
    """A figure without its unit: as it stands, or to one more decimal than its kind is told in."""
    return f"{value:.6g}" if decimals is None else f"{round(value, decimals + 1):.9g}"


def out_words(out_share: float) -> str:
    """How far a figure is moved."""
    return f"{out_share * 100:g}\u00a0%"


def where_from(figure: Figure) -> str:
    """Where a figure comes from, its spread and its note."""
    words = FROM_WORDS.get(figure.mark, figure.mark)
    parts = [f"{words} [{figure.source}]" if figure.source else words]
    if figure.spread is not None:
        parts.append(f"give or take {figure.spread:.2g}")
    if figure.note:
        parts.append(figure.note)
    return "; ".join(parts)


def rests_on(batch: str, figures: Sequence[Behind]) -> list[str]:
    """How many figures a ration rests on and where they come from."""
    if not figures:
        return []
    marks = [each.figure.mark for each in figures]
    told = [f"{marks.count(m)} {words}" for m, words in FROM_WORDS.items() if m in marks]
    out = [f"The ration of {batch} rests on {len(figures)} figures: {joined(told)}."]
    assumed = sum(each.is_assumed for each in figures)
    if assumed:
        were = "was not on file and is" if assumed == 1 else "were not on file and are"
        out.append(f"{assumed} of them {were} assumed because you allowed it.")
    return out


def guesses(feed: Feed, names: Sequence[tuple[str, str]]) -> str:
    """Which of a feed's figures nobody can show the source of.

    Parameters
    ----------
    feed : Feed
    names : sequence of (str, str)
        Nutrient id and its name, in the order wanted.
    """
    found = [word for n, word in names if n in feed.figures and feed.figures[n].mark in GUESSES]
    if not found:
        return "None of its figures is a guess or from memory."
    return f"Guessed, common practice or from memory: {joined(found)}."


def moves_most(told: IfOut) -> list[str]:
    """The figure not measured here that moves the cost most, and the same among the guesses."""
    now = told.now_gbp_per_head_day
    if now is None:
        return ["There is no ration to begin with, so no figure can move its cost."]
    loose = [one for one in told.ones if not one.behind.is_measured and is_felt(one, now)]
    if not loose:
        return ["No figure that was not measured here moves the cost."]
    percent = out_words(told.out_share)

    def what(one: OneOut) -> str:
        return (
            f"{one.behind.words} of {one.behind.feed} moves the cost most: {percent} lower, "
            f"{_moved(one.low_gbp_per_head_day, now)}; {percent} higher, "
            f"{_moved(one.high_gbp_per_head_day, now)}."
        )

    first = loose[0]
    guessed = next((one for one in loose if _is_guess(one.behind)), None)
    out = [
        f"Of the figures not measured here, {what(first)} Have that one measured or looked up "
        "first."
    ]
    if guessed is first:
        return [*out, "It is itself a guess or from memory."]
    if guessed is not None:
        out.append(f"Of those that are guesses or from memory, {what(guessed)}")
    return out


def _is_guess(behind: Behind) -> bool:
    return behind.is_assumed or behind.figure.mark in GUESSES


def is_felt(one: OneOut, now: float) -> bool:
    """Whether a figure moves the cost by as much as is shown; `now` in GBP a head a day."""
    return one.most_moved(now) >= NOT_FELT_GBP


def _moved(cost: float | None, now: float) -> str:
    if cost is None:
        return "no mix will do"
    move = cost - now
    if abs(move) < NOT_FELT_GBP:
        return "the cost stays"
    return f"{pence(abs(move), 2)} a head a day {'more' if move > 0 else 'less'}"


def if_out_row(one: OneOut, now_gbp_per_head_day: float) -> tuple[str, ...]:
    """One figure: now, where from, what 5 % lower and higher do to the cost a head a day."""
    each = one.behind
    where = FROM_WORDS.get(each.figure.mark, each.figure.mark)
    return (
        f"{sentence(each.feed)}: {each.words}",
        f"{value_words(each.figure.value)} {each.unit}",
        f"{where}, assumed" if each.is_assumed else where,
        _move(one.low_gbp_per_head_day, now_gbp_per_head_day),
        _move(one.high_gbp_per_head_day, now_gbp_per_head_day),
    )


def _move(cost: float | None, now: float) -> str:
    if cost is None:
        return "no mix"
    move = cost - now
    if abs(move) < NOT_FELT_GBP:
        return "0"
    return f"{'+' if move > 0 else '−'}{pence(abs(move), 2)}"

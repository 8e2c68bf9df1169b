"""The ways of wintering as text: plain words, then tables, method last.

No arithmetic beyond rounding for print.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from ration.cautions import STANDING
from ration.faces.report import print_heading, say, table
from ration.jobs.wintering import with_mix_gbp_per_head
from ration.plain_text import joined, sentence
from ration.units import money
from ration.wintering import risks
from ration.wintering.budget import FEED, ORDER

if TYPE_CHECKING:
    from rich.console import Console

    from ration.jobs.wintering import Compared
    from ration.wintering.budget import Budget
    from ration.wintering.compare import Change, Partial
    from ration.wintering.records import Way
    from ration.wintering.risks import Note
    from ration.wintering.shed import Check
    from ration.wintering.split import Split
    from ration.wintering.switch import Lever, Switch

FAR_TIMES = 10.0  # a figure that has to move further than this is told in a line, not the table
LEVEL = {"": "", "warn": "Take care: ", "strong": "TAKE GREAT CARE: "}
BOXES = (
    ("added_returns", "added returns"),
    ("saved_costs", "saved costs"),
    ("added_costs", "added costs"),
    ("lost_returns", "lost returns"),
)


def print_wintering(console: Console, done: Compared) -> None:
    """`ration wintering`: what it costs, where it turns, how many to send, what is not money."""
    print_heading(console, done.farm)
    say(console, *in_words(done))
    _costs(console, done)
    _mixes(console, done)
    _turns(console, done)
    _split(console, done)
    for change in done.partials:
        _partial(console, change)
    if done.checks:
        say(console, f"{sentence(done.shed)}: room, trough and store", style="bold")
        say(console, *(check_words(c) for c in done.checks))
    say(console, "Not money", style="bold")
    say(console, *(note_words(n) for n in done.notes))
    say(console, f"What trials found. {risks.DISAGREE}.", style="bold")
    say(console, *(note_words(n) for n in done.trials))
    say(console, method(done), style="dim")
    say(console, STANDING, style="bold")


# ---------------------------------------------------------------- the first words


def in_words(done: Compared, *, has_table: bool = True) -> list[str]:
    """What each way costs beside the others, until when the cheapest is so, and the keep."""
    said = [*_away_words(done), _best_words(done)]
    if has_table:
        said.append(_basis_words(done))
    if done.welfare is not None:
        said.append(note_words(done.welfare))
    return [*said, *_keep_words(done)]


def _shown(done: Compared, budget: Budget) -> float:
    """Cost of a head as printed, so that differences agree with the table's pennies."""
    return round(budget.by(done.wintering.terms.basis), 2)


def _away_words(done: Compared) -> list[str]:
    out = []
    for i, way in enumerate(done.wintering.ways):
        if way.keep is None or i == done.best:
            continue
        own = _shown(done, done.budgets[i])
        beside = [
            _beside(own - _shown(done, b), b.way)
            for j, b in enumerate(done.budgets)
            if j not in (i, done.best)
        ]
        line = f"At {keep_words(way)} a week, {way.name} costs {money(own)} a head"
        out.append(f"{line}: {', '.join(beside)}." if beside else f"{line}.")
    return out


def keep_words(way: Way) -> str:
    """The price of keep: "95 p"."""
    return "no keep" if way.keep is None else f"{100 * way.keep.gbp_per_head_week:g} p"


def _beside(more: float, name: str) -> str:
    if abs(more) < 0.005:
        return f"the same as {name}"
    return f"{money(abs(more))} {'more' if more > 0 else 'less'} than {name}"


def _best_words(done: Compared) -> str:
    best = done.budgets[done.best]
    way = done.wintering.ways[done.best]
    line = f"{sentence(best.way)} is cheapest at {money(_shown(done, best))}"
    if way.keep is not None:
        line = f"At {keep_words(way)} a week, {best.way} is cheapest at {money(_shown(done, best))}"
    turn = _turn(done, f"{way.name} > deaths")
    if turn is None:
        others = [b.way for i, b in enumerate(done.budgets) if i != done.best]
        line += f"; its deaths do not bring {joined(others, 'or')} before it"
    else:
        line += f" until its deaths pass {100 * turn.at:.0f} %"
        line += f" (now {value_words(turn.lever, turn.lever.value)})"
    return f"{line}.{_unless_words(done)}"


def _turn(done: Compared, lever_id: str) -> Switch | None:
    """Where the cheapest way changes as a figure rises."""
    return next((s for s in done.switches.found if s.lever.id == lever_id and s.is_up), None)


def _unless_words(done: Compared) -> str:
    """What no trial settles and would turn it: barrenness, and growth being worth something."""
    best = done.budgets[done.best].way
    parts = []
    if (barren := _turn(done, f"{best} > barren")) is not None:
        now = value_words(barren.lever, barren.lever.value)
        parts.append(f"it leaves {100 * barren.at:.0f} % more barren (now {now})")
    if (growth := _turn(done, "growth_gbp_per_kg")) is not None:
        worth = value_words(growth.lever, growth.at)
        parts.append(f"growth by spring is worth over {worth}")
    return f" It stays so unless {joined(parts, 'or')}." if parts else ""


def _basis_words(done: Compared) -> str:
    if done.wintering.terms.basis == "wintered":
        return (
            f"Each figure is for a head that starts the winter, as if all {done.head} went that "
            f"way; the last row of the table but one is for each that comes through alive."
        )
    return (
        f"Each figure is for a head that comes through alive, as if all {done.head} went that way; "
        f"the table's lines are for each that starts the winter."
    )


def _keep_words(done: Compared) -> list[str]:
    out = []
    for away in dict.fromkeys(k.away for k in done.keeps):
        parts = [
            f"{k.p_per_head_week:.1f} p beside {k.home}"
            if k.p_per_head_week > 0
            else f"nothing at all beside {k.home}"
            for k in done.keeps
            if k.away == away
        ]
        out.append(f"The most to pay for keep ({away}), a head a week: {joined(parts)}.")
    return out


def check_words(check: Check) -> str:
    """A check of the shed with where its figures come from."""
    return f"{LEVEL[check.level]}{check.words} ({_from(check.source, check.mark)})"


def note_words(note: Note) -> str:
    """A note with where it comes from."""
    return f"{note.words} ({_from(note.source, note.mark)})"


def _from(source: str, mark: str) -> str:
    if mark == risks.PRACTICE:
        return "common practice, no source"
    return ", ".join(part for part in (source, mark) if part)


# ---------------------------------------------------------------- the tables


def _costs(console: Console, done: Compared) -> None:
    """Lines by ways."""
    found = done.budgets
    names = {line.id: line.name for b in found for line in b.lines}
    rows = [(names[i], *(_pounds(b.gbp(i)) for b in found)) for i in _order(found)]
    rows.append(("together, a head", *(f"{b.gbp_per_head:.2f}" for b in found)))
    rows.append(("a head returned alive", *(f"{b.gbp_per_head_returned:.2f}" for b in found)))
    rows.append((f"all {done.head}", *(f"{b.gbp_for_flock:,.0f}" for b in found)))
    title = "What a head costs, £ (added up unrounded)"
    table(console, title, ("", *(b.way for b in found)), rows)


def _order(found: Sequence[Budget]) -> list[str]:
    """Line ids of all the ways, each once, in the order of a budget."""
    ids = dict.fromkeys(line.id for budget in found for line in budget.lines)
    return sorted(ids, key=lambda i: ORDER.index(FEED if i.startswith(FEED) else i))


def _pounds(gbp: float) -> str:
    return f"{gbp:.2f}" if gbp else ""


def _mixes(console: Console, done: Compared) -> None:
    """Feed by hand beside feed by the mix."""
    if not done.mixes:
        return
    rows = []
    for told in done.mixes:
        total = with_mix_gbp_per_head(done, told)
        rows.append(
            (
                told.way,
                _pounds(told.by_hand_gbp_per_head or 0.0),
                "" if told.gbp_per_head is None else f"{told.gbp_per_head:.2f}",
                "" if total is None else f"{total:.2f}",
                told.why_not or "; ".join(told.words),
            )
        )
    table(
        console,
        "Feed by the cheapest safe mix of your feeds, £ a head",
        ("", "by hand", "by the mix", "way with mix", "what is counted"),
        rows,
        words=(0, 4),
    )
    say(console, *mix_words(done))


def mix_words(done: Compared) -> list[str]:
    """Whether the mix would change which way is cheapest."""
    by_hand = [w.name for w in done.wintering.ways if not w.is_by_mix]
    costs = {b.way: b.by(done.wintering.terms.basis) for b in done.budgets}
    worked = {
        m.way: total
        for m in done.mixes
        if m.way in by_hand and (total := with_mix_gbp_per_head(done, m)) is not None
    }
    if not worked:
        return []
    costs |= worked
    first = min(costs, key=lambda name: costs[name])
    best = done.budgets[done.best].way
    if first == best:
        return [f"With the mix in place of amounts by hand, {best} is still cheapest."]
    return [f"With the mix in place of amounts by hand, {first} would be cheapest, not {best}."]


def _turns(console: Console, done: Compared) -> None:
    """Where the cheapest way changes."""
    near = [s for s in done.switches.found if not _is_far(s)]
    far = [s for s in done.switches.found if _is_far(s)]
    best = done.switches.cheapest
    if near:
        table(
            console,
            f"{sentence(best)} stops being cheapest, all else as it is, when",
            ("figure", "now", "passes", "then cheapest"),
            [
                (
                    s.lever.words,
                    value_words(s.lever, s.lever.value),
                    value_words(s.lever, s.at),
                    s.to,
                )
                for s in near
            ],
            words=(0, 3),
        )
    if far:
        parts = [f"{s.lever.words} ({value_words(s.lever, s.at)})" for s in far]
        say(console, f"Only far off, over ten times what it is: {joined(parts)}.")
    if done.switches.steady:
        say(console, f"No value of these alone changes it: {steady_words(done.switches.steady)}.")


def steady_words(levers: Sequence[Lever]) -> str:
    """Figures that never matter, those of one way together."""
    by_way: dict[str, list[str]] = {}
    for lever in levers:
        way, _, name = lever.id.partition(" > ")
        by_way.setdefault(way if name else "", []).append(
            lever.words.removesuffix(f", {way}") if name else lever.words
        )
    shared = by_way.pop("", [])
    groups = [", ".join(shared)] if shared else []
    return "; ".join([*groups, *(f"{way}: {', '.join(names)}" for way, names in by_way.items())])


def _is_far(switch: Switch) -> bool:
    return bool(switch.lever.value) and switch.at > FAR_TIMES * switch.lever.value


def value_words(lever: Lever, value: float) -> str:
    """A figure with its unit, as it is said."""
    match lever.unit:
        case "share":
            return f"{100 * value:.1f} %"
        case "share a year":
            return f"{100 * value:.1f} % a year"
        case "GBP/h":
            return f"{money(value)} an hour"
        case "GBP/head/week":
            return f"{100 * value:.1f} p a week"
        case "GBP/kg":
            return f"{100 * value:.0f} p a kg"
        case "GBP/t":
            return f"{money(value)} /t"
        case "GBP/head":
            return f"{money(value)} each"
        case "GBP":
            return money(value)
        case "kg" | "kg/day":
            return f"{value:.2f} kg"
        case "h/day":
            return f"{value:.2f} h"
        case _:
            return f"{value:.3g} {lever.unit}"


def _split(console: Console, done: Compared) -> None:
    """How many to send each way."""
    say(console, "How many to send", style="bold")
    room = [
        f"{w.name} {'any number' if p is None else p} ({how})"
        for w, (p, how) in zip(done.wintering.ways, done.places, strict=True)
    ]
    say(console, f"Places: {'; '.join(room)}.")
    say(console, sentence(split_words(done.split)))
    if done.split_without is not None:
        best = done.budgets[done.best].way
        say(console, f"With none on {best}: {split_words(done.split_without)}")
    once = [f"{b.way} {money(b.flock_gbp)}" for b in done.budgets if abs(b.flock_gbp) >= 0.005]
    if once:
        say(
            console,
            f"Paid once whatever the number, if any go: {joined(once)}. A shed that stands and is "
            f"paid for whether or not it is used belongs in no way: leave its building line out.",
        )


def split_words(split: Split) -> str:
    """A sharing out in a sentence."""
    if not split.is_found:
        return f"there is room for {split.room} of {split.head}; the rest have no place."
    each = f"{money(split.gbp)} in all, {money(split.gbp / split.head)} a head"
    if len(split.sent) == 1:
        return f"it costs least to put all {split.head} on one way, {split.sent[0].way}: {each}."
    parts = [f"{s.way} {s.head} ({money(s.gbp)})" for s in split.sent]
    return f"it costs least to share them out: {joined(parts)}; {each}."


def _partial(console: Console, change: Partial) -> None:
    """The four boxes of leaving the base."""
    rows = [
        (
            title,
            _items(getattr(change, box)),
            f"{sum(c.gbp_per_head for c in getattr(change, box)):.2f}",
        )
        for box, title in BOXES
    ]
    gain = change.gain_gbp_per_head
    rows.append(("better off by" if gain >= 0 else "worse off by", "", f"{abs(gain):.2f}"))
    title = f"Leaving {change.base} for {change.way}: only what changes, £ a head that starts"
    table(console, title, ("", "what", "£"), rows, words=(0, 1))


def _items(changes: Sequence[Change]) -> str:
    return ", ".join(f"{c.name} {c.gbp_per_head:.2f}" for c in changes) or "none"


def method(done: Compared) -> str:
    """How it was worked, last and small."""
    terms = done.wintering.terms
    parts = [
        "Method: a partial budget of your own figures (layout W-S43); each line is money for each "
        "head plus money for the flock over the heads.",
        "A building costs its annuity and upkeep, less other uses.",
        f"A lamb crop is lost 1.6 years off, at {100 * terms.interest_share_per_year:g} % a year.",
        "Interest on outlay is counted for half the winter."
        if terms.is_interest_counted
        else "No interest on outlay is counted.",
        "A dead hogg is charged her whole winter's outlay and her value"
        + (f", and {100 * terms.sunk_share:g} % of her outlay again." if terms.sunk_share else "."),
        "Turning points are worked exactly, one figure moved at a time; the sharing out tries "
        "every set of ways.",
    ]
    return " ".join(parts)

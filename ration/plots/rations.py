"""Plots of a ration: the worth of each feed against its price, supply against need."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING

from ration import explain
from ration.mix import FarmRations
from ration.plain_text import joined, sentence
from ration.plots import lettering, style
from ration.plots.lettering import LINE
from ration.plots.records import PAGE, Plot, Rows, Size
from ration.units import money

if TYPE_CHECKING:
    from ration.lines import FeedLine, NutrientLine
    from ration.mix import Ration

MOST_SHARE = 2.0


# ---------------------------------------------------------------- worth against price


def worth_against_price(done: FarmRations | Sequence[Ration], *, size: Size = PAGE) -> Plot:
    """The price of each feed beside what it is worth to each batch.

    Parameters
    ----------
    done : FarmRations or sequence of Ration
        Worked with worth.
    size : Size
    """
    every = done.rations if isinstance(done, FarmRations) else done
    rations = [r for r in every if r.is_found]
    title = "What each feed is worth against its price"
    if not rations:
        why = "No batch has a mix, so no feed has a worth."
        return style.nothing("worth", title, why, ("feed", "price"), size=size)
    grazed = {o.id for o in rations[0].offers if o.is_grazed}
    lines = {r.batch.name: {f.id: f for f in r.feeds} for r in rations}
    feeds = sorted(
        (f for f in rations[0].feeds if f.id not in grazed),
        key=lambda f: (not any(lines[b][f.id].is_used for b in lines), f.name.lower()),
    )
    heads = ("feed", "price, a tonne", *lines)
    rows = tuple(
        (
            f.name,
            money(f.price_gbp_per_t_fresh) + (" at home" if f.is_home else ""),
            *(explain.worth_words(lines[b][f.id], short=True) for b in lines),
        )
        for f in feeds
    )
    if not feeds:
        return style.nothing("worth", title, "No feed is on offer.", heads, size=size)
    return _drawn_worth(title, _worth_sentence(feeds, lines), feeds, lines, (heads, rows), size)


def _worth_sentence(feeds: Sequence[FeedLine], lines: dict[str, dict[str, FeedLine]]) -> str:
    used = [f.name for f in feeds if any(lines[b][f.id].is_used for b in lines)]
    said = f"In the mix are {joined(used)}." if used else "No feed is in the mix."
    out = [
        (f.price_gbp_per_t_fresh - best, f, best)
        for f in feeds
        if f.name not in used
        for best in [max((_worth(lines[b][f.id]) or 0.0) for b in lines)]
        if math.isfinite(best) and best > 0
    ]
    if out:
        _, f, best = min(out, key=lambda one: one[0])
        said += (
            f" Nearest to coming in is {f.name}: worth up to {money(best)} a tonne, offered at "
            f"{money(f.price_gbp_per_t_fresh)}."
        )
    return said


def _worth(line: FeedLine) -> float | None:
    """None where it cannot be said; never under nothing. [GBP/t fresh]"""
    worth = line.worth_gbp_per_t_fresh
    return None if worth is None else max(worth, 0.0)


def _drawn_worth(
    title: str,
    said: str,
    feeds: Sequence[FeedLine],
    lines: dict[str, dict[str, FeedLine]],
    table: tuple[tuple[str, ...], Rows],
    size: Size,
) -> Plot:
    side, step = size.text, size.text * LINE
    room = 0.37 * size.width
    names = [lettering.wrap(f.name, side, room - 8) for f in feeds]
    prices = [f.price_gbp_per_t_fresh for f in feeds]
    worths = [w for b in lines.values() for f in feeds if (w := _worth(b[f.id])) is not None]
    top = max([*prices, 1.0])
    most = max([top, *(w for w in worths if w <= MOST_SHARE * top)]) * 1.05
    is_off = any(w > most for w in worths)
    tall = [max(step * len(n), step * 0.72 * len(lines)) + 0.45 * step for n in names]
    longest = size.width - 8 - side * 1.4
    told_of = [lettering.cut(lettering.clean(f"worth to {b}"), side, longest) for b in lines]
    key = [("price", 0), *((words, i) for i, words in enumerate(told_of, 1))]
    key_rows = style.flow([w for w, _ in key], size, side * 1.4)
    told = ["Filled: in the mix. Open: not in it."]
    if is_off:
        told[0] += " Arrow: worth more than the scale."
    notes = [line for t in told for line in lettering.wrap(t, side, size.width - 6, most=3)]
    head = step * (len(key_rows) + 0.5)
    height = head + sum(tall) + step * (3.2 + len(notes))
    with style.sheet(size, height) as drawn:
        down = 0.7 * step
        for row in key_rows:
            for across, at in row:
                looks = (
                    {"marker": "|", "markersize": side, "markeredgewidth": 3.5} if at == 0 else {}
                )
                drawn.mark(across + side * 0.45, down, key[at][1], **looks)
                drawn.words(across + side * 1.2, down, key[at][0])
            down += step
        panel = style.Panel(
            drawn, room, head, size.width - 16, head + sum(tall), (0.0, most), (sum(tall), 0.0)
        )
        panel.x_axis_below([(v, f"{v:g}") for v in style.ticks_of((0.0, most), 5)])
        drawn.words(size.width - 4, panel.bottom + 2.3 * step, "£ a tonne, delivered", anchor="end")
        middle = 0.0
        for f, name, high in zip(feeds, names, tall, strict=True):
            middle += high / 2
            drawn.lines(4, head + middle, name)
            _dumbbell(panel, f, [lines[b][f.id] for b in lines], middle, high)
            middle += high / 2
        drawn.lines(4, height - step * len(notes) / 2, notes)
        return style.plot(drawn, "worth", title, said, table)


def _dumbbell(
    panel: style.Panel, feed: FeedLine, mine: Sequence[FeedLine], middle: float, tall: float
) -> None:
    """A stroke at the price, and one mark a batch joined to it, one under another."""
    price = feed.price_gbp_per_t_fresh
    apart = min(tall * 0.8 / max(len(mine), 1), panel.sheet.size.text)
    first = middle - apart * (len(mine) - 1) / 2
    for i, line in enumerate(mine, 1):
        y = first + (i - 1) * apart
        worth = _worth(line)
        if worth is None:
            continue
        is_off = worth > panel.x[1]
        end = panel.x[1] if is_off else worth
        panel.line([price, end], [y, y], color=style.colour(i), linewidth=1.6)
        looks = {"marker": ">"} if is_off else {}
        panel.points([end], [y], i, is_open=not line.is_used, markersize=7.5, **looks)
    half = apart * len(mine) / 2
    panel.line([price] * 2, [middle - half, middle + half], color=style.colour(0), linewidth=3.5)
    unsaid = {explain.worth_words(line, short=True) for line in mine if _worth(line) is None}
    if len(unsaid) == 1 and all(_worth(line) is None for line in mine):
        panel.sheet.words(panel.at_x(price) + 8, panel.at_y(middle), unsaid.pop())


# ---------------------------------------------------------------- needs against supply


def needs_against_supply(ration: Ration, *, size: Size = PAGE) -> Plot:
    """What a ration brings as a share of what is asked, and of what is allowed.

    Parameters
    ----------
    ration : Ration
    size : Size
    """
    title = f"What the ration brings against what is asked, {ration.batch.name}"
    heads = ("need or limit", "brings", "at least", "at most", "of it, %", "")
    least = [(n, n.need) for n in ration.nutrients if n.need is not None and n.need > 0]
    most = [(n, n.limit) for n in ration.nutrients if _is_limit(n)]
    if not ration.is_found or not least:
        why = f"{sentence(ration.batch.name)}: no mix of these feeds, so nothing to hold up."
        return style.nothing("needs", title, why, heads, size=size)
    rows = tuple(
        (
            f"{n.name}, {n.unit}",
            f"{n.supply:.4g}",
            f"{of:.4g}" if is_need else "",
            "" if is_need else f"{of:.4g}",
            f"{100 * n.supply / of:.0f}",
            "just met" if _is_tight(n, of) else "",
        )
        for is_need, group in ((True, least), (False, most))
        for n, of in group
        if of is not None
    )
    tight = [n.name for n, of in least if of is not None and _is_tight(n, of)]
    said = f"{sentence(ration.batch.name)}: every need is met"
    said += f"; just met {'is' if len(tight) == 1 else 'are'} {joined(tight)}." if tight else "."
    bars = {
        "At least: the line is what is asked": [(n, of) for n, of in least if of],
        "At most: the line is what is allowed": [(n, of) for n, of in most if of],
    }
    return _drawn_needs(title, said, {k: v for k, v in bars.items() if v}, (heads, rows), size)


def _is_limit(line: NutrientLine) -> bool:
    """A limit worth a bar: not one on a feed that is not fed."""
    if line.limit is None or line.limit <= 0:
        return False
    is_silent = line.id.startswith(("most ", "starch"))
    return not (is_silent and line.supply <= 0 and not line.binding)


def _is_tight(line: NutrientLine, of: float) -> bool:
    return line.binding and math.isclose(line.supply, of, rel_tol=1e-4)


def _drawn_needs(
    title: str,
    said: str,
    groups: dict[str, list[tuple[NutrientLine, float]]],
    table: tuple[tuple[str, ...], Rows],
    size: Size,
) -> Plot:
    side, step = size.text, size.text * LINE
    room = 0.36 * size.width
    wide = lettering.width("100 % just met", side)
    names = {
        (k, n.id): lettering.wrap(n.name, side, room - 10) for k, v in groups.items() for n, _ in v
    }
    tall = {k: step * len(lines) + 0.4 * step for k, lines in names.items()}
    height = sum(tall.values()) + step * (1.7 * len(groups) + 0.5)
    with style.sheet(size, height) as drawn:
        down = 0.2 * step
        for index, (group, bars) in enumerate(groups.items()):
            drawn.words(4, down + 0.7 * step, group, is_bold=True)
            down += 1.5 * step
            high = sum(tall[group, n.id] for n, _ in bars)
            right = size.width - wide - 14
            panel = style.Panel(drawn, room, down, right, down + high, (0, MOST_SHARE), (high, 0))
            middle = 0.0
            for n, of in bars:
                mine = tall[group, n.id]
                middle += mine / 2
                drawn.lines(4, down + middle, names[group, n.id])
                _need_bar(panel, n, of, middle, min(step * 0.9, mine * 0.7), index)
                middle += mine / 2
            panel.upright(1.0, linewidth=1.8, linestyle="solid")
            down += high + 0.2 * step
        return style.plot(drawn, "needs", title, said, table)


def _need_bar(
    panel: style.Panel, line: NutrientLine, of: float, middle: float, tall: float, index: int
) -> None:
    """One bar, an arrow where it goes beyond the scale, and its figure behind all bars."""
    share = line.supply / of
    words = f"{100 * share:.0f} %" + (" just met" if _is_tight(line, of) else "")
    end = min(max(share, 0.0), MOST_SHARE)
    panel.bar((0.0, end), (middle - tall / 2, middle + tall / 2), index)
    if share > MOST_SHARE:
        panel.line([end], [middle], marker=">", markersize=8, color=style.colour(index))
    panel.sheet.words(panel.right + 10, panel.at_y(middle), words)

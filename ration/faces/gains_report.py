"""What each gram of gain costs, in words, a table and JSON; no arithmetic beyond rounding."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from ration import cautions, explain
from ration.explain import kilos, pence
from ration.faces.as_json import plain
from ration.faces.report import print_heading, say, table
from ration.gains import NOT_PROVED
from ration.gains.after import (
    FAST_G_PER_DAY,
    MATING_SHARES,
    RICH_G_PER_DAY,
    TOO_FAST,
    TRIALS,
    WINTER_GAIN_G_PER_DAY,
)
from ration.units import in_words_day, money

if TYPE_CHECKING:
    from collections.abc import Sequence

    from rich.console import Console

    from ration.gains.records import AtTupping, Change, FarmGains, GainCurve, Point

NO_PROMISE = (
    "The two disagree, and what came after the winter was not alike. A heavier sheep at turnout is "
    "what the money buys; nothing here promises more lambs from her."
)
SUMMER_WORDS = (
    "0.6 kg a week (86 g a day) is published for lowland replacements in their second summer "
    "[P-S108, restated]; the hill may give less. Change it with --summer, the day with --tupping."
)


def print_gains(console: Console, found: FarmGains) -> None:
    """`ration gains`: words first, the table second, the trials and the method last."""
    print_heading(console, found.farm)
    for drawn in found.curves:
        print_curve(console, drawn)
    for name, why in found.left_out:
        say(console, f"{name} is left out: {why}.")
    console.rule(style="dim")
    if found.curves:
        if told := assumed(found.curves):
            say(console, "What is assumed of the summer", style="bold")
            say(console, *told)
        say(console, "What trials say", style="bold")
        say(console, *trials(found.curves))
        say(console, "Method", style="bold")
        say(console, *method(found))
    say(console, cautions.STANDING, style="bold")


def print_curve(console: Console, drawn: GainCurve) -> None:
    """One batch."""
    console.rule(style="dim")
    b = drawn.batch
    say(
        console,
        f"{b.name}: {explain.sheep(b)}, {drawn.start_kg:.1f} kg at the start, to gain "
        f"{b.gain_g_per_day:.0f} g a day",
        style="bold",
    )
    say(console, *sentences(drawn))
    table(
        console,
        "What each gain costs",
        (
            "Gain,\ng a day",
            "at the\nend, kg",
            "of grown\nweight",
            "trough\nfeed",
            "a head\na day",
            f"all {b.head},\nwinter",
            f"each {drawn.step_g_per_day:g} g\nmore",
            "",
        ),
        [_row(p) for p in drawn.points if p.is_step or p.is_target],
        words=(7,),
        whole=(7,),
    )


def _row(p: Point) -> tuple[str, ...]:
    remark = p.why_not or ("as asked" if p.is_target else "")
    return (
        _grams(p),
        f"{p.end_weight_kg:.1f}",
        f"{p.mature_share:.0%}",
        "" if (kg := p.trough_kg_fresh_per_head_day) is None else kilos(kg),
        "" if p.cost_gbp_per_head_day is None else pence(p.cost_gbp_per_head_day),
        "" if p.cost_gbp_for_winter is None else money(p.cost_gbp_for_winter),
        "" if p.more_gbp_per_head_day is None else pence(p.more_gbp_per_head_day),
        remark,
    )


def _grams(p: Point) -> str:
    """A gain; half grams are shown where the steps are not whole."""
    is_broken = p.is_step and abs(p.gain_g_per_day - round(p.gain_g_per_day)) > 0.05
    return f"{p.gain_g_per_day:.{1 if is_broken else 0}f}"


def sentences(drawn: GainCurve) -> list[str]:
    """What it costs to want more or less, how far one can go, and whether it is enough."""
    t, most = drawn.target, drawn.most_reached_g_per_day
    said = []
    if t.cost_gbp_per_head_day is None or t.cost_gbp_for_winter is None:
        said.append(f"To gain {t.gain_g_per_day:.0f} g a day: {t.why_not}.")
    else:
        said.append(
            f"As asked, {t.gain_g_per_day:.0f} g a day to {t.end_weight_kg:.1f} kg costs "
            f"{pence(t.cost_gbp_per_head_day)} a head a day, {money(t.cost_gbp_for_winter)} for "
            "the winter."
        )
    said += [_change_words(t, c) for c in (drawn.more, drawn.less) if c is not None]
    if (bend := drawn.knee) is not None:
        here, after = bend
        said.append(
            f"From {here.gain_g_per_day:.0f} to {after.gain_g_per_day:.0f} g a day each gram "
            f"becomes dearer: {pence(after.more_gbp_per_head_day or 0)} for "
            f"{drawn.step_g_per_day:g} g, where the step before cost "
            f"{pence(here.more_gbp_per_head_day or 0)}."
        )
    if most is None:
        said.append("No mix of these feeds gives any of the gains asked. See: ration mix.")
    elif any(p.gain_g_per_day > most and p.why_not != NOT_PROVED for p in drawn.points):
        said.append(
            f"The most that was reached is {most:.0f} g a day; why not more: ration mix with that "
            "target."
        )
    if drawn.tupping is not None:
        said += tupping(drawn, drawn.tupping)
    return said + too_much(drawn)


def _change_words(t: Point, c: Change) -> str:
    way = "costs" if c.more_gbp_per_head_day >= 0 else "saves"
    more = " more" if way == "costs" else ""
    return (
        f"To gain {c.to.gain_g_per_day:.0f} g instead of {t.gain_g_per_day:.0f} g a day "
        f"({c.to.end_weight_kg:.1f} kg instead of {t.end_weight_kg:.1f} kg) {way} "
        f"{pence(abs(c.more_gbp_per_head_day))} a head a day{more}, "
        f"{money(abs(c.more_gbp_for_winter))} for the winter: {money(c.gbp_per_kg)} for each kg "
        "of live weight."
    )


def tupping(drawn: GainCurve, at: AtTupping) -> list[str]:
    """Whether the weight at turnout and a summer reach what is wanted at tupping."""
    t, w = drawn.target, at.wanted
    head = (
        f"At {t.end_weight_kg:.1f} kg they are {t.mature_share:.0%} of grown weight "
        f"({drawn.batch.mature_weight_kg:g} kg). At tupping a {w.what} should be {w.share:.0%} or "
        f"more, {at.wanted_kg:.1f} kg [{w.source}, {w.mark}]"
    )
    if at.gain_wanted_g_per_day == 0:
        return [f"{head}: they are already."]
    able = "enough" if at.is_enough else "not enough"
    return [
        f"{head}: that asks {at.gain_wanted_g_per_day:.0f} g a day of the summer. The "
        f"{at.summer_gain_g_per_day:.0f} g assumed makes {at.weight_kg:.1f} kg, {at.share:.0%}: "
        f"{able}."
    ]


def assumed(found: Sequence[GainCurve]) -> list[str]:
    """What the sentences on tupping rest on, once for all batches."""
    at = next((c.tupping for c in found if c.tupping is not None), None)
    if at is None:
        return []
    least, most = WINTER_GAIN_G_PER_DAY
    said = [
        f"Tupping is taken to be on {in_words_day(at.day)}, {at.days} days after the target, and "
        f"the gain till then {at.summer_gain_g_per_day:.0f} g a day, grown weight at most.",
        SUMMER_WORDS,
    ]
    if any(c.tupping is not None and c.batch.under_one_year for c in found):
        said.append(
            "For the first winter 0.30 to 0.35 kg a week is published for replacements not mated, "
            f"{least:.0f} to {most:.0f} g a day (Teagasc, lowland) [P-S108, restated]."
        )
    return said


def too_much(drawn: GainCurve) -> list[str]:
    """A word where the target is more than young breeding sheep need all winter."""
    b = drawn.batch
    if b.sex != "female" or b.gain_g_per_day <= RICH_G_PER_DAY:
        return []
    return [
        f"Take care: over {RICH_G_PER_DAY:g} g a day all winter is more than young breeding sheep "
        "are asked for (common practice). Watch that they do not get fat, and ask your vet. "
        + TOO_FAST
    ]


def trials(found: Sequence[GainCurve]) -> list[str]:
    """The trials, both sides, and which is nearer."""
    said = list(TRIALS.values())
    cases = {c.case for c in found}
    if cases == {"hill"}:
        said.append("By their breed or place yours are nearer to the hill case.")
    elif cases == {"lowland"}:
        said.append("By their breed or place yours are nearer to the lowland case.")
    else:
        said.append(
            "Which is nearer to yours the farm file does not say: it is the keep they go to."
        )
    return [*said, NO_PROMISE]


def method(found: FarmGains) -> list[str]:
    """How the curve was worked."""
    farm = found.farm
    shares = "; ".join(
        f"{m.what} {m.share:.0%} [{m.source or 'common practice'}{_mark(m.mark)}]"
        for m in MATING_SHARES
    )
    return [
        "Each gain has its own least-cost ration, proved like that of ration mix, one ration all "
        "winter. The weight fed for, calcium, phosphorus, the ceiling and the room for dry matter "
        "move with the gain; the batch's share of the home stacks does not.",
        f"Least live weight at tupping as a share of grown weight, as published: {shares}.",
        f"Gains over {FAST_G_PER_DAY:g} g a day are not worked for breeding sheep [P-S122].",
        f"Standard {farm.standard}, maintenance {farm.maintenance:g}; feed tables "
        f"{found.tables_digest}.",
    ]


def _mark(mark: str) -> str:
    return "" if mark == "practice" else f", {mark}"


# ---- JSON


def gains_json(found: FarmGains) -> dict[str, Any]:
    """`ration gains` as a dictionary."""
    return dict(
        plain(
            {
                "farm": found.farm.name,
                "standard": found.farm.standard,
                "tables": found.tables_digest,
                "batches": [_curve_json(c) for c in found.curves],
                "left_out": [{"batch": name, "why": why} for name, why in found.left_out],
                "trials": [{"case": case, "words": words} for case, words in TRIALS.items()],
                "mating_shares": [vars(m) for m in MATING_SHARES],
                "caution": cautions.STANDING,
            }
        )
    )


def _curve_json(c: GainCurve) -> dict[str, Any]:
    return {
        "batch": c.batch.name,
        "head": c.batch.head,
        "mature_weight_kg": c.batch.mature_weight_kg,
        "start_weight_kg": c.start_kg,
        "days": c.days,
        "target_g_per_day": c.batch.gain_g_per_day,
        "step_g_per_day": c.step_g_per_day,
        "most_reached_g_per_day": c.most_reached_g_per_day,
        "points": [vars(p) for p in c.points],
        "one_step_more": _change_json(c.more),
        "one_step_less": _change_json(c.less),
        "tupping": _tupping_json(c.tupping),
        "nearest_case": c.case or None,
        "words": sentences(c),
    }


def _change_json(c: Change | None) -> dict[str, Any] | None:
    if c is None:
        return None
    return {
        "gain_g_per_day": c.to.gain_g_per_day,
        "more_gbp_per_head_day": c.more_gbp_per_head_day,
        "more_gbp_for_winter": c.more_gbp_for_winter,
        "more_kg": c.more_kg,
        "gbp_per_kg_live_weight": c.gbp_per_kg,
    }


def _tupping_json(at: AtTupping | None) -> dict[str, Any] | None:
    if at is None:
        return None
    return {
        "wanted_share": at.wanted.share,
        "wanted_kg": at.wanted_kg,
        "source": at.wanted.source,
        "mark": at.wanted.mark,
        "day": at.day.isoformat(),
        "days_from_target": at.days,
        "summer_gain_assumed_g_per_day": at.summer_gain_g_per_day,
        "weight_kg": at.weight_kg,
        "share_of_grown_weight": at.share,
        "summer_gain_wanted_g_per_day": at.gain_wanted_g_per_day,
        "is_enough": at.is_enough,
    }

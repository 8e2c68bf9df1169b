"""Checks of a shed and a trough: how many fit, how many eat at once, dung, water, straw, store.

Pure: numbers in, numbers out. Every figure carries where it comes from, by source key and mark.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from ration.errors import OutOfRange, Problem

PRACTICE = "common practice, no source"

# Floor of sheep of 12 weeks to 12 months, England's welfare code: P-S85, print
CODE_FLOOR_M2 = (0.75, 0.9)
# What older practice gave hill hoggs: common practice, no source
OLDER_FLOOR_M2 = (0.46, 0.56)
# Trough: 0.305 m is a foot a head, common practice; under 0.30 m restricted-fed lambs of up to
# 45 kg are short (P-S87, print); under 0.16 m grazing sheep drop out (W-S13, print)
TROUGH_M = 0.305
TROUGH_WARN_M = 0.30
TROUGH_STRONG_M = 0.16
# Group: 60 by practice; the code says under 50 for pregnant ewes (P-S85), Ireland 60 to 80 when
# well matched (P-S89)
MOST_GROUP = 60
# Dung under slats: 60 % of the dry matter digested and dung of 35 % dry matter are memory;
# 700 to 900 kg to the cubic metre, memory; under 0.45 m deep, W-S15, print
DIGESTED_SHARE = 0.60
DUNG_DM_SHARE = 0.35
DUNG_KG_PER_M3 = (700.0, 900.0)
MOST_DUNG_M = 0.45
OLDER_SLATS_M2 = 0.51  # between the older figures
# Water: 107 to 146 mL per kg of live weight to the power 0.75, dry sheep: P-S90, restated
WATER_L_PER_KG_075 = (0.107, 0.146)
# Straw: hill ewe, 4 to 5 kg a week, P-S87, print
STRAW_KG_PER_WEEK = (4.0, 5.0)
# Room in a store, kg fresh per cubic metre: kind, least, most, source, mark
DENSITIES = (
    ("hay, small bales", 150.0, 167.0, "P-S100", "derived from print"),
    ("hay, big squares", 124.0, 193.0, "P-S100", "derived from print"),
    ("hay, rounds", 130.0, 185.0, "", "derived from common practice"),
    ("hay, loose", 80.0, 120.0, "P-S102", "print"),
    ("barley", 540.0, 650.0, "P-S103", "print"),
    ("oats", 500.0, 500.0, "P-S103", "print"),
    ("beet pulp nuts", 550.0, 673.0, "P-S104", "print, and common practice"),
    ("cubes", 600.0, 650.0, "", "common practice"),
)


@dataclass(frozen=True)
class Check:
    """One check in plain words.

    Attributes
    ----------
    id : str
    level : str
        "" when it is only told, "warn" or "strong".
    words : str
    source : str
        Key of its source; "" for none.
    mark : str
        print, restated, derived, memory or practice.
    """

    id: str
    level: str
    words: str
    source: str
    mark: str


def heads_that_fit(floor_m2: float, m2_per_head: float) -> int:
    """Whole sheep on a floor [head].

    Source
    ------
    P-S85 for 0.75 to 0.9 m2 a head. Mark: print.

    Examples
    --------
    >>> heads_that_fit(128, 0.75), heads_that_fit(128, 0.9)
    (170, 142)
    """
    _over_zero(m2_per_head, "floor a head")
    return math.floor(floor_m2 / m2_per_head + 1e-9)


def heads_at_once(trough_m: float, m_per_head: float = TROUGH_M) -> int:
    """Whole sheep that can eat side by side [head].

    Source
    ------
    0.305 m, a foot a head. Mark: practice.

    Examples
    --------
    >>> heads_at_once(54)
    177
    """
    _over_zero(m_per_head, "trough a head")
    return math.floor(trough_m / m_per_head + 1e-9)


def trough_level(m_per_head: float) -> str:
    """How short a trough is: "", "warn" under 0.30 m, "strong" under 0.16 m a head.

    Source
    ------
    P-S87 (0.30 m), W-S13 (0.16 m). Mark: print.
    """
    if m_per_head < TROUGH_STRONG_M:
        return "strong"
    return "warn" if m_per_head < TROUGH_WARN_M else ""


def dung_kg_per_day(
    dm_eaten_kg_per_day: float,
    digested_share: float = DIGESTED_SHARE,
    dung_dm_share: float = DUNG_DM_SHARE,
) -> float:
    """Dung of a head, as it lies [kg fresh/head/day].

    Source
    ------
    A balance of dry matter; 60 % and 35 % from memory. Mark: memory.

    Examples
    --------
    >>> round(dung_kg_per_day(0.77), 2)
    0.88
    """
    _over_zero(dung_dm_share, "dry matter of dung")
    return dm_eaten_kg_per_day * (1 - digested_share) / dung_dm_share


def dung_depth_m(kg_per_head: float, m2_per_head: float) -> tuple[float, float]:
    """Depth of so much dung under slats, least and most [m].

    Source
    ------
    700 to 900 kg to the cubic metre. Mark: memory.
    """
    _over_zero(m2_per_head, "floor a head")
    light, dense = DUNG_KG_PER_M3
    return kg_per_head / m2_per_head / dense, kg_per_head / m2_per_head / light


def water_l_per_day(weight_kg: float) -> tuple[float, float]:
    """Water a dry sheep drinks, least and most [L/head/day].

    Source
    ------
    P-S90, restating a book of requirements. Mark: restated.

    Examples
    --------
    >>> [round(l, 2) for l in water_l_per_day(30)]
    [1.37, 1.87]
    """
    least, most = WATER_L_PER_KG_075
    return least * weight_kg**0.75, most * weight_kg**0.75


def straw_kg(weeks: float) -> tuple[float, float]:
    """Straw to bed a hill sheep for so many weeks, least and most [kg/head].

    Source
    ------
    P-S87. Mark: print.
    """
    return STRAW_KG_PER_WEEK[0] * weeks, STRAW_KG_PER_WEEK[1] * weeks


def store_m3(tonnes: float, least_kg_per_m3: float, most_kg_per_m3: float) -> tuple[float, float]:
    """Room that a feed takes, least and most [m3].

    Examples
    --------
    >>> store_m3(16.7, 100, 167)
    (100.0, 167.0)
    """
    _over_zero(least_kg_per_m3, "density")
    _over_zero(most_kg_per_m3, "density")
    return tonnes * 1000 / most_kg_per_m3, tonnes * 1000 / least_kg_per_m3


def _over_zero(value: float, what: str) -> None:
    if not 0 < value < math.inf:
        raise OutOfRange(Problem("", f"{what} {value:g}", "over 0"))


# ---------------------------------------------------------------- in words


def floor_check(floor_m2: float, head: int) -> Check:
    """Whether so many fit, by the code; older practice beside it."""
    least, most = (heads_that_fit(floor_m2, m2) for m2 in reversed(CODE_FLOOR_M2))
    older = [heads_that_fit(floor_m2, m2) for m2 in reversed(OLDER_FLOOR_M2)]
    words = (
        f"{floor_m2:g} m2 of floor holds {most} at 0.75 m2 a head and {least} at 0.9 (the welfare "
        f"code's figures, 12 weeks to 12 months). Older practice, 0.46 to 0.56 m2, would put in "
        f"{older[0]} to {older[1]}; the code has overtaken it."
    )
    level = ""
    if head > most:
        level = "warn" if head <= older[0] else "strong"
        words += f" Of {head}, {head - most} at least must go elsewhere."
    elif head > least:
        words += f" All {head} fit at 0.75 m2, not at 0.9."
    return Check("floor", level, words, "P-S85", "print; older figures common practice")


def trough_check(trough_m: float, head: int) -> Check:
    """Whether all can eat at once."""
    at_once, each = heads_at_once(trough_m), trough_m / head
    words = (
        f"{head} head at {TROUGH_M} m want {head * TROUGH_M:.1f} m of trough; there are "
        f"{trough_m:g} m, so {min(at_once, head)} can eat at once"
    )
    if at_once < head:
        words += f" ({each:.2f} m each)"
        words += ": feed in two sittings, " if 2 * at_once >= head else ": feed in sittings, "
        words += f"or add {head * TROUGH_M - trough_m:.1f} m."
    else:
        words += "."
    level = trough_level(each)
    if level == "strong":
        words += " Under 0.16 m a head some stop coming up at all."
    return Check("trough", level, words, "P-S87; W-S13", "print; 0.305 m common practice")


def group_check(heads: tuple[int, ...]) -> Check | None:
    """Groups over 60; None when there is none."""
    big = [n for n in heads if n > MOST_GROUP]
    if not big:
        return None
    words = (
        f"{len(big)} of {len(heads)} groups hold over {MOST_GROUP} (the largest {max(big)}): sort "
        f"by size and split. The code says under 50 for pregnant ewes; an Irish adviser finds 60 "
        f"to 80 fine when well matched (P-S89)."
    )
    return Check("group", "warn", words, "P-S85; P-S89", "print; 60 common practice")


def dung_check(dm_eaten_kg_per_day: float, days: int, m2_per_head: float) -> Check:
    """Depth of dung if the floor is slatted."""
    daily = dung_kg_per_day(dm_eaten_kg_per_day)
    low, high = dung_depth_m(daily * days, m2_per_head)
    words = (
        f"Were the floor slatted: {dm_eaten_kg_per_day:.2f} kg of dry matter eaten makes "
        f"{daily:.2f} kg of dung a head a day, {daily * days:.0f} kg in "
        f"{days} days, would lie {low:.2f} to {high:.2f} m deep on {m2_per_head:.2f} m2 a head"
    )
    over = high >= MOST_DUNG_M
    words += (
        f"; it must stay under {MOST_DUNG_M} m: clean out once."
        if over
        else f", under the {MOST_DUNG_M} m it must stay below."
    )
    return Check("dung", "warn" if over else "", words, "W-S15", "print; the rest memory")


def water_check(weight_kg: float, head: int) -> Check:
    """What they drink."""
    low, high = water_l_per_day(weight_kg)
    words = (
        f"On hay and trough feed a dry sheep of {weight_kg:.0f} kg drinks {low:.1f} to "
        f"{high:.1f} L a day: {low * head:.0f} to {high * head:.0f} L for {head}."
    )
    return Check("water", "", words, "P-S90", "restated")


def straw_check(weeks: float, head: int) -> Check:
    """Straw to bed them."""
    low, high = straw_kg(weeks)
    words = (
        f"Straw at 4 to 5 kg a head a week for {weeks:.1f} weeks: {low:.0f} to {high:.0f} kg a "
        f"head, {low * head / 1000:.1f} to {high * head / 1000:.1f} t for {head}."
    )
    return Check("straw", "", words, "P-S87", "print, for hill ewes")


def store_check(name: str, tonnes: float, kind: str) -> Check:
    """Room that a feed of a kind of `DENSITIES` takes."""
    row = next((row for row in DENSITIES if row[0] == kind), None)
    if row is None:
        known = ", ".join(row[0] for row in DENSITIES)
        raise OutOfRange(Problem("", f'"{kind}" has no density here', f"it is one of {known}"))
    low, high = store_m3(tonnes, row[1], row[2])
    span = f"{low:.0f} m3" if round(low) == round(high) else f"{low:.0f} to {high:.0f} m3"
    words = f"{tonnes:.1f} t of {name}, as {kind}, takes {span} of store."
    return Check(f"store {name}", "", words, row[3], row[4])


def kind_of(name: str) -> str | None:
    """The kind of `DENSITIES` a feed's name points to; None when none does."""
    text = name.lower()
    if "straw" in text or "silage" in text or "haylage" in text:
        return None
    for word, kind in (
        ("round", "hay, rounds"), ("square", "hay, big squares"), ("loose", "hay, loose"),
        ("hay", "hay, small bales"), ("barley", "barley"), ("oats", "oats"),
        ("beet", "beet pulp nuts"), ("cube", "cubes"), ("nut", "cubes"), ("pellet", "cubes"),
    ):  # fmt: skip
        if word in text:
            return kind
    return None

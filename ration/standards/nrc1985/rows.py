"""The rows of Table 1 of NRC (1985), and which row speaks for which sheep.

`rows.csv` holds the table as it stands in the book, per head and day, dry matter basis. Its column
`mark` says print (read on page 45) or memory (remembered, read by nobody for this table). Blank
cells are worked out: digestible energy from TDN, vitamins by rule, intake over live weight.
"""

from __future__ import annotations

import csv
from dataclasses import dataclass
from functools import cache
from importlib.resources import files

from ration.errors import OutOfRange, Problem
from ration.units import MJ_PER_MCAL

MCAL_DE_PER_KG_TDN = 4.409
ME_PER_DE = 0.82
VITAMIN_A_IU_PER_KG = {"usual": 47.0, "late gestation": 85.0, "singles": 85.0, "twins": 100.0}
VITAMIN_E_IU_PER_KG_DM = (15.0, 20.0)  # above 20 kg of live weight; up to it
SMALL_LAMB_KG = 20.0
TWINS_FROM = 1.5  # lambs a ewe from which the rows for twins speak
HIGH_RATE_FROM = 1.65  # lambs a ewe from which the rows for 180 to 225 % speak

STATES = ("early gestation", "late gestation", "lactation")
GROWN = ("gimmer", "wether", "ewe")
LAMB_ROWS = {
    "ewe-lamb": "replacement ewe lambs",
    "tup-lamb": "replacement ram lambs",
    "wether-lamb": "finishing lambs",
}
EWES = ("ewe-lamb", "gimmer", "ewe")
WORDS = {
    "maintenance": "grown ewes at maintenance",
    "flushing": "grown ewes being flushed",
    "early gestation": "grown ewes early in lamb",
    "late gestation 130-150 %": "grown ewes near lambing (130 to 150 %)",
    "late gestation 180-225 %": "grown ewes near lambing (180 to 225 %)",
    "lactation singles": "grown ewes suckling singles",
    "lactation twins": "grown ewes suckling twins",
    "late lactation singles": "grown ewes late in milk",
    "ewe lamb early gestation": "ewe lambs early in lamb",
    "ewe lamb late gestation": "ewe lambs near lambing",
}


@dataclass(frozen=True)
class Row:
    """One row of Table 1, per head and day.

    Parameters
    ----------
    stage : str
        Block of the table, in our words.
    weight_kg : float
        Live weight. [kg]
    gain_g_per_day : float
        Live-weight change, the womb's growth included. [g/day]
    dm_kg_per_day, dm_share_of_weight : float
        Dry matter eaten. [kg/day], [kg/kg]
    tdn_kg_per_day, de_mcal_per_day, me_mcal_per_day : float
        Energy. [kg/day], [Mcal/day]
    me_mj_per_day : float
        ME x 4.184. [MJ/day]
    cp_g_per_day, ca_g_per_day, p_g_per_day : float
        Crude protein, calcium, phosphorus. [g/day]
    vitamin_a_iu_per_day, vitamin_e_iu_per_day : float
        [IU/day]
    mark : str
        print or memory.
    """

    stage: str
    weight_kg: float
    gain_g_per_day: float
    dm_kg_per_day: float
    dm_share_of_weight: float
    tdn_kg_per_day: float
    de_mcal_per_day: float
    me_mcal_per_day: float
    me_mj_per_day: float
    cp_g_per_day: float
    ca_g_per_day: float
    p_g_per_day: float
    vitamin_a_iu_per_day: float
    vitamin_e_iu_per_day: float
    mark: str


def _vitamin_a_per_kg(stage: str) -> float:
    if "late" in stage:
        return VITAMIN_A_IU_PER_KG["late gestation"]
    return VITAMIN_A_IU_PER_KG[
        stage.removeprefix("lactation ") if "lactation" in stage else "usual"
    ]


def _row(cells: dict[str, str]) -> Row:
    stage, mark = cells["stage"], cells["mark"]
    known = {k: float(v) for k, v in cells.items() if v and k not in ("stage", "mark")}
    weight, dm = known["weight_kg"], known["dm_kg_per_day"]
    known.setdefault("dm_share_of_weight", dm / weight)
    known.setdefault("de_mcal_per_day", MCAL_DE_PER_KG_TDN * known["tdn_kg_per_day"])
    known.setdefault("vitamin_a_iu_per_day", _vitamin_a_per_kg(stage) * weight)
    per_kg_dm = VITAMIN_E_IU_PER_KG_DM[weight <= SMALL_LAMB_KG]
    known.setdefault("vitamin_e_iu_per_day", per_kg_dm * dm)
    known["me_mj_per_day"] = MJ_PER_MCAL * known["me_mcal_per_day"]
    return Row(stage=stage, mark=mark, **known)


def _read() -> dict[str, tuple[Row, ...]]:
    text = (files(__package__) / "rows.csv").read_text(encoding="utf-8")
    out: dict[str, tuple[Row, ...]] = {}
    for cells in csv.DictReader(text.splitlines()):
        row = _row(cells)
        out[row.stage] = (*out.get(row.stage, ()), row)
    return {stage: tuple(sorted(rows, key=lambda r: r.weight_kg)) for stage, rows in out.items()}


TABLE = _read()
STAGES = tuple(TABLE)
COLUMNS = tuple(n for n in Row.__dataclass_fields__ if n not in ("stage", "weight_kg", "mark"))


def as_float(what: str, value: float) -> float:
    """The value as a float; what cannot be read as a number is refused."""
    try:
        return float(value)
    except (TypeError, ValueError, OverflowError):
        raise OutOfRange(Problem("", f"{what} {value!r} is not a number")) from None


def number(what: str, value: float, lo: float, hi: float, unit: str) -> float:
    """The value as a float; what is not a number from lo to hi is refused."""
    read = as_float(what, value)
    if not lo <= read <= hi:
        raise OutOfRange(
            Problem("", f"{what} {read:g}{unit}", f"{lo:g} to {hi:g}{unit} is covered")
        )
    return read


def stage_rows(stage: str) -> tuple[Row, ...]:
    """The rows of one block of the table, lightest first."""
    if stage not in STAGES:
        raise OutOfRange(Problem("", f'stage "{stage}"', f"it is one of {', '.join(STAGES)}"))
    return TABLE[stage]


def _outside(stage: str, weight_kg: float) -> OutOfRange:
    rows = TABLE[stage]
    remembered = "" if {r.mark for r in rows} == {"print"} else " (remembered, not all read)"
    words = WORDS.get(stage, stage if "lambs" in stage else f"{stage} lambs")
    return OutOfRange(
        Problem(
            "",
            f"live weight {weight_kg:g} kg",
            f"NRC (1985) prints {words} from {rows[0].weight_kg:g} to {rows[-1].weight_kg:g} kg"
            + remembered,
            "Feed lighter or heavier sheep by another standard",
        )
    )


def around(stage: str, weight_kg: float) -> tuple[Row, Row, float]:
    """The rows either side of a weight, and how far between them it lies (0 to 1)."""
    rows = stage_rows(stage)
    weight = as_float("live weight", weight_kg)
    if not rows[0].weight_kg <= weight <= rows[-1].weight_kg:
        raise _outside(stage, weight)
    upper = next(i for i, r in enumerate(rows) if weight <= r.weight_kg)
    above = rows[upper]
    if above.weight_kg == weight:
        return above, above, 0.0
    below = rows[upper - 1]
    return below, above, (weight - below.weight_kg) / (above.weight_kg - below.weight_kg)


def table_row_value(stage: str, weight_kg: float, column: str) -> float:
    """A figure of Table 1, straight between two rows in weight.

    Parameters
    ----------
    stage : str
        Block of the table, one of `STAGES`.
    weight_kg : float
        Live weight. [kg], within the block's rows.
    column : str
        One of `COLUMNS`; its name carries the unit.

    Returns
    -------
    float
        The cell at a row's weight, else the straight line between its two neighbours.

    Raises
    ------
    OutOfRange
        Stage or column not one of the table's, or a weight outside the block's rows.

    Source
    ------
    NRC-1985 Table 1: 13 rows read on page 45 (N-S1), 58 remembered; `row_marks` tells which.
    Mark: print; for the remembered rows memory.
    """
    if column not in COLUMNS:
        raise OutOfRange(Problem("", f'column "{column}"', f"it is one of {', '.join(COLUMNS)}"))
    below, above, share = around(stage, weight_kg)
    low, high = float(getattr(below, column)), float(getattr(above, column))
    return low + share * (high - low)


def lambs_believable(lambs: float) -> float:
    """Lambs a ewe, 0.5 to 5."""
    return number("lambs a ewe", lambs, 0.5, 5.0, "")


def class_covered(sheep_class: str, state: str | None) -> None:
    """Refuse a class or state that the table has no rows for."""
    known = (*LAMB_ROWS, *GROWN)
    if sheep_class not in known:
        raise OutOfRange(
            Problem("", f'class "{sheep_class}"', f"NRC (1985) is held for {', '.join(known)}")
        )
    if state is None:
        return
    if state not in STATES:
        raise OutOfRange(Problem("", f'state "{state}"', f"it is none or {', '.join(STATES)}"))
    if sheep_class not in EWES:
        raise OutOfRange(Problem("", f"{sheep_class} in {state}", "only females are in lamb"))


def stage_of(sheep_class: str, state: str | None = None, lambs: float = 1.0) -> str:
    """The block of the table that speaks for a gaining, in-lamb or milking animal.

    Grown sheep neither in lamb nor in milk get "flushing": the row of their gain.
    """
    class_covered(sheep_class, state)
    lambs = lambs_believable(lambs)
    if state is None:
        return LAMB_ROWS.get(sheep_class, "flushing")
    if sheep_class == "ewe-lamb":
        if state == "lactation":
            raise OutOfRange(
                Problem("", "ewe-lamb in lactation", "no row for ewe lambs in milk is held here")
            )
        return f"ewe lamb {state}"
    if state == "early gestation":
        return state
    if state == "late gestation":
        return f"{state} {'180-225 %' if lambs >= HIGH_RATE_FROM else '130-150 %'}"
    return "lactation twins" if lambs >= TWINS_FROM else "lactation singles"


# Cached, and so no equation to the test of sources: it tells of rows and gives no number.
@cache
def row_marks(
    sheep_class: str,
    state: str | None = None,
    lambs: float = 1.0,
    weight_kg: float | None = None,
) -> frozenset[str]:
    """How the rows behind a class and state were come by: print, memory, derived.

    Parameters
    ----------
    sheep_class : str
        ewe-lamb, tup-lamb, wether-lamb, gimmer, wether or ewe.
    state : str or None
        None, early gestation, late gestation or lactation.
    lambs : float
        Lambs a ewe; picks the block near lambing and in milk. [-]
    weight_kg : float or None
        Narrows the answer to the rows either side of this weight; None takes all of them.

    Returns
    -------
    frozenset of str
        "memory" in it: tell the reader "remembered, unverified". "derived" in it: the energy of
        standing still is scaled from a row of another weight.

    Raises
    ------
    OutOfRange
        As in `stage_of`, or a weight outside the rows.

    Source
    ------
    NRC-1985, column `mark` of the rows. Mark: derived.
    """
    stages = {stage_of(sheep_class, None), stage_of(sheep_class, state, lambs)}
    rows: list[Row] = []
    for stage in stages:
        rows += stage_rows(stage) if weight_kg is None else around(stage, weight_kg)[:2]
    # The rows of standing still are all print; lambs lie partly outside them.
    marks = {row.mark for row in rows} | {"print"}
    weights = [row.weight_kg for row in rows] if weight_kg is None else [weight_kg]
    still = TABLE["maintenance"]
    if min(weights) < still[0].weight_kg or max(weights) > still[-1].weight_kg:
        marks.add("derived")
    return frozenset(marks)


def womb_gain_g_per_day(sheep_class: str, state: str | None = None, lambs: float = 1.0) -> float:
    """Part of a row's gain that is lambs and womb, not the ewe's own body [g/day].

    The last rows before lambing print 180 and 225 g/day for grown ewes, about what the womb alone
    puts on; all of it is taken as the womb's, so that a ewe who is to hold her own body gets the
    row's feed. Ewe lambs: the same 180 g for 1.4 lambs, at 1.1 lambs (their 100 to 120 %).

    Parameters
    ----------
    sheep_class, state, lambs
        As in `row_marks`.

    Returns
    -------
    float
        0 except late in gestation. [g/day]

    Raises
    ------
    OutOfRange
        As in `stage_of`.

    Source
    ------
    NRC-1985, on remembered rows; that the gain is the womb's is judgement. Mark: derived.
    """
    if state != "late gestation":
        class_covered(sheep_class, state)
        return 0.0
    stage = stage_of(sheep_class, state, lambs)
    if sheep_class == "ewe-lamb":
        return TABLE["late gestation 130-150 %"][0].gain_g_per_day / 1.4 * 1.1
    return TABLE[stage][0].gain_g_per_day


def dm_kg_per_day(
    weight_kg: float, sheep_class: str, state: str | None = None, lambs: float = 1.0
) -> float:
    """Dry matter that the table takes to be eaten [kg DM/day]; information, never a limit.

    Parameters
    ----------
    weight_kg : float
        Live weight. [kg], within the block's rows.
    sheep_class, state, lambs
        As in `row_marks`. Grown sheep neither in lamb nor in milk get the maintenance row.

    Returns
    -------
    float
        [kg DM/day]

    Raises
    ------
    OutOfRange
        As in `stage_of`, or a weight outside the block's rows.

    Source
    ------
    NRC-1985 Table 1 (N-S1). Mark: print; for the remembered rows memory.
    """
    stage = stage_of(sheep_class, state, lambs)
    stage = "maintenance" if stage == "flushing" else stage
    return table_row_value(stage, weight_kg, "dm_kg_per_day")

"""How the winter is divided and the rules for moving feed about: from a sheet to a `Winter`.

Periods, steps, stores, the other stock that shares the hay, pens and the files of quotes.
"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from pathlib import Path
from types import MappingProxyType
from typing import Any

from ration import units
from ration.errors import InputError, Problem
from ration.farm import OtherStock, Store, Winter
from ration.farm import keys as farm_keys
from ration.farm.words import id_of
from ration.strict_yaml import Keys, Sheet, nearest

LONGEST_CLAIM_DAYS = 366


def winter_of(
    sheet: Sheet,
    folder: Path | None,
    top: Any,
    dates: Any,
    pens: Mapping[str, tuple[int, ...]],
    start_kg: Mapping[str, float],
) -> Winter:
    """The rules of the winter from the checked top of a farm file.

    Parameters
    ----------
    sheet : Sheet
        Takes every fault.
    folder : Path or None
        Where files of quotes lie.
    top, dates : FarmEntry, WinterEntry or None
        Checked; None when the winter is at fault.
    pens : mapping of str to tuple of int
        By batch.
    start_kg : mapping of str to float
        By batch. [kg]
    """
    said = sheet.group(())
    steps = None
    if "steps" in said:
        steps = farm_keys.check(farm_keys.StepsEntry, said["steps"], ("steps",), sheet)
    steps = steps or farm_keys.StepsEntry.model_validate({})
    return Winter(
        period_days=14 if dates is None else int(dates.periods),
        long_winter_days=25 if dates is None else int(dates.long_winter),
        step_up_days=int(steps.step_up),
        taper_days=int(steps.taper),
        most_step_kg=steps.most_step,
        most_change_kg=steps.most_change,
        one_feed_most_kg=steps.most_at_one_feed,
        lane_t=top.lane,
        interest_share_per_year=top.interest,
        leftover_share=top.left_over,
        shrink_share_per_month=top.shrink,
        stores=_stores(sheet),
        other_stock=_other_stock(sheet, dates),
        pens=MappingProxyType(dict(pens)),
        start_kg=MappingProxyType(dict(start_kg)),
        hay_first=steps.hay_first,
        quotes=_quotes(sheet, folder, top.quotes),
    )


def pens_of(said: int | tuple[int, ...], head: int) -> tuple[int, ...]:
    """Heads in each pen: as written, or as even as can be.

    Raises
    ------
    InputError
        They do not add up to the batch; the problem's place is not filled in.

    Examples
    --------
    >>> pens_of(4, 58)
    (15, 15, 14, 14)
    """
    if isinstance(said, int):
        if said > head:
            raise InputError(Problem("", f"{said} pens for {head} head", "at least 1 head in each"))
        each, over = divmod(head, said)
        return tuple(each + (i < over) for i in range(said))
    if sum(said) != head:
        raise InputError(
            Problem(
                "",
                f"the pens hold {' + '.join(map(str, said))} = {sum(said)} head",
                f"the batch has {head}",
                "Change one of the two",
            )
        )
    return said


def _quotes(sheet: Sheet, folder: Path | None, names: tuple[str, ...]) -> tuple[Path, ...]:
    paths = sheet.own_files(folder, names, ("quotes",))
    for name in sorted({n for n in names if names.count(n) > 1}):
        sheet.fault(("quotes",), f"{units.shown(name)} is named twice", do="Keep one of the two")
    return paths


def _stores(sheet: Sheet) -> tuple[Store, ...]:
    """Bins and sheds; a feed lies in one of them at most."""
    known = {id_of(key) for key in sheet.group(("feeds",))}
    lies_in: dict[str, str] = {}
    found = []
    for key, body in sheet.section("stores", "store").items():
        keys: Keys = ("stores", key)
        name = sheet.written[keys]
        entry = farm_keys.check(farm_keys.StoreEntry, body, keys, sheet)
        if entry is None:
            continue
        if not entry.feeds:
            sheet.fault((*keys, "for"), "no feed is named", do='Write "for: [rolled barley]"')
        ids = []
        for i, feed in enumerate(entry.feeds):
            at: Keys = (*keys, "for", i)
            at = at if at in sheet.lines else at[:-1]
            offer_id = id_of(feed)
            if offer_id not in known:
                hint = nearest(offer_id, tuple(known)) or 'Add it under "feeds"'
                sheet.fault(at, f"{units.shown(feed)} is not a feed of this farm", "", hint)
            elif offer_id in lies_in:
                sheet.fault(
                    at,
                    f"{units.shown(feed)} is already in {units.shown(lies_in[offer_id])}",
                    "a feed lies in one store",
                    "Keep one of the two",
                )
            else:
                lies_in[offer_id] = name
                ids.append(offer_id)
        found.append(Store(name, entry.holds, tuple(ids)))
    return tuple(found)


def _other_stock(sheet: Sheet, dates: Any) -> tuple[OtherStock, ...]:
    """Classes that share the home feed; without dates of their own they eat all winter."""
    found = []
    for key, body in sheet.section("other stock", "class").items():
        keys: Keys = ("other stock", key)
        entry = farm_keys.check(farm_keys.OtherStockEntry, body, keys, sheet)
        if entry is None or dates is None:
            continue
        start, end = entry.start or dates.start, entry.end or dates.end
        if _dates_fit(sheet, keys, (start, end), (dates.start, dates.end)):
            found.append(OtherStock(sheet.written[keys], entry.head, start, end))
    return tuple(found)


def _dates_fit(sheet: Sheet, keys: Keys, own: tuple[date, date], winter: tuple[date, date]) -> bool:
    first, last = (units.in_words_day(d) for d in own)
    days = (own[1] - own[0]).days
    if not 1 <= days <= LONGEST_CLAIM_DAYS:
        at: Keys = (*keys, "to")
        read = f"they eat from {first} to {last}, {days} days"
        allowed = f"1 to {LONGEST_CLAIM_DAYS} days"
    elif own[1] <= winter[0] or own[0] >= winter[1]:
        at = (*keys, "from")
        read = f"they eat from {first} to {last}"
        allowed = "none of it is in the winter"
    else:
        return True
    sheet.fault(at, read, allowed, "Check the years")
    return False

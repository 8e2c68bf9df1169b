"""How money, work, feed and land are said under `wintering:`; each reader takes one plain value.

Like those of `farm.words` they give our number or raise `InputError` with one problem.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Any

from ration import units
from ration.farm import words
from ration.farm.words import between, one_of, per
from ration.plain_text import refusal, split
from ration.wintering.budget import SCALABLE
from ration.wintering.records import Amount

HA_PER_ACRE = 0.40468564224  # 4,840 square yards of 0.9144 m, by law

Reader = Callable[[Any], Any]


# ---------------------------------------------------------------- money, as it is said


def _money(value: Any, what: str) -> tuple[float, str]:
    """Pounds, and what is said after them: "95 p a week" is 0.95 and "week"."""
    text = units.plain(value, what)
    size, rest = split(re.sub(r"^([+-]?) ?£ ?", r"\1", text), what)
    if found := re.fullmatch(r"(?:p|pence)\b ?(.*)", rest):
        size, rest = size / 100, found.group(1)
    return size, re.sub(r"^(?:/|per\b|an?\b|the\b) ?", "", rest).strip()


def rate(what: str, most: float, *words_after: str) -> Reader:
    """A reader of money a something: "13.48 /h", "45 p a mile"; the first word is shown."""

    def read(value: Any) -> float:
        gbp, rest = _money(value, what)
        if rest not in words_after:
            do = f'Write it like "{gbp:g} a {words_after[0]}"'
            raise refusal(value, f"{what} is money for one {words_after[0]}", do=do)
        if gbp > most:
            raise refusal(value, f"{what} is outside what is believable", f"0 to {most:g} pounds")
        return gbp

    return read


def pounds(what: str, most: float) -> Reader:
    """A reader of money alone: "110", "£1,200", "65 p"."""

    def read(value: Any) -> float:
        gbp, rest = _money(value, what)
        if rest not in ("", "each", "head"):
            raise refusal(value, f"{what} is money alone", do=f'Write "{gbp:g}"')
        if gbp > most:
            raise refusal(value, f"{what} is outside what is believable", f"0 to {most:g} pounds")
        return gbp

    return read


_EACH = ("each", "head", "hogg", "sheep", "each one")
_ALL = ("for the flock", "flock", "in all", "for all", "altogether")


def amount(what: str) -> Reader:
    """A reader of money each or in all: "2.10 each", "480 in all", "2.40 each way"."""

    def read(value: Any) -> Amount:
        gbp, rest = _money(value, what)
        times = 1
        found = re.fullmatch(r"(.*?),? ?\b(?:each way|both ways)", rest)
        if found and what == "haulage":
            times, rest = 2, found.group(1).strip() or "each"
        if rest not in _EACH + _ALL:
            raise refusal(
                value,
                f"{what} does not say whether it is for each sheep or for all of them",
                do=f'Write "{gbp:g} each" or "{gbp:g} in all"',
            )
        each = rest in _EACH
        most = 100.0 if each else 1e6
        if gbp > most:
            allowed = f"0 to {most:,.0f} pounds {'each' if each else 'in all'}"
            raise refusal(value, f"{what} is outside what is believable", allowed)
        return Amount(times * gbp, 0.0) if each else Amount(0.0, times * gbp)

    return read


# ---------------------------------------------------------------- work, feed, land


_TIMES = {"h": 1.0, "hour": 1.0, "hours": 1.0, "min": 1 / 60, "mins": 1 / 60, "minute": 1 / 60,
          "minutes": 1 / 60, "s": 1 / 3600, "seconds": 1 / 3600}  # fmt: skip


def _time_h(text: str, what: str) -> float:
    size, rest = split(text, what)
    if rest not in _TIMES:
        raise refusal(text, f"{what} is a time", "hours or minutes", 'Write it like "5 h"')
    return size * _TIMES[rest]


def time_h(what: str, most: float) -> Reader:
    """A reader of a length of time [h]: "5 h", "45 min"."""
    return between(lambda v, w: _time_h(units.plain(v, w), w), what, 0.0, most, "h")


def _for_days(text: str, what: str) -> tuple[str, int | None]:
    """A text without its "for 60 days", and those days."""
    found = re.fullmatch(r"(.*?),? for (\S+ (?:days?|weeks?))\b(.*)", text)
    if found is None:
        return text, None
    days = between(units.days, f"the days of {what}", 0, 366, "days")(found.group(2))
    return (found.group(1) + found.group(3)).strip(), int(days)


def work_said(value: Any) -> tuple[float, float, int | None]:
    """Work: "45 min a day", "1 h a day for 60 days", "10 s a head a day".

    Returns
    -------
    tuple
        Hours a day for the flock, hours a head and day, days or None for all the winter.
    """
    text, days = _for_days(units.plain(value, "labour").lower(), "labour")
    found = re.fullmatch(r"(.+?)(,? (?:a|per) head)?(?: ?(?:a|per|/) ?day)", text)
    if found is None:
        raise refusal(value, "labour is a time a day", do='Write "45 min a day"')
    hours = _time_h(found.group(1), "labour")
    if hours > (1.0 if found.group(2) else 24.0):
        raise refusal(value, "labour is outside what is believable", "0 to 24 h a day")
    return (0.0, hours, days) if found.group(2) else (hours, 0.0, days)


def feed_said(value: Any) -> tuple[float, int | None, float | None]:
    """A feed put out: "0.85 kg for 156 days at 140 /t", "0.8 kg a day".

    Returns
    -------
    tuple
        kg a head and day, days or None for all the winter, GBP/t or None when it is not said.
    """
    text, price = units.plain(value, "the feed"), None
    if found := re.fullmatch(r"(.+?),? at (.+)", text):
        text = found.group(1)
        price = words.price(found.group(2))
    text, days = _for_days(text, "the feed")
    read = between(per("day", units.mass_kg, "the feed a day"), "the feed a day", 0, 20, "kg")
    return read(re.sub(r",? (?:a|per) head", "", text)), days, price


def area_ha(value: Any) -> float:
    """Land [ha]: "9 ha", "22 acres"."""
    text = units.plain(value, "land")
    size, rest = split(text, "land")
    sizes = {"ha": 1.0, "hectares": 1.0, "hectare": 1.0, "acres": HA_PER_ACRE, "acre": HA_PER_ACRE}
    if rest not in sizes:
        raise refusal(text, "land is in ha or acres", do=f'Write "{size:g} ha"')
    if size * sizes[rest] > 100_000:
        raise refusal(text, "land is outside what is believable", "0 to 100,000 ha")
    return size * sizes[rest]


def grass_said(value: Any) -> float:
    """Spring grass lost [t DM/ha]: "0.6 t DM a ha"."""
    text = units.plain(value, "lost grass")
    size, rest = split(text, "lost grass")
    if not re.fullmatch(r"t (?:of )?(?:dm|dry matter) ?(?:/|a|an|per) ?(?:ha|hectare)", rest):
        do = f'Write "{size:g} t DM a ha"'
        raise refusal(text, "lost grass is tonnes of dry matter a ha", do=do)
    if size > 10:
        raise refusal(text, "lost grass is outside what is believable", "0 to 10 t DM a ha")
    return size


def dry_price(value: Any) -> float:
    """A price of dry matter [GBP/t DM]: "110 /t DM"."""
    text = units.plain(value, "worth")
    found = re.fullmatch(r"(.+?) (?:of )?(?:dm|dry matter)", text, re.IGNORECASE)
    if not found:
        raise refusal(text, "worth is money a tonne of dry matter", do='Write "110 /t DM"')
    return between(units.price_gbp_per_t, "worth", 0.0, 2000.0, "per tonne")(found.group(1))


def distance(value: Any) -> tuple[float, str]:
    """A journey there and back: "148 miles", "240 km"."""
    text = units.plain(value, "the journey")
    size, rest = split(text, "the journey")
    unit = {"mile": "mile", "miles": "mile", "km": "km"}.get(rest)
    if unit is None:
        raise refusal(text, "the journey is in miles or km", do=f'Write "{size:g} miles"')
    if size > 3000:
        raise refusal(text, "the journey is outside what is believable", "0 to 3,000")
    return size, unit


def lines_said(value: Any) -> tuple[str, ...]:
    """Lines of a budget that grow with the number of sheep."""
    names = words.names(value, "lines")
    return tuple(one_of(SCALABLE, "line")(name) for name in names)


def share_up_to(what: str, most: float) -> Reader:
    """A reader of a percentage [0-1] up to a most."""
    return between(units.share, what, 0.0, most, f"({100 * most:g} %)")


def kg_up_to(what: str, most: float) -> Reader:
    """A reader of a weight [kg] up to a most."""
    return between(units.mass_kg, what, 0.0, most, "kg")


def day_said(name: str) -> Reader:
    """A reader of a date, named in messages."""
    return lambda v: units.day(v, name)


def hours_said(value: Any) -> float:
    """Hours of a journey: 5, "5 h" or "90 min"."""
    if isinstance(value, str):
        return float(time_h("hours", 48.0)(value))
    return between(units.number, "hours", 0.0, 48.0, "h")(value)

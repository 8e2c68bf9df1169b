"""Text as it stands in a file and the plain numbers in it, read with certainty; words joined."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence

from ration.errors import Problem, UnitError

MOST_DIGITS = 12


def shown(value: object) -> str:
    """What was read, in quotes and cut to a readable length."""
    text = " ".join(str(value).split())
    return f'"{text[:57]}..."' if len(text) > 60 else f'"{text}"'


def refusal(value: object, fault: str, allowed: str = "", do: str = "") -> UnitError:
    """What to raise when a value is not wholly understood."""
    return UnitError(Problem("", f"read {shown(value)}: {fault}", allowed, do))


def plain(value: object, what: str = "this") -> str:
    """The text of a value from a file, spaces tidied; a yes/no, a list or nothing is refused."""
    if isinstance(value, bool):
        answer = "yes" if value else "no"
        raise refusal(answer, f"{what} is a quantity, not a yes/no answer")
    if value is None:
        raise refusal("", f"{what} is empty", do="Write a value, or take the line out")
    if isinstance(value, float) and not math.isfinite(value):
        raise refusal(value, f"{what} must be an ordinary number")
    if isinstance(value, int) and abs(value) >= 10**MOST_DIGITS:
        raise refusal("a very long number", f"{what} has too many digits")
    if not isinstance(value, str | int | float):
        raise refusal(type(value).__name__, f"{what} is one value, not a list or a group")
    text = f"{value:.12g}" if isinstance(value, float) else str(value)
    text = re.sub("(?<=[A-Za-z])²", "2", text.replace("\u2212", "-"))
    text = " ".join(text.split())
    if not text:
        raise refusal("", f"{what} is empty", do="Write a value, or take the line out")
    return text


def _digits(text: str, whole_text: str, what: str) -> float:
    """A number that stands alone: 12, 1.5, 1,234.5; never 13,2 or .5 or 0,680."""
    if re.fullmatch(r"[0-9]+(\.[0-9]+)?", text) or re.fullmatch(
        r"[1-9][0-9]{0,2}(,[0-9]{3})+(\.[0-9]+)?", text
    ):
        bare = text.replace(",", "")
        if len(bare) > MOST_DIGITS:
            raise refusal(whole_text, f"{what} has too many digits")
        return float(bare)
    if re.fullmatch(r"[0-9]+,[0-9]+", text):
        do = f"Write {text.replace(',', '.')}"
        raise refusal(whole_text, f"{what} has a comma where a point belongs", do=do)
    if re.fullmatch(r"\.[0-9]+", text):
        raise refusal(whole_text, f"{what} starts with a point", do=f"Write 0{text}")
    raise refusal(whole_text, f"{what} is not a plain number", "like 12, 1.5 or 1,234.5")


def split(text: str, what: str, *, below_zero: bool = False) -> tuple[float, str]:
    """The number a text starts with, and the rest in lower case."""
    found = re.fullmatch(r"([+-]?) ?([0-9.,]*[0-9.])(.*)", text)
    if not found:
        raise refusal(text, f"{what} must start with a number")
    sign, digits, rest = found.groups()
    rest = rest.lower().strip()
    if re.match(r"e[+-]?[0-9]", rest):
        raise refusal(text, f"{what} has a power of ten", do="Write the number out in full")
    value = _digits(digits, text, what)
    if sign == "-" and value != 0:
        if not below_zero:
            raise refusal(text, f"{what} cannot be below zero")
        value = -value
    return value, rest


def number(value: object, what: str = "this") -> float:
    """A plain number without a unit, zero or more [-].

    Examples
    --------
    >>> number("1,234.5")
    1234.5
    """
    text = plain(value, what)
    result, rest = split(text, what)
    if rest:
        raise refusal(text, f"{what} is a number without a unit", do=f"Write {result:g}")
    return result


def whole(value: object, what: str = "this") -> int:
    """A whole number, zero or more [-]."""
    result = number(value, what)
    if result != int(result):
        raise refusal(value, f"{what} is a whole number")
    return int(result)


def joined(parts: Sequence[str], word: str = "and") -> str:
    """A list in words.

    Examples
    --------
    >>> joined(["ewes", "cattle", "tups"])
    'ewes, cattle and tups'
    """
    if len(parts) < 2:
        return "".join(parts)
    return f"{', '.join(parts[:-1])} {word} {parts[-1]}"


def sentence(words: str) -> str:
    """The same words with a capital to begin."""
    return words[:1].upper() + words[1:]

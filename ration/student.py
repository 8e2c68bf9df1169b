"""Student's t, for the band round a mean of few.

Worked by the finite sums for whole degrees of freedom of Abramowitz and Stegun (1964), Handbook of
Mathematical Functions, 26.7.3 to 26.7.5 (numbers of the formulae from memory).
"""

from __future__ import annotations

import math
from functools import cache
from statistics import NormalDist

from ration.errors import OutOfRange, Problem

CONFIDENCE = 0.95
MOST_SUMMED_DF = 1000


@cache
def t_975(df: int) -> float:
    """Student's t that 2.5 % lie above, for whole degrees of freedom [-].

    Examples
    --------
    >>> round(t_975(11), 3)
    2.201
    """
    if df < 1:
        raise OutOfRange(Problem("", f"{df} degrees of freedom", "at least 1"))
    z = NormalDist().inv_cdf((1 + CONFIDENCE) / 2)
    if df > MOST_SUMMED_DF:  # two terms of the expansion about the normal, 26.7.5
        return z + (z**3 + z) / (4 * df) + (5 * z**5 + 16 * z**3 + 3 * z) / (96 * df**2)
    low, high = math.atan(z / math.sqrt(df)), math.pi / 2
    for _ in range(80):
        middle = (low + high) / 2
        low, high = (middle, high) if _within(middle, df) < CONFIDENCE else (low, middle)
    return math.tan((low + high) / 2) * math.sqrt(df)


def _within(theta: float, df: int) -> float:
    """Chance that |t| is at most sqrt(df) tan(theta), by the finite sums. [-]"""
    cos2 = math.cos(theta) ** 2
    odd = df % 2
    term = math.cos(theta) if odd else 1.0
    total = term if df > 1 else 0.0
    for k in range(2 + odd, df - 1, 2):
        term *= cos2 * (k - 1) / k
        total += term
    total *= math.sin(theta)
    return 2 / math.pi * (theta + total) if odd else total

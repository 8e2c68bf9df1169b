"""What one way of wintering costs, line by line: farm arithmetic on the farmer's own figures.

A line is money for each head and money for the flock, so that the same budget serves any number
of sheep. What each line counts:

- keep: weeks at the price of a week, on heads sent or, when it is so agreed, on heads returned
- haulage, doses, minerals, bedding, dung: as said
- visits: journeys, each of miles at the rate and hours at the wage
- feed: kg a day, days and price of each feed put out, or the mix
- labour: hours a day, days and wage
- building: the year's payment on its capital, upkeep on top, times the share these sheep carry
- land: hectares of spring grass lost at what it costs to replace, and the mending
- interest: on keep, haulage, visits, doses, feed, minerals, labour and bedding, for half the
  winter; only when asked for. Not on the building, whose payment carries its own.
- deaths: share that dies times what a hogg is worth, and, when asked for, times a share of that
  head's outlay. Every head is charged its outlay for the whole winter already, so this counts
  part of a dead one's cost twice unless the amounts were entered for those alive.
- wool: kilos less at the price of wool
- barren: more barren ewes times the margin of a crop, discounted over the 1.6 years till then
- growth: kilos heavier times what a kilo is worth, taken off

Source: the layout of lines and the discounting are farm budgeting as in W-S43 (only what changes
is counted); common practice, no source for the choice of lines.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from ration.errors import InputError, OutOfRange, Problem
from ration.wintering.records import YEARS_TO_CROP, Amount, Basis, Building, Terms, Visits, Way

DAYS_A_YEAR = 365.0
FEED = "feed: "
MIX = "the mix"
NAMES = {
    "keep": "keep", "haulage": "haulage", "visits": "visits", "doses": "doses",
    "minerals": "minerals", "labour": "labour", "bedding": "bedding", "dung": "dung, taken off",
    "building": "building", "land": "land", "interest": "interest", "deaths": "deaths",
    "wool": "wool lost", "barren": "more barren", "growth": "growth, taken off",
}  # fmt: skip
ORDER = (
    "keep", "haulage", "visits", "doses", FEED, "minerals", "labour", "bedding", "dung",
    "building", "land", "interest", "deaths", "wool", "barren", "growth",
)  # fmt: skip
OUTLAY = ("keep", "haulage", "visits", "doses", FEED, "minerals", "labour", "bedding")
RETURNS = ("deaths", "wool", "barren", "growth", "dung")
SCALABLE = ("visits", "labour", "building", "land", "haulage", "doses", "minerals", "bedding")


@dataclass(frozen=True)
class Line:
    """One line of a budget.

    Attributes
    ----------
    id : str
        A name of `NAMES`, or "feed: " and the feed's name.
    flock_gbp : float
        Paid once if any sheep goes this way. [GBP]
    per_head_gbp : float
        Paid for each head that goes this way. [GBP/head]
    """

    id: str
    flock_gbp: float = 0.0
    per_head_gbp: float = 0.0

    @property
    def name(self) -> str:
        """As it is printed."""
        return self.id.removeprefix(FEED) if self.is_feed else NAMES[self.id]

    @property
    def is_feed(self) -> bool:
        """A feed, or the mix."""
        return self.id.startswith(FEED)

    @property
    def is_return(self) -> bool:
        """Something lost or gained of what is sold, rather than a cost."""
        return self.id in RETURNS

    @property
    def is_outlay(self) -> bool:
        """Money laid out during the winter."""
        return self.is_feed or self.id in OUTLAY

    def each_gbp(self, head: float) -> float:
        """The line for each of so many head. [GBP/head]"""
        return self.flock_gbp / head + self.per_head_gbp


@dataclass(frozen=True)
class Budget:
    """The lines of one way for so many head, every one of them on that way.

    Attributes
    ----------
    way : str
    head : int
        That start the winter.
    deaths_share : float
        [-]
    lines : tuple of Line
    """

    way: str
    head: int
    deaths_share: float
    lines: tuple[Line, ...]

    @property
    def gbp_per_head(self) -> float:
        """Cost of each head that starts the winter. [GBP/head]"""
        return math.fsum(line.each_gbp(self.head) for line in self.lines)

    @property
    def gbp_per_head_returned(self) -> float:
        """Cost of each head that comes through alive. [GBP/head]"""
        return self.gbp_per_head / (1 - self.deaths_share)

    @property
    def gbp_for_flock(self) -> float:
        """Cost of them all. [GBP]"""
        return self.gbp_per_head * self.head

    @property
    def flock_gbp(self) -> float:
        """Paid once, however many go. [GBP]"""
        return math.fsum(line.flock_gbp for line in self.lines)

    @property
    def per_head_gbp(self) -> float:
        """Paid for each that goes. [GBP/head]"""
        return math.fsum(line.per_head_gbp for line in self.lines)

    def by(self, basis: Basis) -> float:
        """Cost of a head on one basis or the other. [GBP/head]"""
        return self.gbp_per_head if basis == "wintered" else self.gbp_per_head_returned

    def gbp(self, *ids: str) -> float:
        """Lines of these ids together, for each head; "feed: " takes every feed. [GBP/head]"""
        return math.fsum(
            line.each_gbp(self.head)
            for line in self.lines
            if line.id in ids or (FEED in ids and line.is_feed)
        )


def annuity(capital: float, rate: float, years: float) -> float:
    """Payment a year that pays off a capital with interest [GBP/year].

    Parameters
    ----------
    capital : float
        [GBP]
    rate : float
        Interest. [-/year]; at 0 the capital is spread evenly.
    years : float

    Source
    ------
    The annuity formula; arithmetic, no source needed. Mark: derived.

    Examples
    --------
    >>> round(annuity(9800, 0.06, 12), 2)
    1168.91
    """
    bad = [
        Problem("", f"{what} {value:g}", allowed)
        for what, value, allowed, fits in (
            ("capital", capital, "0 or more", 0 <= capital < math.inf),
            ("interest", rate, "0 or more", 0 <= rate < math.inf),
            ("years", years, "over 0", 0 < years < math.inf),
        )
        if not fits
    ]
    if bad:
        raise OutOfRange(*bad)
    if rate < 1e-12:  # even, to the last digit
        return capital / years
    return capital * rate / -math.expm1(-years * math.log1p(rate))


def building_gbp_per_year(building: Building, interest_share_per_year: float) -> float:
    """What these sheep carry of a building's cost in a year [GBP/year].

    Examples
    --------
    >>> round(building_gbp_per_year(Building(9800, 12, 0.02, 0.65, 0.06), 0.05), 2)
    887.19
    """
    own = building.interest_share_per_year
    rate = interest_share_per_year if own is None else own
    yearly = annuity(building.capital_gbp, rate, building.years)
    return (yearly + building.upkeep_share * building.capital_gbp) * building.used_share


def visits_gbp(visits: Visits, wage_gbp_per_h: float) -> float:
    """Journeys at the rate of the road and the wage [GBP]."""
    road = visits.distance * visits.rate_gbp_per_unit
    return visits.journeys * (road + visits.hours * wage_gbp_per_h)


def budget(way: Way, terms: Terms, head: int) -> Budget:
    """Every line of one way, for so many head all going that way.

    Parameters
    ----------
    way : Way
    terms : Terms
    head : int
        1 or more.

    Raises
    ------
    InputError
        A feed has no price, the mix has not been worked, all die, or nobody goes.
    """
    if head < 1:
        raise InputError(Problem(way.name, f"{head} head", "at least 1 head is wintered"))
    if not 0 <= way.deaths_share < 1:
        raise InputError(Problem(way.name, f"deaths {way.deaths_share:.0%}", "under 100 %"))
    lines = [
        *(Line(name, money.flock_gbp, money.per_head_gbp) for name, money in _said(way)),
        *_feeds(way),
        *_work(way, terms),
    ]
    lines = [_spread(line, head) if line.id in way.scaled else line for line in lines]
    if terms.is_interest_counted:
        lines.append(_interest(lines, way, terms))
    lines.extend(_returns(lines, way, terms))
    place = {name: i for i, name in enumerate(ORDER)}
    lines.sort(key=lambda line: place[FEED if line.is_feed else line.id])
    kept = tuple(line for line in lines if line.flock_gbp or line.per_head_gbp)
    return Budget(way.name, head, way.deaths_share, kept)


def _said(way: Way) -> list[tuple[str, Amount]]:
    """Lines that are money as said, dung taken off, and keep."""
    amounts = [
        ("haulage", way.haulage),
        ("doses", way.doses),
        ("minerals", way.minerals),
        ("bedding", way.bedding),
        ("dung", Amount(-way.dung.per_head_gbp, -way.dung.flock_gbp)),
    ]
    if way.keep is not None:
        paid = way.keep.gbp_per_head_week * way.weeks * paid_share(way)
        amounts.append(("keep", Amount(paid)))
    return amounts


def paid_share(way: Way) -> float:
    """Share of those sent that keep is paid on. [-]"""
    return 1 - way.deaths_share if way.keep and way.keep.paid_on == "returned" else 1.0


def _feeds(way: Way) -> list[Line]:
    if way.is_by_mix:
        if way.mix_gbp_per_head is None:
            raise InputError(Problem(way.name, "its mix has not been worked"))
        return [Line(FEED + MIX, 0.0, way.mix_gbp_per_head)]
    cost: dict[str, float] = {}
    for feed in way.feeds:
        if feed.price_gbp_per_t_fresh is None:
            raise InputError(Problem(way.name, f"{feed.name} has no price"))
        tonnes = feed.kg_fresh_per_head_day * feed.days / 1000
        cost[feed.name] = cost.get(feed.name, 0.0) + tonnes * feed.price_gbp_per_t_fresh
    return [Line(FEED + name, 0.0, gbp) for name, gbp in cost.items()]


def _work(way: Way, terms: Terms) -> list[Line]:
    """Visits, labour, building and land."""
    lines = []
    if way.visits is not None:
        lines.append(Line("visits", visits_gbp(way.visits, terms.wage_gbp_per_h)))
    if way.labour is not None:
        days_paid = way.labour.days * terms.wage_gbp_per_h
        lines.append(
            Line(
                "labour",
                way.labour.hours_per_day * days_paid,
                way.labour.hours_per_head_day * days_paid,
            )
        )
    if way.building is not None:
        yearly = building_gbp_per_year(way.building, terms.interest_share_per_year)
        lines.append(Line("building", yearly))
    if way.land is not None:
        lost = way.land.area_ha * way.land.lost_t_dm_per_ha * way.land.worth_gbp_per_t_dm
        lines.append(Line("land", lost + way.land.repair_gbp))
    return lines


def _spread(line: Line, head: int) -> Line:
    """A flock's line that grows with its number: so much for each head."""
    return Line(line.id, 0.0, line.each_gbp(head))


def _interest(lines: list[Line], way: Way, terms: Terms) -> Line:
    """Interest on what is laid out, which lies out for half the winter on the whole."""
    share = terms.interest_share_per_year * way.days / 2 / DAYS_A_YEAR
    laid_out = [line for line in lines if line.is_outlay]
    return Line(
        "interest",
        share * math.fsum(line.flock_gbp for line in laid_out),
        share * math.fsum(line.per_head_gbp for line in laid_out),
    )


def _returns(lines: list[Line], way: Way, terms: Terms) -> list[Line]:
    """What is lost of the sheep, the wool and the first crop, and what growth is worth."""
    paid_dead = way.keep is None or way.keep.paid_on == "sent"
    sunk = terms.sunk_share * math.fsum(
        line.per_head_gbp for line in lines if line.is_outlay and (line.id != "keep" or paid_dead)
    )
    crop = terms.crop_gbp / (1 + terms.interest_share_per_year) ** YEARS_TO_CROP
    return [
        Line("deaths", 0.0, way.deaths_share * (terms.hogg_gbp + sunk)),
        Line("wool", 0.0, way.wool_less_kg * terms.wool_gbp_per_kg),
        Line("barren", 0.0, way.barren_share * crop),
        Line("growth", 0.0, -way.heavier_kg * terms.growth_gbp_per_kg),
    ]

"""The ways of wintering to compare: the section `wintering:` of a farm file.

Names and values are read by the tables below, every fault of the section in one go; then it is
seen whether the parts agree: a wage where there is work, a value where there are deaths, a price
or a feed of the farm behind every feed put out.
"""

from __future__ import annotations

from datetime import date
from types import MappingProxyType
from typing import Annotated, Any

from pydantic import Field

from ration import units
from ration.animals import HOUSINGS
from ration.errors import InputError
from ration.farm import keys as farm_keys
from ration.farm import outdoors, words
from ration.farm.keys import Entry, reads
from ration.farm.wintering_words import (
    Reader,
    amount,
    area_ha,
    day_said,
    distance,
    dry_price,
    feed_said,
    grass_said,
    hours_said,
    kg_up_to,
    lines_said,
    pounds,
    rate,
    share_up_to,
    work_said,
)
from ration.farm.words import between, id_of, one_of, per
from ration.strict_yaml import Keys, Sheet, tidy
from ration.units import shown
from ration.wintering.records import (
    Amount,
    Building,
    FeedGiven,
    Keep,
    Labour,
    Land,
    Terms,
    Visits,
    Way,
    Wintering,
)

__all__ = ["MOST_WAYS", "Wintering", "wintering_of"]

MOST_WAYS = 8
MOST_FEEDS = 12
USUAL_DAYS = 150
PLACES = {
    "housed": "shed", "indoors": "shed", "inside": "shed", "in the shed": "shed",
    "inbye": "in-bye", "at home": "in-bye", "on the hill": "hill", "tack": "away", "keep": "away",
}  # fmt: skip

# ---------------------------------------------------------------- the tables of names


class VisitsEntry(Entry):
    """Journeys to look at them."""

    number: Annotated[float, reads(between(units.whole, "visits", 0, 400))]
    miles: Annotated[float | None, reads(between(units.number, "miles", 0, 3000))] = None
    journey: Annotated[tuple[float, str] | None, reads(distance)] = None
    rate: Annotated[Any, reads(lambda v: v)] = None
    hours: Annotated[Any, reads(lambda v: v)] = 0.0


class BuildingEntry(Entry):
    """The shed's yearly cost."""

    capital: Annotated[float, reads(pounds("capital", 1e7))]
    years: Annotated[float, reads(between(units.number, "years", 1, 100))]
    interest: Annotated[
        float | None, reads(between(per("year", units.share, "interest"), "interest", 0, 0.4))
    ] = None
    upkeep: Annotated[
        float, reads(between(per("year", units.share, "upkeep"), "upkeep", 0, 0.5, "(50 %)"))
    ] = 0.0
    share: Annotated[float, reads(share_up_to("share", 1.0))] = 1.0


class LandEntry(Entry):
    """Grass lost to winter grazing."""

    area: Annotated[float, reads(area_ha)]
    lost_grass: Annotated[float, reads(grass_said)] = Field(alias="lost grass")
    worth: Annotated[float, reads(dry_price)]
    repair: Annotated[float, reads(pounds("repair", 1e6))] = 0.0


class WayEntry(Entry):
    """One way of wintering."""

    place: Annotated[str | None, reads(one_of(HOUSINGS, "place"))] = None
    start: Annotated[date | None, reads(day_said("from"))] = Field(None, alias="from")
    end: Annotated[date | None, reads(day_said("to"))] = Field(None, alias="to")
    days: Annotated[int | None, reads(between(units.days, "days", 1, 366, "days"))] = None
    places: Annotated[int | None, reads(between(units.whole, "places", 0, 100_000))] = None
    keep: Annotated[
        float | None, reads(rate("keep", 20.0, "week", "head a week", "head/week", "head per week"))
    ] = None
    paid_on: Annotated[str, reads(one_of(("heads sent", "heads returned"), "paid on"))] = Field(
        "heads sent", alias="paid on"
    )
    haulage: Annotated[Amount, reads(amount("haulage"))] = Amount()
    visits: Any = None
    doses: Annotated[Amount, reads(amount("doses"))] = Amount()
    vitamin_d: Annotated[bool | None, reads(words.yes_no)] = Field(None, alias="vitamin d")
    feed: Any = None
    waste: Any = None
    grazing: Any = None
    minerals: Annotated[Amount, reads(amount("minerals"))] = Amount()
    labour: Annotated[tuple[float, float, int | None] | None, reads(work_said)] = None
    bedding: Annotated[Amount, reads(amount("bedding"))] = Amount()
    dung: Annotated[Amount, reads(amount("dung"))] = Amount()
    building: Any = None
    land: Any = None
    deaths: Annotated[float, reads(share_up_to("deaths", 0.5))] = 0.0
    less_wool: Annotated[float, reads(kg_up_to("less wool", 10.0))] = Field(0.0, alias="less wool")
    more_barren: Annotated[float, reads(share_up_to("more barren", 1.0))] = Field(
        0.0, alias="more barren"
    )
    heavier: Annotated[float, reads(kg_up_to("heavier", 40.0))] = 0.0
    grows_with_head: Annotated[tuple[str, ...], reads(lines_said)] = Field(
        (), alias="grows with head"
    )
    note: Annotated[str, reads(words.text)] = ""


class WinteringEntry(Entry):
    """What all the ways share."""

    head: Annotated[int | None, reads(between(units.whole, "head", 1, 100_000))] = None
    wage: Annotated[float | None, reads(rate("wage", 200.0, "h", "hour"))] = None
    value_of_a_hogg: Annotated[float | None, reads(pounds("value of a hogg", 5000.0))] = Field(
        None, alias="value of a hogg"
    )
    margin_of_a_lamb_crop: Annotated[
        float | None, reads(pounds("margin of a lamb crop", 2000.0))
    ] = Field(None, alias="margin of a lamb crop")
    wool: Annotated[float | None, reads(rate("wool", 100.0, "kg"))] = None
    growth: Annotated[float, reads(rate("growth", 50.0, "kg"))] = 0.0
    interest: Annotated[
        float | None, reads(between(per("year", units.share, "interest"), "interest", 0, 0.4))
    ] = None
    count_interest: Annotated[bool, reads(words.yes_no)] = Field(False, alias="count interest")
    sunk_by_then: Annotated[float, reads(share_up_to("sunk by then", 1.0))] = Field(
        0.0, alias="sunk by then"
    )
    basis: Annotated[str, reads(one_of(("heads wintered", "heads returned"), "basis"))] = (
        "heads wintered"
    )
    prices: Any = None
    ways: Any = None
    note: Annotated[str, reads(words.text)] = ""


# ---------------------------------------------------------------- the section


def wintering_of(
    sheet: Sheet, winter: tuple[date, date] | None, offer_ids: tuple[str, ...]
) -> Wintering | None:
    """The section read; None when there is none or it is at fault.

    Parameters
    ----------
    sheet : Sheet
        Takes every fault.
    winter : tuple of date or None
        First and last day; a way without days of its own covers them all.
    offer_ids : tuple of str
        Feeds of the farm, whose price a feed without one takes.
    """
    if "wintering" not in sheet.group(()):
        return None
    return _Reader(sheet, winter, offer_ids).wintering()


class _Reader:
    """Reads the section; every fault goes to the sheet."""

    def __init__(
        self, sheet: Sheet, winter: tuple[date, date] | None, offer_ids: tuple[str, ...]
    ) -> None:
        self.sheet = sheet
        self.winter = winter
        self.days = (winter[1] - winter[0]).days if winter else USUAL_DAYS
        self.offer_ids = offer_ids
        self.prices: dict[str, float] = {}
        self.top: Any = None

    def wintering(self) -> Wintering | None:
        """The whole section."""
        sheet, at = self.sheet, ("wintering",)
        before = len(sheet.problems)
        self.top = top = farm_keys.check(WinteringEntry, sheet.group(())["wintering"], at, sheet)
        if top is None:
            return None
        self.prices = self.price_list()
        ways = self.ways()
        if len(sheet.problems) > before or not ways:
            return None
        self.told(ways)
        if len(sheet.problems) > before:
            return None
        basis = "wintered" if top.basis == "heads wintered" else "returned"
        terms = Terms(
            wage_gbp_per_h=top.wage or 0.0,
            hogg_gbp=top.value_of_a_hogg or 0.0,
            crop_gbp=top.margin_of_a_lamb_crop or 0.0,
            wool_gbp_per_kg=top.wool or 0.0,
            growth_gbp_per_kg=top.growth,
            interest_share_per_year=self.interest(),
            is_interest_counted=top.count_interest,
            sunk_share=top.sunk_by_then,
            basis="wintered" if basis == "wintered" else "returned",
        )
        return Wintering(terms, tuple(ways), top.head)

    def interest(self) -> float:
        """The section's own rate, else the farm's, else what the farm file takes unsaid."""
        if self.top.interest is not None:
            return float(self.top.interest)
        said = self.sheet.group(()).get("interest")
        try:
            return per("year", units.share, "interest")(said, "") if said is not None else 0.06
        except InputError:  # told already, as a fault of the farm's own line
            return 0.06

    def price_list(self) -> dict[str, float]:
        """Prices of feeds put out, by id. [GBP/t fresh]"""
        at: Keys = ("wintering", "prices")
        found = {}
        for name, value in self.group(at, "prices", "feed").items():
            try:
                price = words.price(value)
            except InputError as error:
                self.sheet.add(*error.at(self.sheet.where((*at, name))).problems)
                continue
            if price is not None:
                found[id_of(name)] = price
        return found

    def group(self, at: Keys, what: str, each: str, most: int = MOST_FEEDS) -> dict[str, Any]:
        """A group of names below a name; empty when it is not there."""
        parent = self.sheet.group(at[:-1])
        if at[-1] not in parent:
            return {}
        body = parent[str(at[-1])]
        if not isinstance(body, dict) or not body:
            read = "nothing is there" if not body else f"read {shown(body)}"
            self.sheet.fault(at, f"{read}: {what} is a group with one {each} on each line")
            return {}
        if len(body) > most:
            self.sheet.fault(at, f"{len(body)} names under {what}", f"at most {most}")
            return {}
        return body

    def ways(self) -> list[Way]:
        """Every way."""
        at: Keys = ("wintering", "ways")
        bodies = self.group(at, "ways", "way", MOST_WAYS)
        if "ways" not in self.sheet.group(("wintering",)):
            do = 'Write "ways:" and below it away, hill, in-bye and shed, as many as there are'
            self.sheet.fault(("wintering",), "ways is missing", do=do)
        found = []
        for key, body in bodies.items():
            entry = farm_keys.check(WayEntry, body, (*at, key), self.sheet)
            way = None if entry is None else self.way((*at, key), entry)
            if way is not None:
                found.append(way)
        return found

    def way(self, at: Keys, entry: Any) -> Way | None:
        """One way; None when its place or its days are at fault."""
        place = self.place(at, entry)
        days = self.days_of(at, entry)
        if place is None or days is None:
            return None
        keep = None
        if entry.keep is not None:
            on = "returned" if entry.paid_on == "heads returned" else "sent"
            keep = Keep(entry.keep, "returned" if on == "returned" else "sent")
        elif "paid_on" in entry.model_fields_set and "keep" not in self.sheet.group(at):
            do = 'Write "keep: 95 p a week", or take the line out'
            self.sheet.fault((*at, "paid on"), "there is no keep to be paid", do=do)
        work = entry.labour
        feeds, is_by_mix = self.feeds(at, place, days)
        return Way(
            name=self.sheet.written[at],
            place=place,
            days=days,
            keep=keep,
            haulage=entry.haulage,
            visits=self.visits(at),
            doses=entry.doses,
            feeds=feeds,
            is_by_mix=is_by_mix,
            waste=self.waste(at),
            grazing=self.grazing(at, place),
            minerals=entry.minerals,
            labour=work and Labour(work[0], days if work[2] is None else work[2], work[1]),
            bedding=entry.bedding,
            dung=entry.dung,
            building=self.building(at),
            land=self.land(at),
            deaths_share=entry.deaths,
            wool_less_kg=entry.less_wool,
            barren_share=entry.more_barren,
            heavier_kg=entry.heavier,
            places=entry.places,
            scaled=entry.grows_with_head,
            is_doses_with_vitamin_d=entry.vitamin_d,
            place_in_file=self.sheet.place(at),
        )

    def place(self, at: Keys, entry: Any) -> str | None:
        """Where they are kept: as said, or by the way's own name."""
        if entry.place is not None:
            return str(entry.place)
        name = tidy(at[-1])
        by_name = {tidy(h): h for h in HOUSINGS} | PLACES
        if name in by_name:
            return by_name[name]
        self.sheet.fault(
            at,
            f"{shown(self.sheet.written[at])} does not say where they are kept",
            f"it is one of {', '.join(HOUSINGS)}",
            'Write "place: in-bye" below it',
        )
        return None

    def days_of(self, at: Keys, entry: Any) -> int | None:
        """Days this way covers: its own, from its dates, or the whole winter's."""
        if (entry.start is None) != (entry.end is None):
            missing = "to" if entry.end is None else "from"
            self.sheet.fault(at, f"{missing} is missing", do="Write both from and to, or neither")
            return None
        if entry.start is None:
            return self.days if entry.days is None else int(entry.days)
        if entry.days is not None:
            self.sheet.fault(
                (*at, "days"), "both days and dates are said", do="Keep one of the two"
            )
            return None
        days = (entry.end - entry.start).days
        if not 1 <= days <= 366:
            first, last = units.in_words_day(entry.start), units.in_words_day(entry.end)
            read = f"they are there from {first} to {last}, {days} days"
            self.sheet.fault((*at, "to"), read, "1 to 366 days", "Check the years")
            return None
        return int(days)

    # ------------------------------------------------------------ parts of a way

    def sub(self, at: Keys, name: str, model: type[Entry]) -> Any:
        """A group below a way, checked; None when it is not there or at fault."""
        if name not in self.sheet.group(at):
            return None
        return farm_keys.check(model, self.sheet.group(at)[name], (*at, name), self.sheet)

    def value(self, at: Keys, name: str, reader: Reader, otherwise: Any) -> Any:
        """One value read where the table could not, its fault noted."""
        body = self.sheet.group(at)
        if name not in body:
            return otherwise
        try:
            return reader(body[name])
        except InputError as error:
            self.sheet.add(*error.at(self.sheet.where((*at, name))).problems)
            return otherwise

    def visits(self, way: Keys) -> Visits | None:
        """Journeys; the rate is for a mile or a km as the journey is."""
        entry = self.sub(way, "visits", VisitsEntry)
        if entry is None:
            return None
        at: Keys = (*way, "visits")
        if (entry.miles is None) == (entry.journey is None):
            which = "neither" if entry.miles is None else "both"
            words_ = (
                "of miles and journey are said" if which == "both" else "miles nor journey is said"
            )
            self.sheet.fault(at, f"{which} {words_}", do='Write "miles: 148" or "journey: 240 km"')
            return None
        size, unit = entry.journey or (entry.miles, "mile")
        singular = ("mile",) if unit == "mile" else ("km",)
        if "rate" not in self.sheet.group(at):
            self.sheet.fault(at, "rate is missing", do=f'Write "rate: 45 p a {unit}"')
        gbp = self.value(at, "rate", rate("rate", 10.0, *singular), 0.0)
        hours = self.value(at, "hours", hours_said, 0.0)
        return Visits(entry.number, size, unit, gbp, hours)

    def building(self, way: Keys) -> Building | None:
        """The shed's cost."""
        entry = self.sub(way, "building", BuildingEntry)
        if entry is None:
            return None
        return Building(entry.capital, entry.years, entry.upkeep, entry.share, entry.interest)

    def land(self, way: Keys) -> Land | None:
        """The grass lost."""
        entry = self.sub(way, "land", LandEntry)
        if entry is None:
            return None
        return Land(entry.area, entry.lost_grass, entry.worth, entry.repair)

    def grazing(self, way: Keys, place: str) -> tuple[tuple[date, float], ...] | None:
        """This way's own curve of grazing; on the hill it goes on after New Year."""
        at: Keys = (*way, "grazing")
        if "grazing" not in self.sheet.group(way):
            return None
        if place in ("shed", "away"):
            self.sheet.fault(
                at,
                f"grazing is said of a way {'in the shed' if place == 'shed' else 'on keep'}",
                "it is read for sheep in-bye or on the hill, fed by the mix",
                "Take it out",
            )
            return None
        points = outdoors.curve_of(self.sheet, at, self.winter)
        if place == "hill" or self.winter is None:
            return points or None
        return (*points, *outdoors.end_of_growth(points, self.winter)) or None

    def waste(self, way: Keys) -> MappingProxyType[str, float]:
        """Waste by kind of feed where this way has its own."""
        entry = self.sub(way, "waste", farm_keys.LossEntry)
        said = () if entry is None else entry.model_fields_set
        return MappingProxyType({k: v for k in said if (v := getattr(entry, k)) is not None})

    def feeds(self, way: Keys, place: str, days: int) -> tuple[tuple[FeedGiven, ...], bool]:
        """What is put out by hand, or that the mix is."""
        at: Keys = (*way, "feed")
        raw = self.sheet.group(way).get("feed")
        if isinstance(raw, str) and tidy(raw) in ("the mix", "mix"):
            if place == "away":
                why = "away the host's grass feeds them"
                self.sheet.fault(
                    at, f"read {shown(raw)}: {why}", do="Write what is put out, if any"
                )
            return (), True
        found = []
        for name, body in self.group(at, "feed", "feed").items():
            here: Keys = (*at, name)
            try:
                kg, own_days, price = feed_said(body)
            except InputError as error:
                self.sheet.add(*error.at(self.sheet.where(here)).problems)
                continue
            feed_id = id_of(name)
            if price is None:
                price = self.prices.get(feed_id)
            written = self.sheet.written[here]
            if price is None and feed_id not in self.offer_ids:
                do = f'Write "{kg:g} kg at 140 /t", or put it under wintering > prices'
                self.sheet.fault(here, f"{shown(written)} has no price", do=do)
            if own_days is not None and own_days > days:
                read = f"{written} is put out for {own_days} days"
                self.sheet.fault(here, read, f"this way lasts {days} days")
            found.append(FeedGiven(written, kg, days if own_days is None else own_days, price))
        return tuple(found), False

    def told(self, ways: list[Way]) -> None:
        """Ask for the price behind everything that has to be priced."""
        top = self.top
        needs = (
            ("wage", top.wage, "13.48 /h", "work", lambda w: _hours_in(w)),
            ("value of a hogg", top.value_of_a_hogg, "110", "deaths", lambda w: w.deaths_share),
            ("margin of a lamb crop", top.margin_of_a_lamb_crop, "65", "more barren",
             lambda w: w.barren_share),
            ("wool", top.wool, "10 p a kg", "less wool", lambda w: w.wool_less_kg),
        )  # fmt: skip
        for name, said, example, of, has in needs:
            named = [w.name for w in ways if has(w)]
            if said is None and named:
                self.sheet.fault(
                    ("wintering",),
                    f"{name} is missing",
                    f"{named[0]} has {of}",
                    f'Write "{name}: {example}"',
                )
        if len(ways) < 2:
            self.sheet.fault(
                ("wintering", "ways"), "only one way is there", "two or more are compared"
            )


def _hours_in(way: Way) -> bool:
    work, road = way.labour, way.visits
    return bool((work and (work.hours_per_day or work.hours_per_head_day)) or (road and road.hours))

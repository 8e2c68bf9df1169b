"""One quote of its rows: tiers put together, dates and bases settled, questions asked."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from itertools import pairwise
from types import MappingProxyType
from typing import Any

from ration import units
from ration.errors import Problem
from ration.feeds import Figure
from ration.quotes.cells import Days, Figured, Month, Packs, made_for_by_name
from ration.quotes.found import Line
from ration.quotes.grid import Page
from ration.quotes.headings import WORDS, figure_words
from ration.quotes.records import BAG, BALE, BULK, TONNE_BAG, Quote, Tier

_SHARED = (
    "like", "per_pallet", "least", "most", "charge", "lorry", "all", "haulage", "cash_off",
    "payment", "valid_from", "valid_until", "dated", "delivered_until", "rise", "rise_from",
    "made_for", "note",
)  # fmt: skip


@dataclass
class Group:
    """Rows that make one quote."""

    lines: list[Line]
    merchant: str
    is_sheet_named: bool

    @property
    def first(self) -> Line:
        """The first row."""
        return self.lines[0]

    @property
    def rows(self) -> list[int]:
        """Numbers of its rows."""
        return list(dict.fromkeys(line.row for line in self.lines))


@dataclass
class Asked:
    """Questions of a file, each with the rows it is about."""

    rows: dict[tuple[str, str], list[int]]
    lines: list[str]

    def add(self, page: Page, what: str, rows: Sequence[int]) -> None:
        """Ask one thing of some rows; rows of one sheet are told together."""
        known = self.rows.setdefault((page.name, what), [])
        known += [r for r in rows if r not in known]


class One:
    """Makes one quote of its rows."""

    def __init__(
        self, group: Group, page: Page, asked: Asked, faults: list[tuple[int, Problem]]
    ) -> None:
        self.group, self.page, self.asked, self.faults = group, page, asked, faults
        self.first = group.first
        self.values: dict[str, Any] = dict(self.first.above)
        self.values.update(self.first.values)
        rows = group.rows
        which = f"row {rows[0]}" if len(rows) == 1 else "rows " + ", ".join(map(str, rows))
        self.place = f"{page.where()} {which}"

    def fault(self, read: str, allowed: str = "", do: str = "", line: Line | None = None) -> None:
        """Note a fault of a row, the first of the quote when none is named."""
        row = (line or self.first).row
        self.faults.append((row, Problem(self.page.where(row), read, allowed, do)))

    def ask(self, words: str) -> None:
        """Ask something of this quote alone."""
        self.asked.lines.append(f"{self.place}: {words}")

    def quote(self) -> Quote | None:
        """The quote; None when a fault of it was noted."""
        before = len(self.faults)
        feed = str(self.values["feed"])
        figures = self.together()
        price = self.first.price
        pack, kg = self.pack()
        value = self.values.get
        least, most = self.tonnes("least", pack, kg), self.tonnes("most", pack, kg)
        all_t = self.tonnes("all", pack, kg)
        until, rise, rise_from = self.valid_until(), *self.rise()
        self.check(least, most, all_t, until)
        for what, is_said in (
            ("vat", price.is_ex_vat is not None),
            ("delivery", price.is_collected is not None),
            ("least", least is not None or price.is_collected is True),
            ("pack", bool(price.pack)),
        ):
            if not is_said:
                self.asked.add(self.page, what, self.group.rows)
        made_for = value("made_for")
        if made_for is None and (made_for := made_for_by_name(feed)):
            self.ask(f'"{feed}" sounds made for {made_for}, and is taken so; "made for" would say')
        if "payment_words" in self.values:
            words = self.values["payment_words"]
            self.ask(f'payment "{words}" is not read as days; taken as due on delivery')
        tiers = self.tiers(least or 0.0)
        declared, copper = self.declared(figures)
        if len(self.faults) > before:
            return None
        notes = [str(value("note"))] if value("note") else []
        for line in self.group.lines:
            notes += [n for n in (*line.notes, line.price.note) if n and n not in notes]
        return Quote(
            merchant=self.group.merchant,
            feed=feed,
            tiers=tiers,
            pack=pack,
            pack_kg=kg,
            packs_per_pallet=value("per_pallet"),
            least_drop_t=least or 0.0,
            most_drop_t=most,
            drop_charge_gbp=value("charge", 0.0),
            lorry_t=value("lorry"),
            most_t=all_t,
            is_collected=bool(price.is_collected),
            haulage_gbp_per_t=value("haulage", 0.0),
            cash_off_gbp_per_t=value("cash_off", 0.0),
            payment_days=value("payment", 0),
            valid_from=value("valid_from") or value("dated"),
            valid_until=until,
            delivered_until=value("delivered_until"),
            rise_gbp_per_t_month=rise,
            rise_from=rise_from,
            is_ex_vat=price.is_ex_vat,
            declared=MappingProxyType(declared),
            copper_mg_per_kg_fresh=copper,
            made_for=made_for or "",
            like=str(value("like", "")),
            place=self.place,
            note="; ".join(notes),
        )

    def together(self) -> list[Figured]:
        """Conditions of all rows of the quote; a further tier may repeat them, not change them."""
        figures = {f.nutrient: f for f in self.first.figures}
        for line in self.group.lines[1:]:
            if line.row == self.first.row:
                continue
            for key in _SHARED:
                if key not in line.values:
                    continue
                old = self.first.values.get(key, line.values[key])
                if old != line.values[key] and key != "note":
                    self.fault(f"{WORDS[key]} differs from row {self.first.row}, whose further "
                               "tonnes this row prices", "", "Make the rows agree",
                               line)  # fmt: skip
                elif old != line.values[key]:
                    line.notes = [*line.notes, str(line.values[key])]
                else:
                    self.values[key] = line.values[key]
            if {line.price.is_ex_vat, self.first.price.is_ex_vat} == {True, None}:
                self.first.price = replace(self.first.price, is_ex_vat=True)
            for figure in line.figures:
                old_figure = figures.setdefault(figure.nutrient, figure)
                if old_figure.quantity != figure.quantity:
                    self.fault(f"{figure_words(figure.nutrient)} differs from row "
                               f"{self.first.row}", "", "Make the rows agree", line)  # fmt: skip
        for line in self.group.lines:
            if line.price.question:
                self.ask(line.price.question)
        return list(figures.values())

    def pack(self) -> tuple[str, float | None]:
        """The pack, and its weight [kg]; a bag must say what it weighs."""
        price = self.first.price
        pack = price.pack or BULK
        if pack in (BAG, BALE, TONNE_BAG) and price.pack_kg is None:
            do = f'Write the weight, like "{"18 kg bale" if pack == BALE else "25 kg bag"}"'
            self.fault(f"what a {pack} weighs is not said", "or bulk, when sold by the tonne", do)
        return pack, None if pack == BULK else price.pack_kg

    def tonnes(self, key: str, pack: str, kg: float | None) -> float | None:
        """A load [t], pallets and packs made tonnes."""
        found = self.values.get(key)
        if not isinstance(found, Packs):
            return found
        per = self.values.get("per_pallet") if found.is_pallets else 1
        if kg is None or per is None or pack == BULK:
            what = "what a pallet holds" if found.is_pallets else "what a pack weighs"
            self.fault(f"{WORDS[key]} is in {'pallets' if found.is_pallets else 'packs'} and "
                       f"{what} is not said", "", "Write it in tonnes")  # fmt: skip
            return None
        return found.count * per * kg / 1000

    def valid_until(self) -> date | None:
        """The last day to order."""
        found = self.values.get("valid_until")
        if not isinstance(found, Days):
            return found
        start = self.values.get("dated")
        if start is None:
            self.fault(f"valid {found.days} days, and the date of the quote is not said", "",
                       'Add "dated", or write the last day')  # fmt: skip
            return None
        last: date = start + timedelta(days=found.days)
        return last

    def rise(self) -> tuple[float, date | None]:
        """The rise [GBP/t/month] and the first day of the month it starts."""
        found = self.values.get("rise")
        size, inside = found if found is not None else (0.0, None)
        start = self.values.get("rise_from", inside)
        if size == 0:
            if start is not None and found is None:
                self.fault(
                    "a rise starts and its size is not said", "", "Add the rise, GBP/t/month"
                )
            return 0.0, None
        if inside is not None and start != inside:
            self.fault("the rise starts in two different months", "", "Keep one of them")
        if start is None:
            self.fault("from which month the price rises is not said", "", 'Add "rise from"')
            return size, None
        if isinstance(start, Month):
            known = self.values.get("dated") or self.values.get("valid_from")
            if known is None:
                self.fault(f'"{start.written}" of which year is not said', "",
                           f'Write "{start.written} 2026", or add "dated"')  # fmt: skip
                return size, None
            return size, date(known.year + (start.number < known.month), start.number, 1)
        return size, start

    def check(
        self, least: float | None, most: float | None, all_t: float | None, until: date | None
    ) -> None:
        """What cannot be true together."""
        value = self.values.get
        if least is not None and all_t is not None and least > all_t:
            self.fault(f"the least drop, {least:g} t, is more than all there is, {all_t:g} t")
        if least is not None and most is not None and least > most:
            self.fault(f"the least drop, {least:g} t, is more than the most, {most:g} t")
        start = value("valid_from") or value("dated")
        if until is not None and start is not None and until < start:
            self.fault(f"valid until {units.in_words_day(until)} is before "
                       f"{units.in_words_day(start)}, its first day")  # fmt: skip
        last = value("delivered_until")
        if last is not None and start is not None and last < start:
            self.fault(
                f"delivered until {units.in_words_day(last)} is before the quote's first day"
            )

    def tiers(self, least_t: float) -> tuple[Tier, ...]:
        """Prices by tonnes, rising from 0 t."""
        lines = self.group.lines
        start = lines[0].from_t or 0.0
        if start > least_t:
            self.fault(f"the first price holds from {start:g} t, and none is said for less",
                       "the least drop may say it",
                       f'Add a price from 0 t, or "least drop" {start:g} t')  # fmt: skip
        made = [Tier(0.0, lines[0].price.gbp_per_t_fresh)]
        for before, line in pairwise(lines):
            from_t = line.from_t or 0.0
            if from_t <= max(made[-1].from_t, before.from_t or 0.0):
                self.fault(f"the price from {from_t:g} t does not follow that from "
                           f"{before.from_t or 0:g} t", "tonnes that rise", "Put them in order",
                           line)  # fmt: skip
                continue
            if before.to_t is not None and before.to_t > from_t:
                self.fault(f"prices up to {before.to_t:g} t and from {from_t:g} t overlap", "",
                           "Write the tonnes from which each holds", line)  # fmt: skip
            elif before.to_t is not None and from_t - before.to_t > 1:
                self.fault(f"no price is said between {before.to_t:g} and {from_t:g} t", "",
                           "Ask for it", line)  # fmt: skip
            elif before.to_t is not None and from_t > before.to_t:
                self.ask(f"between {before.to_t:g} and {from_t:g} t no price is said; that for "
                         "less is taken")  # fmt: skip
            if line.price.gbp_per_t_fresh > made[-1].price_gbp_per_t_fresh:
                self.ask(f"the price from {from_t:g} t is higher than that for less")
            made.append(Tier(from_t, line.price.gbp_per_t_fresh))
        if lines[-1].to_t is not None:
            self.ask(f"no price is said from {lines[-1].to_t:g} t; the last one is taken")
        return tuple(made)

    # ------------------------------------------------------------ the label

    def declared(self, figures: list[Figured]) -> tuple[dict[str, Figure], float | None]:
        """Figures per kg DM where that is known, else as fed; and copper as fed [mg/kg fresh]."""
        dm = self.dry_matter(figures)
        made: dict[str, Figure] = {}
        copper = None
        source = self.group.merchant
        if dm is not None:
            made["dm_g_per_kg_fresh"] = Figure(dm, "label", source, place=self.place)
        for f in figures:
            size, basis, nutrient = f.quantity.value, f.quantity.basis, f.nutrient
            if nutrient.startswith(("dm_", "moisture_")):
                continue
            if nutrient == "me_mj_per_kg_dm" and basis is None:
                self.ask(f'energy "{f.written}" does not say whether it is of the dry matter or as '
                         "fed; not used")  # fmt: skip
                continue
            note = ""
            if basis != "dm" and dm is not None:
                note = f"label {f.written} as fed, in dry matter of {dm / 10:g} %"
                of_dm = units.content_per_kg_dm(size, dm / 1000)
                if f.quantity.unit == "g/kg" and of_dm > 1000:
                    self.fault(f"{figure_words(nutrient)} is more than the whole dry matter")
            elif basis == "dm":
                of_dm = size
            else:
                fresh_id = re.sub(r"_per_kg_dm$", "_per_kg_fresh", nutrient)
                made[fresh_id] = Figure(size, "label", source, "as fed", place=self.place)
                of_dm = None
            if of_dm is not None:
                made[nutrient] = Figure(of_dm, "label", source, note, place=self.place)
            if nutrient == "cu_mg_per_kg_dm":
                if basis != "dm":
                    copper = size
                elif dm is not None:
                    copper = units.content_per_kg_fresh(size, dm / 1000)
        return made, copper

    def dry_matter(self, figures: list[Figured]) -> float | None:
        """Dry matter [g/kg fresh], from itself or from the moisture."""
        said = {
            (f.quantity.value if f.nutrient.startswith("dm_") else 1000 - f.quantity.value)
            for f in figures
            if f.nutrient.startswith(("dm_", "moisture_"))
        }
        if len(said) > 1:
            self.fault("dry matter and moisture do not make 100 %")
        return next(iter(said), None)

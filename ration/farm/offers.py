"""The feeds of a farm file: composition, price, stock and limits of each offer.

A feed starts as the row of the table that it is like; laboratory sheets are laid over it, then
the figures written in the farm file. Every figure keeps where it came from.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from types import MappingProxyType
from typing import TYPE_CHECKING, Any

from ration import strict_yaml, units
from ration.errors import InputError
from ration.farm import Lot, Offer, lots
from ration.farm import keys as farm_keys
from ration.farm import words as farm_words
from ration.feeds import Feed, Figure
from ration.strict_yaml import Keys, Sheet, nearest

if TYPE_CHECKING:
    from ration.analysis import AnalysedFeed

# Book figures that no longer hold once another is replaced.
FALL_WITH = {
    "me_mj_per_kg_dm": ("fme_published_mj_per_kg_dm", "domd_g_per_kg_dm"),
    "cp_g_per_kg_dm": ("erdp_published_g_per_kg_dm", "dup_published_g_per_kg_dm"),
}
NO_PRICE = "price to be entered"
UNKNOWN_FEED = Feed(id="", name="a feed", group="any")
NO_LOSS: Any = farm_keys.LossEntry.model_validate({})


_WORDS = {nutrient: word for word, (nutrient, _) in farm_words.FIGURES.items()} | {
    nutrient: f"degradability {part}" for part, nutrient in farm_words.DEGRADABILITY.items()
}


def _path_of(nutrient: str) -> Keys:
    """Names below a feed that a figure was written under."""
    return (
        tuple(strict_yaml.tidy(_WORDS[nutrient]).split(" "))
        if nutrient in (farm_words.DEGRADABILITY.values())
        else (strict_yaml.tidy(_WORDS[nutrient]),)
    )


class Reader:
    """Reads the feeds of one farm file; every fault goes to the sheet."""

    def __init__(
        self,
        sheet: Sheet,
        folder: Path | None,
        tables: Any,
        analyses: Mapping[str, Path | Sequence[Path]],
    ) -> None:
        self.sheet = sheet
        self.folder = folder
        self.tables = tables
        self.analyses = analyses

    def offers(self, raw: dict[str, Any]) -> tuple[dict[str, Offer], dict[str, str]]:
        """Offers by id, and the reason for each feed left out."""
        waste = self.losses(raw, "waste")
        stored = self.losses(raw, "storage loss")
        offers: dict[str, Offer] = {}
        unpriced: dict[str, str] = {}
        seen: dict[str, Keys] = {}
        section = self.sheet.section("feeds", "feed")
        known = [farm_words.id_of(key) for key in section]
        for name in self.analyses:
            if name not in known:
                hint = nearest(name, known) or f"Feeds here: {', '.join(known[:12])}"
                self.sheet.fault(
                    (), f"there is no feed {units.shown(name)} to lay an analysis over", "", hint
                )
        for key, body in section.items():
            keys: Keys = ("feeds", key)
            table = self.tables.feeds
            offer_id = farm_words.id_of(key)
            if not offer_id or offer_id in seen:
                other = (
                    f"it is that of line {self.sheet.line(seen[offer_id])} too"
                    if (offer_id in seen)
                    else "it has no letters"
                )
                self.sheet.fault(keys, f'the name comes to "{offer_id}"', other, "Change the name")
            seen[offer_id] = keys
            entry = farm_keys.check(farm_keys.FeedEntry, body, keys, self.sheet, {"feeds": table})
            if entry is None:
                continue
            feed, analysed = self.feed(key, entry, keys)
            priced = self.priced(entry, keys)
            stocked = self.stocked(entry, keys)
            claims = self.claims(keys, stocked[0])
            self.crossed_offer(entry, keys)
            if feed is None or priced is None:
                continue
            if math.isnan(priced):
                unpriced[offer_id] = NO_PRICE
                continue
            offer = self.offer(offer_id, entry, feed, priced, keys, waste, stored)
            offers[offer_id] = replace(
                offer,
                analysed=analysed,
                stock_t_fresh=stocked[0],
                lot=stocked[1],
                is_stock_guess=stocked[2],
                claims=claims,
                first_claim_t_fresh=min(math.fsum(t for _, t in claims), stocked[0] or 0.0),
                measures=lots.measures(entry.scoop, entry.bucket, entry.bale, stocked[1]),
            )
        if section and not offers and not self.sheet.problems:
            self.sheet.fault(("feeds",), "no feed has a price yet", do="Enter at least one price")
        return offers, unpriced

    def losses(self, raw: dict[str, Any], name: str) -> Any:
        """Shares lost by kind of feed."""
        if name not in raw:
            return NO_LOSS
        entry = farm_keys.check(farm_keys.LossEntry, raw[name], (name,), self.sheet)
        return entry or NO_LOSS

    def offer(
        self,
        offer_id: str,
        entry: Any,
        feed: Feed,
        price: float,
        keys: Keys,
        waste: Any,
        stored: Any,
    ) -> Offer:
        """One offer from its checked entry."""
        said = self.sheet.group(keys)
        is_home = entry.would_fetch is not None
        apart = entry.given_apart
        return Offer(
            id=offer_id,
            name=feed.name,
            feed=feed,
            is_home=is_home,
            price_gbp_per_t_fresh=price,
            price_words=str(said.get("would fetch" if is_home else "price", "")),
            waste_share=_said(entry.waste, _loss_of(feed.group, waste)),
            storage_loss_share=_said(entry.storage_loss, _loss_of(feed.group, stored)),
            least_kg_fresh_per_head_day=entry.least_a_day if apart is None else apart,
            most_kg_fresh_per_head_day=entry.most_a_day if apart is None else apart,
            least_share_of_dm=entry.least_of_dm,
            most_share_of_dm=entry.most_of_dm,
            made_for=entry.made_for,
            signs=entry.signs,
            place=self.sheet.place(keys),
            stock_words=str(said.get("stock", "")),
            note=entry.note,
        )

    def stocked(self, entry: Any, keys: Keys) -> tuple[float | None, Lot | None, bool]:
        """Tonnes in hand, the bales behind them and whether it is a guess."""
        said = self.sheet.group(keys)
        nothing = (None, None, False)
        weighed = None
        if "weighed" in said:
            weighed = self.weighed(said["weighed"], (*keys, "weighed"))
        if ("stock" in said and entry.stock is None) or ("weighed" in said and weighed is None):
            return nothing  # the fault is told already
        try:
            return lots.settled(entry.stock, weighed)
        except InputError as error:
            at = "stock" if weighed is None else "weighed"
            self.sheet.add(*error.at(self.sheet.where((*keys, at))).problems)
        return nothing

    def weighed(self, raw: object, keys: Keys) -> lots.Weights | None:
        """Bales weighed, as text, as a list of weights or as a group."""
        try:
            if not isinstance(raw, dict):
                return lots.weights(raw)
            entry = farm_keys.check(farm_keys.WeighedEntry, raw, keys, self.sheet)
            if entry is None:
                return None
            return lots.checked(entry.number, entry.mean, entry.sd, list(raw.values()))
        except InputError as error:
            self.sheet.add(*error.at(self.sheet.where(keys)).problems)
        return None

    def claims(self, keys: Keys, stock_t: float | None) -> tuple[tuple[str, float], ...]:
        """Who has first call and on how much [t], held against the stock."""
        said, sheet = self.sheet.group(keys), self.sheet
        at: Keys = (*keys, "first claim")
        if "first claim" not in said:
            return ()
        raw = said["first claim"]
        classes = {
            key: sheet.written[("other stock", key)] for key in sheet.group(("other stock",))
        }
        before = len(sheet.problems)
        found: dict[str, float] = {}
        if isinstance(raw, dict):
            if not raw:
                sheet.fault(at, "nothing is there", do='Write "ewes: 7.7 t" indented below it')
            for name, value in raw.items():
                if classes and name not in classes:
                    read = f"{units.shown(sheet.written[(*at, name)])} is not under other stock"
                    hint = nearest(name, tuple(classes)) or "Name it there too"
                    sheet.fault((*at, name), read, "", hint)
                self.claim(found, classes.get(name, sheet.written[(*at, name)]), value, (*at, name))
        else:
            only = next(iter(classes.values())) if len(classes) == 1 else "other stock"
            self.claim(found, only, raw, at)
        total = math.fsum(found.values())
        if len(sheet.problems) > before:
            return ()
        if total > 0 and "stock" not in said:
            sheet.fault(at, "there is a first claim but no stock", do='Write "stock: 11.8 t"')
        elif stock_t is not None and stock_t + 1e-9 < total < math.inf:
            read = f"the first claim {total:g} t is more than the stock {stock_t:g} t"
            sheet.fault(at, read, do='Write "all" for all of it')
        elif math.isinf(total) and len(found) > 1:
            sheet.fault(at, '"all" leaves nothing for the others', do="Write each one's tonnes")
        elif stock_t is not None:
            return tuple((n, min(t, stock_t)) for n, t in found.items() if min(t, stock_t) > 0)
        return ()

    def claim(self, found: dict[str, float], name: str, value: object, keys: Keys) -> None:
        """One claim [t], infinite for all of it; a fault goes to the sheet."""
        try:
            found[name] = farm_words.claim(value)
        except InputError as error:
            self.sheet.add(*error.at(self.sheet.where(keys)).problems)

    def priced(self, entry: Any, keys: Keys) -> float | None:
        """Price of a feed [GBP/t]; NaN when it is to be entered, None when at fault."""
        said = self.sheet.group(keys)
        if ("price" in said) == ("would fetch" in said):
            which = "both price and would fetch are" if "price" in said else "no price is"
            allowed = 'bought feed has a "price", feed of your own has what it "would fetch"'
            self.sheet.fault(keys, f"{which} said", allowed, 'Write one, or "price: to be entered"')
            return None
        if not entry.model_fields_set & {"price", "would_fetch"}:
            return None  # its fault is told already
        if "would fetch" in said:
            return float(entry.would_fetch)
        return math.nan if entry.price is None else float(entry.price) + (entry.haulage or 0.0)

    def crossed_offer(self, entry: Any, keys: Keys) -> None:
        """Refuse crossed limits of one feed."""
        fault = self.sheet.fault
        if entry.given_apart is not None and (entry.least_a_day or entry.most_a_day is not None):
            fault(
                (*keys, "given apart"),
                "given apart stands beside least or most a day",
                "it is one of the two: given apart is neither more nor less",
                "Take one of them out",
            )
        if entry.most_a_day is not None and entry.least_a_day > entry.most_a_day:
            fault(
                (*keys, "least a day"),
                f"least a day {entry.least_a_day:g} kg is over most a day {entry.most_a_day:g} kg",
                "the least must be under the most",
                "Change one of the two",
            )
        if entry.most_of_dm is not None and entry.least_of_dm > entry.most_of_dm:
            fault(
                (*keys, "least of dry matter"),
                f"least of dry matter {entry.least_of_dm:.0%} is over most {entry.most_of_dm:.0%}",
                "the least must be under the most",
                "Change one of the two",
            )

    def feed(self, key: str, entry: Any, keys: Keys) -> tuple[Feed | None, AnalysedFeed | None]:
        """Composition: the table's row, then the laboratory's sheet, then the user's figures."""
        table, sheet = self.tables.feeds, self.sheet
        offer_id = farm_words.id_of(key)
        if "like" in sheet.group(keys) and entry.like is None:
            # that fault is told already; its own figures are held against any feed's range
            self.with_own_figures(UNKNOWN_FEED, entry, keys)
            return None, None
        like = entry.like or (offer_id if offer_id in table else None)
        if like is None:
            hint = nearest(offer_id, tuple(table))
            sheet.fault(
                keys,
                f'"{sheet.written[keys]}" does not say which feed of the table it is like',
                "",
                hint or 'Write "like: hay-average"; the list: ration feeds',
            )
            self.with_own_figures(UNKNOWN_FEED, entry, keys)
            return None, None
        words = sheet.written[keys].replace("_", " ").replace("-", " ").strip()
        name = entry.name or words
        feed: Feed = replace(table[like], name=name)
        if offer_id in self.analyses:
            said = self.analyses[offer_id]
            paths: tuple[Path, ...] = (said,) if isinstance(said, Path) else tuple(said)
        else:
            paths = self.sheet.own_files(self.folder, entry.analysis, (*keys, "analysis"))
        analysed = self.analysed(feed, paths, entry.checked, keys) if paths else None
        return self.with_own_figures(analysed.feed if analysed else feed, entry, keys), analysed

    def analysed(
        self, feed: Feed, paths: tuple[Path, ...], is_checked: bool, keys: Keys
    ) -> AnalysedFeed | None:
        """A feed with laboratory sheets laid over; None when a sheet is at fault."""
        from ration import analysis

        accept = tuple(self.tables.nutrients) if is_checked else ()
        try:
            sheets = [s for p in paths for s in analysis.read_sheet(p, self.tables, accept=accept)]
            return analysis.feed_from(sheets, feed, self.tables, accept=accept)
        except InputError as error:
            where = self.sheet.where((*keys, "analysis"))
            self.sheet.add(*(p if p.where else p.at(where) for p in error.problems))
            return None

    def with_own_figures(self, feed: Feed, entry: Any, keys: Keys) -> Feed | None:
        """The user's figures laid over, per kg of dry matter and marked as his own."""
        said = self.sheet.group(keys)
        own: dict[str, Figure] = {}
        dm = feed.get("dm_g_per_kg_fresh")
        for word, (nutrient, _) in farm_words.FIGURES.items():
            quantity = getattr(entry, nutrient)
            if quantity is None:
                continue
            at: Keys = (*keys, strict_yaml.tidy(word))
            value = quantity.value
            note = f"written: {said.get(strict_yaml.tidy(word))}"
            if nutrient == "dm_g_per_kg_fresh":
                dm = value
            elif quantity.basis == "fresh":
                if dm is None:
                    self.sheet.fault(
                        at,
                        f"{word} is per kg fresh and the dry matter is not known",
                        do='Add "dry matter: 86 %"',
                    )
                    continue
                value = units.content_per_kg_dm(value, dm / 1000)
                note += f", at {dm / 10:g} % dry matter"
            own[nutrient] = Figure(value, "user", note=note, place=self.sheet.place(at))
        if "degradability" in said:
            own |= self.degradability(said["degradability"], (*keys, "degradability"))
        if not own:
            return feed
        self.believable(feed, own, entry.checked, keys)
        old = {n for new, gone in FALL_WITH.items() if new in own for n in gone}
        kept = {n: figure for n, figure in feed.figures.items() if n not in old}
        return replace(feed, figures=MappingProxyType({**kept, **own}))

    def degradability(self, raw: object, keys: Keys) -> dict[str, Figure]:
        """Breakdown of the protein: a, b and c."""
        entry = farm_keys.check(farm_keys.DegradabilityEntry, raw, keys, self.sheet)
        if entry is None:
            return {}
        said = self.sheet.group(keys)
        return {
            nutrient: Figure(
                getattr(entry, k).value,
                "user",
                note=f"written: {said.get(k)}",
                place=self.sheet.place((*keys, k)),
            )
            for k, nutrient in farm_words.DEGRADABILITY.items()
        }

    def believable(
        self, feed: Feed, own: Mapping[str, Figure], is_checked: bool, keys: Keys
    ) -> None:
        """Refuse the user's figures that cannot be right for such a feed, or among themselves."""
        from ration.tables.records import Doubt, consistency

        for nutrient, figure in own.items():
            least, most = self.tables.range_of(nutrient, feed.group)
            if is_checked or least <= figure.value <= most:
                continue
            word, unit = _WORDS[nutrient], self.tables.nutrient(nutrient).unit
            written = figure.note.removeprefix("written: ")
            hint = 'Correct it; if it is right add "checked: yes" to this feed'
            if "%" in written and least <= figure.value / 10 <= most:
                hint = f"Did you mean {figure.value / 10:g} g/kg?"
            elif least <= figure.value * 10 <= most and unit.startswith("g/kg"):
                hint = f"Did you mean {figure.value:g} %?"
            self.sheet.fault(
                (*keys, *_path_of(nutrient)),
                f"read {units.shown(written)}: {word} of {figure.value:g} {unit}",
                f"{least:g} to {most:g} is believable for {feed.kind_words}",
                hint,
            )
        for problem in consistency(Feed(feed.id, feed.name, feed.group, own)):
            if not isinstance(problem, Doubt):
                self.sheet.fault(keys, problem.read, problem.allowed, problem.do)


def _said(own: float | None, usual: float) -> float:
    return usual if own is None else own


def _loss_of(group: str, losses: Any) -> float:
    """Share lost of a feed of this group, from the farm's losses by kind."""
    if group in ("hay", "silage", "straw", "grazing"):
        return float(getattr(losses, group))
    if group in ("root", "green"):
        return float(losses.roots)
    if group == "mineral" and losses.minerals is not None:
        return float(losses.minerals)
    return float(losses.trough_feed)

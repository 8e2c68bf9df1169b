"""Which feed a merchant's quote delivers: one of the farm's, or one that only quotes bring.

A quote is tied by its exact name or by what it is said to be like, never by a likeness of
letters. A label's own figures make a feed of their own.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace
from difflib import get_close_matches
from types import MappingProxyType
from typing import TYPE_CHECKING

from ration import units
from ration.errors import InputError, Problem
from ration.farm import Offer, Store
from ration.farm.offers import FALL_WITH
from ration.farm.words import id_of
from ration.feeds import Feed, Figure
from ration.quotes.records import Quote
from ration.tables.records import Doubt, consistency

if TYPE_CHECKING:
    from ration.farm import Farm
    from ration.tables import Tables

COPPER, DM = "cu_mg_per_kg_dm", "dm_g_per_kg_fresh"
COPPER_FRESH = "cu_mg_per_kg_fresh"


def who(quote: Quote) -> str:
    """The merchant and the feed, to begin a line about a quote."""
    return f"{quote.merchant or 'the farm file'}, {quote.feed}"


class FeedBook:
    """The farm's feeds by name, and those that quotes bring."""

    def __init__(self, farm: Farm, tables: Tables) -> None:
        self.farm, self.tables = farm, tables
        self.offers: dict[str, Offer] = {o.id: o for o in farm.offers}
        self.stands_for: dict[str, str] = {}
        self.notes: list[str] = []
        self.named: dict[str, dict[str, Offer]] = {}
        for o in farm.offers:
            for name in {o.id, id_of(o.name)}:
                self.named.setdefault(name, {})[o.id] = o
        self.table_ids = {id_of(f.name): i for i, f in tables.feeds.items()}
        self.table_ids |= {i: i for i in tables.feeds}

    def offer_for(self, quote: Quote) -> str:
        """Id of the feed a quote delivers; a new feed is entered among the offers."""
        base = self.farm_feed(quote, quote.feed)
        named_home = base if base is not None and base.is_home else None
        like, like_feed = self.like(quote)
        if named_home is not None:
            base = None  # his feed, not yours, whatever it is called
        elif base is not None and like is None and like_feed not in (None, base.feed.id):
            self.notes.append(
                f"{who(quote)}: the farm file's {base.name} is like {base.feed.id}, the quote "
                f"says {like_feed}: taken as a feed of its own."
            )
            base = None
        if base is None and like is not None and not like.is_home:
            base = like
        feed = self.composition(quote, base, like, like_feed)
        if feed is None:
            if quote.made_for:  # refused whatever is in it
                bare = Feed(id_of(quote.feed), quote.feed, "any")
                return self.entered(quote, Offer(bare.id, bare.name, bare, False, 0.0), False, "")
            raise InputError(self.untied(quote, named_home))
        own = self.declared(quote, feed)
        if base is not None and not own:
            return base.id
        gone = {n for new, old in FALL_WITH.items() if new in own for n in old}
        kept = {n: f for n, f in feed.figures.items() if n not in gone}
        name = f"{quote.feed}, {quote.merchant}" if own else quote.feed
        feed = replace(feed, name=name, figures=MappingProxyType({**kept, **own}))
        if base is None:
            return self.entered(quote, self.blank(quote, feed), bool(own), "")
        fresh = replace(
            base,
            name=name,
            feed=feed,
            least_kg_fresh_per_head_day=0.0,
            least_share_of_dm=0.0,
            stock_t_fresh=None,
            first_claim_t_fresh=0.0,
            stock_words="",
            is_stock_guess=False,
            signs=(),
            analysed=None,
            lot=None,
            claims=(),
        )
        return self.entered(quote, fresh, bool(own), base.id)

    def farm_feed(self, quote: Quote, name: str) -> Offer | None:
        """The farm's feed of exactly this id or name."""
        found = self.named.get(id_of(name), {})
        if len(found) > 1:
            raise InputError(
                Problem(
                    quote.place,
                    f'{who(quote)}: "{name}" is the name of several feeds of the farm file',
                    ", ".join(found),
                    "Use one of these ids in the quote",
                )
            )
        return next(iter(found.values()), None)

    def like(self, quote: Quote) -> tuple[Offer | None, str | None]:
        """What the sheet says the feed is like: one of the farm's, or an id of the table."""
        if not quote.like:
            return None, None
        if (offer := self.farm_feed(quote, quote.like)) is not None and not offer.is_home:
            return offer, None
        if (known := self.table_ids.get(id_of(quote.like))) is not None:
            return None, known
        if offer is not None:
            return offer, None
        raise InputError(
            Problem(
                quote.place,
                f'{who(quote)}: like "{quote.like}" is not a feed of the table',
                self.near(quote.like),
                "List them with: ration feeds",
            )
        )

    def composition(
        self, quote: Quote, base: Offer | None, like: Offer | None, like_feed: str | None
    ) -> Feed | None:
        """Figures to start from: the farm's feed, the like, or the table's row of that name."""
        if base is not None:
            return base.feed
        if like is not None:
            return like.feed
        known = like_feed or self.table_ids.get(id_of(quote.feed))
        return None if known is None else self.tables.feeds[known]

    def near(self, name: str) -> str:
        """The nearest names of feeds, for a fault."""
        known = [*self.named, *self.table_ids]
        close = list(dict.fromkeys(get_close_matches(id_of(name), known, n=3, cutoff=0.5)))
        return f"nearest: {', '.join(close)}" if close else "nothing is near it"

    def untied(self, quote: Quote, named_home: Offer | None) -> Problem:
        """The fault of a quote that names no feed."""
        read, allowed = "is not tied to a feed", self.near(quote.feed)
        if named_home is not None:
            read, allowed = "has the name of your own feed, which he cannot deliver", ""
        elif id_of(quote.feed) in {i for i, _ in self.farm.unpriced}:
            allowed = "the farm file has it without a price, so without figures here"
        do = 'Say under "like" which feed of the table it is like; ration feeds lists them'
        return Problem(quote.place, f"{who(quote)}: {read}", allowed, do)

    def declared(self, quote: Quote, feed: Feed) -> dict[str, Figure]:
        """The label's figures per kg DM, where they differ from what is known of the feed."""
        said = dict(quote.declared)
        dm = said[DM].value if DM in said else feed.get(DM)
        own: dict[str, Figure] = {}
        if quote.copper_mg_per_kg_fresh is not None and COPPER not in said:
            said.setdefault(COPPER_FRESH, Figure(quote.copper_mg_per_kg_fresh, "label"))
        faults = []
        for nutrient, figure in said.items():
            value, note = figure.value, figure.note
            if nutrient.endswith("_per_kg_fresh") and nutrient != DM:
                if dm is None or not dm > 0:
                    faults.append(
                        Problem(
                            quote.place,
                            f"{who(quote)}: {nutrient} {value:g} is per kg fresh and the dry "
                            "matter is not known",
                            do="Ask for the dry matter",
                        )
                    )
                    continue
                nutrient = nutrient.removesuffix("fresh") + "dm"
                value = units.content_per_kg_dm(value, dm / 1000)
                note = note or f"{figure.value:g} per kg fresh, at {dm / 10:g} % dry matter"
            place = figure.place or quote.place
            own[nutrient] = replace(figure, value=value, mark="label", note=note, place=place)
        faults += self.unbelievable(quote, feed, own)
        if faults:
            raise InputError(*faults)
        return {n: f for n, f in own.items() if not self.same(feed, n, f.value)}

    def same(self, feed: Feed, nutrient: str, value: float) -> bool:
        """Whether a feed has this figure already, to the digit the table prints."""
        known = feed.get(nutrient)
        places = self.tables.nutrient(nutrient).decimals
        return known is not None and round(known, places) == round(value, places)

    def unbelievable(
        self, quote: Quote, feed: Feed, own: Mapping[str, Figure]
    ) -> Iterable[Problem]:
        """Figures of a label that cannot be right for such a feed, or among themselves."""
        is_whole = True
        for nutrient, figure in own.items():
            least, most = self.tables.range_of(nutrient, feed.group)
            if not least <= figure.value <= most:
                is_whole = False
                known = self.tables.nutrient(nutrient)
                yield Problem(
                    quote.place,
                    f"{who(quote)}: declares {known.name.lower()} of {figure.value:.4g} "
                    f"{known.unit}",
                    f"{least:g} to {most:g} is believable for {feed.kind_words}",
                    "Ask for the label",
                )
        if not is_whole:
            return
        for problem in consistency(Feed(feed.id, feed.name, feed.group, own)):
            if not isinstance(problem, Doubt):
                read = f"{who(quote)}: {problem.read}"
                yield Problem(quote.place, read, problem.allowed, problem.do)

    def blank(self, quote: Quote, feed: Feed) -> Offer:
        """A feed the farm does not have, its losses those of its kind on the farm."""
        kind = _loss_kind(feed.group)
        alike = [o for o in self.farm.offers if _loss_kind(o.feed.group) == kind]
        alike.sort(key=lambda o: (o.feed.group != feed.group, o.is_home))
        if not alike:
            self.notes.append(
                f"{who(quote)}: the farm has no {kind}, so nothing is taken off for waste."
            )
        return Offer(
            id="",
            name=feed.name,
            feed=feed,
            is_home=False,
            price_gbp_per_t_fresh=0.0,
            waste_share=alike[0].waste_share if alike else 0.0,
            storage_loss_share=alike[0].storage_loss_share if alike else 0.0,
        )

    def entered(self, quote: Quote, offer: Offer, is_own: bool, stands_for: str) -> str:
        """Enter a feed under an id that no other feed has; the same feed once only."""
        own_id = id_of(f"{quote.feed} {quote.merchant}")
        names = [own_id] if is_own else [id_of(quote.feed), own_id]
        names += [f"{own_id}-{n}" for n in range(2, len(self.offers) + 3)]
        price = quote.tiers[0].price_gbp_per_t_fresh + quote.haulage_gbp_per_t
        offer = replace(
            offer,
            is_home=False,
            price_gbp_per_t_fresh=price,
            price_words=f"quote of {quote.merchant}",
            made_for=offer.made_for or (quote.made_for if not offer.feed.figures else ""),
            place=quote.place,
            note=quote.note,
        )
        for name in names:
            old = self.offers.get(name)
            if old is None:
                self.offers[name] = replace(offer, id=name)
                self.stands_for[name] = stands_for
                break
            if name in self.stands_for and _alike(old.feed, offer.feed):
                break
        return name

    def with_stock(self, quote: Quote, offer_id: str) -> Quote:
        """The quote, with all there is by the farm file where the quote does not say."""
        offer = self.offers[offer_id]
        if quote.most_t is not None or offer.stock_t_fresh is None:
            return quote
        self.notes.append(
            f"{who(quote)}: at most {offer.stock_t_fresh:g} t, by the farm file; the quote does "
            "not say."
        )
        return replace(quote, most_t=offer.stock_t_fresh)

    def stores(self) -> tuple[Store, ...]:
        """The farm's stores, new feeds put where their like lies."""
        out = list(self.farm.winter.stores)
        for new, base in self.stands_for.items():
            feed = self.offers[new].feed
            group = {o.id for o in self.farm.offers if o.feed.group == feed.group}
            alike = {o.id for o in self.farm.offers if o.feed.id == feed.id}
            for ids in ({base}, alike, group):
                at = [k for k, s in enumerate(out) if ids & set(s.offer_ids)]
                if at:
                    break
            if len(at) == 1:
                out[at[0]] = replace(out[at[0]], offer_ids=(*out[at[0]].offer_ids, new))
            elif out:
                name = self.offers[new].name
                self.notes.append(f"{name}: the farm file does not say which store it lies in.")
        return tuple(out)


def _alike(one: Feed, other: Feed) -> bool:
    """The same figures of the same feed."""
    figures = {n: f.value for n, f in one.figures.items()}
    return one.id == other.id and figures == {n: f.value for n, f in other.figures.items()}


def _loss_kind(group: str) -> str:
    """Kind of feed by how it is lost: hay, silage, straw, grazing, roots, minerals, trough feed."""
    if group in ("hay", "silage", "straw", "grazing"):
        return group
    if group in ("root", "green"):
        return "roots"
    return "mineral" if group == "mineral" else "trough feed"

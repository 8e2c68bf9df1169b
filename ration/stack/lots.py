"""A farm's stack of hay: what there is, who eats it, and until when.

Before there is a plan, what the batches eat is assumed; afterwards it is what the plan feeds.
Others with first call have theirs first, the batches what is left.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING

from ration import stack
from ration.animals import Batch
from ration.errors import OutOfRange, Problem
from ration.farm import Farm, Offer
from ration.plain_text import joined
from ration.stack import LongWinter, RunOut, Tonnes, Use
from ration.weighing.store import IN_STORE

if TYPE_CHECKING:
    from ration.winter.records import Plan

HAY_KG_PER_HEAD_DAY = 0.80  # eaten; common practice, no source
USUAL_HAY_DM_SHARE = 0.85  # common practice, no source
LEAST_T = 0.005
OTHERS = "other stock"
LAMBS = ("ewe-lamb", "wether-lamb", "tup-lamb")


@dataclass(frozen=True)
class LotLine:
    """One lot at home.

    Attributes
    ----------
    offer_id, name : str
    tonnes : Tonnes
        All of it. [t fresh]
    claims : tuple of (str, float)
        Who else has first call, and on how much. [t fresh]
    left : Tonnes
        After the claims. [t fresh]
    run_out : RunOut
        Of what is left; of the claims where they have all of it.
    is_hay : bool
        Whether it counts in the line on top.
    """

    offer_id: str
    name: str
    tonnes: Tonnes
    claims: tuple[tuple[str, float], ...]
    left: Tonnes
    run_out: RunOut
    is_hay: bool

    @property
    def words(self) -> str:
        """The lot in one line, and how its weight is known."""
        kept = math.fsum(t for _, t in self.claims)
        if not kept:
            line = stack.lot_line(self.name, self.left, self.run_out)
        elif self.left.t <= LEAST_T:
            name = f"{self.name}, all kept for {_who(self.claims)}"
            line = stack.lot_line(name, self.tonnes, self.run_out)
        else:
            name = f"{self.name}, besides {kept:.1f} t kept for {_who(self.claims)}"
            line = stack.lot_line(name, self.left, self.run_out)
        return f"{line}. [{self.tonnes.words}]" if self.tonnes.words else f"{line}."


@dataclass(frozen=True)
class Stacked:
    """The stack of a farm over a winter.

    Attributes
    ----------
    farm : Farm
    kind : str
        hay, or silage where there is no hay; "" where there is neither.
    is_planned : bool
        Whether what is eaten is a plan's; else it is assumed.
    flock : str
        What the batches are called: hoggs, gimmers, sheep.
    kg_per_head_day : float or None
        Assumed to be eaten. [kg fresh/head/day]
    put_out_t : float or None
        What that comes to with waste. [t fresh]
    wanted_t : float
        Out of the stack over the winter, for the batches. [t fresh]
    bought_t : float
        Of the kind, by the plan. [t fresh]
    whole : Tonnes
        All lots of the kind together. [t fresh]
    claims : tuple of (str, float)
        On the kind. [t fresh]
    left : Tonnes
        For the batches, bought ones in. [t fresh]
    run_out : RunOut
        Of what is left.
    long : LongWinter
    lots : tuple of LotLine
    classes : mapping of str to RunOut
        By who eats: those with first call, then the batches.
    more_t : mapping of str to float
        What a long winter takes more, by who eats. [t fresh]
    """

    farm: Farm
    kind: str
    is_planned: bool
    flock: str
    kg_per_head_day: float | None
    put_out_t: float | None
    wanted_t: float
    bought_t: float
    whole: Tonnes
    claims: tuple[tuple[str, float], ...]
    left: Tonnes
    run_out: RunOut
    long: LongWinter
    lots: tuple[LotLine, ...]
    classes: Mapping[str, RunOut]
    more_t: Mapping[str, float]

    @property
    def line(self) -> str:
        """The one line on top."""
        if not self.kind and not self.bought_t:
            return "There is no hay or silage in store, and none is bought."
        kind, kept = self.kind or "hay", math.fsum(t for _, t in self.claims)
        what = f"{kind.capitalize()} for the {self.flock}"
        what += f", {self.bought_t:.1f} t of it bought" if self.bought_t > LEAST_T else ""
        if kept:
            what += f", once {_who(self.claims)} have their {kept:.1f} t,"
        elif self.bought_t > LEAST_T:
            what += ","
        if self.left.t <= LEAST_T:
            wanted = f"; {self.run_out.short_t:.1f} t is wanted" if self.run_out.wanted_t else ""
            return f"{what.rstrip(',')}: there is none{wanted}."
        return f"{stack.in_one_line(what, self.run_out, self.long)}."


def flock_word(batches: Sequence[Batch]) -> str:
    """Hoggs for lambs in their first winter; else the one class they are of, or sheep."""
    classes = {b.sheep_class for b in batches}
    if classes <= set(LAMBS):
        return "hoggs"
    return f"{classes.pop()}s" if len(classes) == 1 else "sheep"


def estimated(farm: Farm, kg_per_head_day: float = HAY_KG_PER_HEAD_DAY) -> Stacked:
    """The stack before there is a plan.

    Parameters
    ----------
    farm : Farm
    kg_per_head_day : float
        Hay that each of the batches is taken to eat; of silage as much dry matter.
        [kg fresh/head/day]

    Raises
    ------
    OutOfRange
        A weight that no sheep of this kind eats.
    """
    if not 0 < kg_per_head_day <= 5:
        read = f"{kg_per_head_day:g} kg of hay a head a day"
        raise OutOfRange(Problem("--hay", read, "over 0, at most 5 kg"))
    lots = _lots(farm)
    kind = _kind(lots)
    main = [o for o in lots if o.feed.group == kind]
    weights = [o.available_t_fresh or 0.0 for o in main]
    if not sum(weights):
        weights = [1.0] * len(main)
    kg = kg_per_head_day
    if kind == "silage":
        dm = _mean([(o.feed.get("dm_g_per_kg_fresh") or 350.0) / 1000 for o in main], weights)
        kg *= USUAL_HAY_DM_SHARE / dm
    waste = _mean([o.waste_share for o in main], weights)
    loss = _mean([o.storage_loss_share for o in main], weights)
    head = sum(b.head for b in farm.batches)
    put_out = stack.winter_tonnes(head, farm.days, kg, waste)
    wanted = put_out / (1 - loss)
    flock = flock_word(farm.batches)
    available = math.fsum(o.available_t_fresh or 0.0 for o in main)
    shares = {o.id: (o.available_t_fresh or 0.0) / available if available else 0.0 for o in main}
    own = {
        i: stack.uses_over(flock, [(farm.start, farm.end, wanted * share)])
        for i, share in shares.items()
    }
    uses = stack.uses_over(flock, [(farm.start, farm.end, wanted)])
    return _stacked(farm, lots, kind, flock, uses, own, kg=kg, put_out_t=put_out)


def planned(plan: Plan) -> Stacked:
    """The stack as a plan feeds it, what the plan buys of the same kind counted in."""
    farm = plan.farm
    lots = _lots(farm)
    kind = _kind(lots) or _kind([o for o in plan.offers if _is_kind(o)])
    flock = flock_word(farm.batches)
    ids = {o.id for o in plan.offers if o.feed.group == kind}
    bought = math.fsum(d.tonnes for d in plan.deliveries if d.supply.offer_id in ids)

    def uses(of: set[str]) -> tuple[Use, ...]:
        spans: dict[tuple[date, date], float] = {}
        for s in plan.stocks:
            if s.offer_id in of:
                span = (s.period.start, s.period.end)
                spans[span] = spans.get(span, 0.0) + s.fed_t + s.lost_t
        return stack.uses_over(flock, [(a, b, t) for (a, b), t in sorted(spans.items())])

    own = {o.id: uses({o.id}) for o in lots}
    return _stacked(farm, lots, kind, flock, uses(ids), own, bought_t=bought, is_planned=True)


def _stacked(
    farm: Farm,
    lots: Sequence[Offer],
    kind: str,
    flock: str,
    uses: tuple[Use, ...],
    own: Mapping[str, tuple[Use, ...]],
    *,
    kg: float | None = None,
    put_out_t: float | None = None,
    bought_t: float = 0.0,
    is_planned: bool = False,
) -> Stacked:
    main = [o for o in lots if o.feed.group == kind]
    claims: dict[str, float] = {}
    for offer in main:
        for name, tonnes in _claims(offer):
            claims[name] = claims.get(name, 0.0) + tonnes
    whole = stack.together(map(_in_hand, main)) if main else Tonnes(0.0, 0.0, 0.0)
    left = stack.after_claims(whole, math.fsum(claims.values()))
    if bought_t > LEAST_T:
        left = stack.together([left, Tonnes(bought_t, bought_t, bought_t, "bought by weight")])
    start, end, days = farm.start, farm.end, farm.winter.long_winter_days
    others = stack.claim_uses(tuple(claims.items()), farm.winter.other_stock, start, end)
    both = (*others, *uses)
    longer = stack.longer(both, end, days)
    more = {
        name: math.fsum(u.t for u in longer if u.name == name)
        - math.fsum(u.t for u in both if u.name == name)
        for name in dict.fromkeys(u.name for u in both)
    }
    return Stacked(
        farm=farm,
        kind=kind,
        is_planned=is_planned,
        flock=flock,
        kg_per_head_day=kg,
        put_out_t=put_out_t,
        wanted_t=math.fsum(u.t for u in uses),
        bought_t=bought_t,
        whole=whole,
        claims=tuple(claims.items()),
        left=left,
        run_out=stack.run_out(left, uses, start),
        long=stack.long_winter(left, uses, start, end, days),
        lots=tuple(_lot_line(farm, o, own.get(o.id, ()), o.feed.group == kind) for o in lots),
        classes=stack.run_out_by_class(
            stack.together([whole, Tonnes(bought_t, bought_t, bought_t)]),
            tuple(claims.items()),
            both,
            start,
        ),
        more_t=more,
    )


def _lot_line(farm: Farm, offer: Offer, uses: tuple[Use, ...], is_hay: bool) -> LotLine:
    claims, tonnes = _claims(offer), _in_hand(offer)
    left = stack.after_claims(tonnes, math.fsum(t for _, t in claims))
    if claims and left.t <= LEAST_T:
        others = stack.claim_uses(claims, farm.winter.other_stock, farm.start, farm.end)
        found = stack.run_out(tonnes, others, farm.start)
    else:
        found = stack.run_out(left, uses, farm.start)
    return LotLine(offer.id, offer.name, tonnes, claims, left, found, is_hay)


def _is_kind(offer: Offer) -> bool:
    return offer.feed.group in ("hay", "silage")


def _kind(offers: Sequence[Offer]) -> str:
    """Hay where there is any, else silage, else nothing."""
    groups = {o.feed.group for o in offers}
    return next((kind for kind in ("hay", "silage") if kind in groups), "")


def _lots(farm: Farm) -> list[Offer]:
    """Home feed of which there is so much and no more."""
    return [o for o in farm.offers if o.is_home and (o.stock_t_fresh or 0.0) > 0]


def _in_hand(offer: Offer) -> Tonnes:
    if offer.id.endswith(IN_STORE):
        t = offer.stock_t_fresh or 0.0
        return Tonnes(t, t, t, "bought by weight")
    found = stack.in_hand(offer)
    return Tonnes(0.0, 0.0, 0.0) if found is None else found


def _claims(offer: Offer) -> tuple[tuple[str, float], ...]:
    """Who else has first call; together never more than there is. [t fresh]"""
    claims = offer.claims or ((OTHERS, offer.first_claim_t_fresh),)
    return tuple((name, tonnes) for name, tonnes in claims if tonnes > 0)


def _mean(values: Sequence[float], weights: Sequence[float]) -> float:
    total = math.fsum(weights)
    return math.fsum(v * w for v, w in zip(values, weights, strict=True)) / total if total else 0.0


def _who(claims: Sequence[tuple[str, float]]) -> str:
    """The ewes and the cattle."""
    names = [n if n == OTHERS or n.startswith("the ") else f"the {n}" for n, _ in claims]
    return joined(names)

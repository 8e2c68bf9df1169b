"""The cheapest safe ration for each batch of a farm.

`mix(farm, tables)` is the whole job: needs, limits and feeds become a model, the search finds the
cheapest mix over all diets with a proved gap, an independent sum from the feeds checks the books,
and prices are put on needs, limits and feeds. Nothing unproved or unbalanced is handed on.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date
from typing import TYPE_CHECKING, Protocol

import numpy as np

from ration import appetite, choices, conflict, grazing, limits, search, solve, worth
from ration import assess as assessing
from ration import needs as standards
from ration.animals import Batch
from ration.errors import BalanceError, InputError, NotProved, Problem
from ration.lines import (
    FeedLine,
    NutrientLine,
    feed_lines,
    nutrient_lines,
    portion,
    portions,
    unknown_in,
)
from ration.model import MixModel
from ration.model import Problem as LinearProblem
from ration.needs import Array

if TYPE_CHECKING:
    import pandas as pd

    from ration.farm import Farm, Limits, Offer
    from ration.tables import Tables

SEARCH_GAP_SHARE = 1e-6
BOOKS = 1e-6
_TRACE_KG = 1e-7


@dataclass(frozen=True)
class Ration:
    """The answer for one batch: a proved mix, or why there is none."""

    batch: Batch
    days: int
    status: str
    needs: standards.Needs | None
    assessment: assessing.Assessment | None
    feeds: tuple[FeedLine, ...]
    nutrients: tuple[NutrientLine, ...]
    cost_gbp_per_head_day: float
    proved_gap_share: float
    linear_programmes: int
    gaps: tuple[choices.Gap, ...]
    conflict: conflict.Conflict | None
    left_out: tuple[tuple[str, str], ...]
    offers: tuple[Offer, ...]
    model: MixModel
    solver: str
    is_borderline: bool = False
    rack: appetite.InTheRack | None = None

    @property
    def is_found(self) -> bool:
        """True when there is a mix."""
        return self.assessment is not None

    @property
    def cost_gbp_for_winter(self) -> float:
        """Whole batch, whole winter. [GBP]"""
        return self.cost_gbp_per_head_day * self.batch.head * self.days

    def frame(self) -> pd.DataFrame:
        """One row a feed on offer."""
        import pandas as pd

        return pd.DataFrame([vars(line) for line in self.feeds])

    def nutrients_frame(self) -> pd.DataFrame:
        """One row a need or limit."""
        import pandas as pd

        return pd.DataFrame([vars(line) for line in self.nutrients])


@dataclass(frozen=True)
class FarmRations:
    """All batches of one farm."""

    farm: Farm
    rations: tuple[Ration, ...]
    tables_digest: str

    def bill(self) -> pd.DataFrame:
        """One row a batch: head, cost a head a day, cost of the winter, gain, what limits it."""
        import pandas as pd

        return pd.DataFrame(
            [
                {
                    "batch": r.batch.name,
                    "head": r.batch.head,
                    "status": r.status,
                    "cost_gbp_per_head_day": r.cost_gbp_per_head_day,
                    "cost_gbp_for_winter": r.cost_gbp_for_winter,
                    "gain_g_per_day": r.assessment.gain_g_per_day if r.assessment else None,
                    "limited_by": r.assessment.limited_by if r.assessment else "",
                }
                for r in self.rations
            ]
        )

    def frame(self) -> pd.DataFrame:
        """One row a batch and feed used."""
        import pandas as pd

        return pd.concat(
            [
                r.frame().query("kg_dm_per_head_day > 0").assign(batch=r.batch.name)
                for r in self.rations
                if r.is_found
            ],
            ignore_index=True,
        )


def mix(
    farm: Farm, tables: Tables, *, batches: Sequence[str] = (), with_worth: bool = True
) -> FarmRations:
    """The cheapest ration for every batch of a farm.

    Parameters
    ----------
    farm : Farm
        As read by `ration.farm.read`.
    tables : Tables
        As read by `ration.tables.load`.
    batches : sequence of str
        Names of the batches wanted; none for all. Stock is shared as if all were worked.
    with_worth : bool
        Also put a worth and a price range on every feed (about three more searches).

    Raises
    ------
    InputError
        Figures missing, limits crossed.
    NotProved, BalanceError
        The answer could not be proved, or its books do not balance; nothing is shown.
    """
    ask = asker(farm, tables, with_worth=with_worth)
    wanted = [b for b in farm.batches if not batches or b.name in batches]
    return FarmRations(farm, tuple(ask(batch) for batch in wanted), tables.digest)


class Ask(Protocol):
    """The cheapest ration of a batch, over the whole winter or over some days of it."""

    def __call__(self, batch: Batch, start: date | None = None, end: date | None = None) -> Ration:
        """The ration; cold and grazing are those of the days."""


def asker(farm: Farm, tables: Tables, *, with_worth: bool = False) -> Ask:
    """The cheapest ration of any batch on a farm's feeds, as a function of the batch.

    It may be asked for the farm's own batches, or for them at another weight or gain, or on some
    days only; their shares of the stock stay those of the farm's own, spread over the winter.

    Raises
    ------
    InputError
        As `mix`, at once or when asked.
    """
    left_out = tuple(farm.unpriced) + tuple(
        (o.id, f"made for {o.made_for}: not for sheep") for o in farm.offers if o.made_for
    )
    fit = [o for o in farm.offers if not o.made_for]
    offers, gaps = choices.complete(fit, tables, farm.assume)
    shares = stock_shares(farm)

    def ask(batch: Batch, start: date | None = None, end: date | None = None) -> Ration:
        days = (start or farm.start, end or farm.end)
        return for_batch(
            batch,
            grazing.at_hand(farm, offers, batch, *days),
            tables,
            days=farm.days,
            needs=standards.of_farm(farm, batch, *days),
            own_limits=farm.batch_limits.get(batch.name, farm.limits),
            stock_share=shares[batch.name],
            to_appetite=farm.hay_to_appetite,
            gaps=gaps,
            left_out=left_out,
            with_worth=with_worth,
        )

    return ask


def assess_farm(farm: Farm, tables: Tables) -> tuple[assessing.Assessment, ...]:
    """What the rations already fed (`fed:` in the farm file) will do, one answer a batch.

    Raises
    ------
    InputError
        The farm file says of no batch what it is fed, or a feed used lacks figures.
    """
    if not farm.fed:
        raise InputError(
            Problem(
                f"{farm.path}",
                'there is no "fed:" section',
                "it says what each batch is given",
                "Write for example: fed: {strong: {barley: 0.23 kg, hay: 0.7 kg}}",
            )
        )
    used = {offer_id for fed in farm.fed for offer_id in fed.kg_fresh_per_head_day}
    offers, _ = choices.complete([o for o in farm.offers if o.id in used], tables, farm.assume)
    by_id = {o.id: o for o in offers}
    batches = {b.name: b for b in farm.batches}
    return tuple(
        assessing.assess(
            standards.of_farm(farm, batches[fed.batch]),
            [portion(by_id[i], kg) for i, kg in fed.kg_fresh_per_head_day.items()],
            is_part_ration=fed.is_part_ration,
        )
        for fed in farm.fed
    )


def stock_shares(farm: Farm) -> dict[str, float]:
    """Each batch's share of a stack: by head times live weight. [-]"""
    weight = {b.name: b.head * b.weight_kg for b in farm.batches}
    total = sum(weight.values())
    return {name: w / total for name, w in weight.items()}


def stock_kg_dm_per_head_day(
    offers: Sequence[Offer], batch: Batch, days: int, share: float
) -> dict[str, float]:
    """Most DM eaten a head a day from a batch's share of each stock. [kg DM]"""
    out = {}
    for o in offers:
        if (available := o.available_t_fresh) is not None:
            kg = available * 1000 * share / (batch.head * days)
            out[o.id] = kg / choices.kg_bought_per_kg_dm(o)
    return out


def for_batch(
    batch: Batch,
    offers: Sequence[Offer],
    tables: Tables,
    *,
    days: int,
    needs: standards.Standard | None = None,
    own_limits: Limits,
    stock_share: float = 1.0,
    to_appetite: bool | float = False,
    gaps: tuple[choices.Gap, ...] = (),
    left_out: tuple[tuple[str, str], ...] = (),
    with_worth: bool = True,
) -> Ration:
    """The cheapest ration for one batch; offers must be complete (`choices.complete`).

    `needs` is the standard it is fed by, None for the first of the list without switches; its own
    batch carries what the days out of doors ask.
    """
    need = standards.of(batch) if needs is None else needs
    bounds = limits.resolve(batch, own_limits, offers, tables.limits)
    stock = stock_kg_dm_per_head_day(offers, batch, days, stock_share)
    model = choices.build(need, offers, bounds, stock)
    rack, model, found = _searched(model, offers, bounds, to_appetite)
    if found.x is None:
        return replace(
            no_ration(batch, days, offers, model, conflict.explain(model)),
            gaps=gaps,
            left_out=left_out,
            linear_programmes=found.linear_programmes,
            is_borderline=found.is_borderline,
        )
    if found.gap_share > search.GAP_SHARE * (1 + 1e-9):
        raise NotProved(
            Problem(
                batch.name,
                f"the cheapest mix found is proved only to {found.gap_share:.2%}",
                "0.1 % is asked of every ration shown",
                "Change a price or a limit a little and try again",
            )
        )
    x = np.where(found.x > _TRACE_KG, found.x, 0.0)
    x, cost, tangent = _judged(model, found, x)
    assessment = assessing.assess(need, portions(offers, x))
    check_books(model, x, cost, assessment)
    found = replace(found, x=x, cost=cost)
    priced = None
    if with_worth and tangent.col_price is not None:
        priced = worth.prices(model, found, tangent.price_range, tangent.col_price)
    return Ration(
        status="least cost",
        needs=need.at(assessment.md_mj_per_kg_dm, dmi_kg_per_day=assessment.dm_kg_per_day),
        assessment=assessment,
        feeds=feed_lines(offers, model, x, priced, batch, days, stock),
        nutrients=nutrient_lines(model, x, tangent, bounds, unknown_in(offers, x)),
        cost_gbp_per_head_day=cost,
        proved_gap_share=found.gap_share,
        linear_programmes=found.linear_programmes,
        conflict=None,
        solver=tangent.solver,
        batch=batch,
        days=days,
        gaps=gaps,
        left_out=left_out,
        offers=tuple(offers),
        model=model,
        rack=rack,
    )


def _searched(
    model: MixModel, offers: Sequence[Offer], bounds: limits.Bounds, to_appetite: bool | float
) -> tuple[appetite.InTheRack | None, MixModel, search.Found]:
    """The cheapest mix, over the hays that may be fed to appetite where one is."""
    if to_appetite is False:
        return None, model, search.search(model, gap_share=SEARCH_GAP_SHARE)[0]
    tried = [
        (rack, way, search.search(way, gap_share=SEARCH_GAP_SHARE)[0])
        for rack, way in appetite.ways(model, offers, bounds, to_appetite)
    ]
    return min(tried, key=lambda one: one[2].cost)


def no_ration(
    batch: Batch,
    days: int,
    offers: Sequence[Offer],
    model: MixModel,
    why: conflict.Conflict | None,
) -> Ration:
    """The answer for a batch that no mix of these feeds will do for."""
    return Ration(
        batch=batch,
        days=days,
        status="no mix",
        needs=None,
        assessment=None,
        feeds=(),
        nutrients=(),
        cost_gbp_per_head_day=float("nan"),
        proved_gap_share=0.0,
        linear_programmes=0,
        gaps=(),
        conflict=why,
        left_out=(),
        offers=tuple(offers),
        model=model,
        solver="",
    )


def check_books(model: MixModel, x: Array, cost: float, told: assessing.Assessment) -> None:
    """Compare a solved mix with the sums of `assess`, which never saw the optimiser.

    Raises
    ------
    BalanceError
        A need is missed, or energy, protein or money differ, by more than one part in a million.
    """
    faults = []

    def same(what: str, ours: float, theirs: float) -> None:
        if not abs(ours - theirs) <= BOOKS * max(abs(ours), abs(theirs), 1e-3):
            faults.append(Problem("", f"{what}: the search says {ours!r}, the feeds {theirs!r}"))

    q, level = model.quality_and_level(x[None])
    by_n, by_e = model.needs.protein_value(model.chemistry, level)
    same("cost", cost, told.cost_gbp_per_head_day)
    same("energy", float(x @ model.me), told.me_mj_per_day)
    with_intake = model.needs.protein_slope_g_per_kg_dm * float(x.sum())
    protein = min(float(by_n[0] @ x), float(by_e[0] @ x)) + with_intake
    same("protein", protein, told.protein_g_per_day)
    same("diet quality", float(q[0]), told.q)
    same("dry matter", float(x.sum()), told.dm_kg_per_day)
    for balance in told.balances:
        if balance.need is not None and balance.supply < balance.need * (1 - BOOKS) - 1e-9:
            faults.append(
                Problem("", f"{balance.name}: {balance.supply:g} is under {balance.need:g}")
            )
    for row in model.rows:
        activity, scale = float(row.coefficients @ x), float(np.abs(row.coefficients) @ x) + 1e-3
        if activity < row.lo - BOOKS * scale or activity > row.hi + BOOKS * scale:
            faults.append(Problem("", f"limit {row.id} is broken: {activity:g}"))
    if faults:
        raise BalanceError(
            Problem(
                "",
                "the books of this ration do not balance, so it is not shown",
                "",
                "Please report it with the farm file",
            ),
            *faults,
        )


def _judged(model: MixModel, found: search.Found, x: Array) -> tuple[Array, float, solve.Solution]:
    """The mix put before HiGHS at its own q and L, and priced by the lines that touch it.

    Where the search stopped within its gap HiGHS may know a slightly cheaper mix of the same
    quality and level: it is taken.

    Returns
    -------
    tuple
        mix (n,), its cost, and the priced programme that touches it.

    Raises
    ------
    NotProved
        HiGHS finds none, or one that the proved bound says cannot be.
    """
    cost = float(model.cost @ x)
    exact = solve.run(_widened(model, x))
    small = 1e-7 * abs(cost) + 1e-9
    if exact.cost is None or exact.values is None or exact.cost < found.lower_bound - small:
        raise NotProved("A second solver does not confirm the ration; nothing is shown.")
    if exact.cost < cost - small:
        x = np.where(exact.values > _TRACE_KG, exact.values, 0.0)
        cost = float(model.cost @ x)
    tangent = solve.run(model.tangent_problem(x), ranging=True)
    return x, cost, exact if tangent.row_price is None else tangent


def _widened(model: MixModel, x: Array) -> LinearProblem:
    """`exact_problem` with its rows let out by rounding, so that the mix itself fits."""
    exact = model.exact_problem(x)
    activity = exact.matrix @ x
    return replace(
        exact,
        row_lo=np.minimum(exact.row_lo, activity),
        row_hi=np.maximum(exact.row_hi, activity),
        col_lo=np.minimum(exact.col_lo, x),
        col_hi=np.maximum(exact.col_hi, x),
    )

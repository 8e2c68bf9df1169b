"""The gain a standard expects of a trial's diet, by the calls a farm's ration goes through."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import product
from typing import TYPE_CHECKING

from ration import animals, choices, needs
from ration.assess import Assessment, Portion, assess
from ration.errors import InputError, OutOfRange, Problem
from ration.feeds import Feed, Figure
from ration.tables import assumed
from ration.trials.records import Span, Trial, middle

if TYPE_CHECKING:
    from ration.tables import Tables

MARGIN = 1.0
USUAL_GROWN_KG = 62.0


@dataclass(frozen=True)
class Prediction:
    """What a standard expects of one treatment.

    Attributes
    ----------
    standard : str
    maintenance, recycled_n_share : float
        The two switches. [-]
    gain_energy_g_per_day, gain_protein_g_per_day : float or None
        By energy and by protein, at the middle of what is assumed. [g/day]
    gain_g_per_day : float or None
        The lesser of the two. [g/day]
    low_g_per_day, high_g_per_day : float or None
        Lowest and highest over the ends of what is assumed. [g/day]
    limited_by : str
        What would have to rise for more gain.
    why_not : str
        Why the standard says nothing; "" when it does.
    """

    standard: str
    maintenance: float
    recycled_n_share: float
    gain_energy_g_per_day: float | None = None
    gain_protein_g_per_day: float | None = None
    gain_g_per_day: float | None = None
    low_g_per_day: float | None = None
    high_g_per_day: float | None = None
    limited_by: str = ""
    why_not: str = ""

    @property
    def is_covered(self) -> bool:
        """The standard covers these sheep on this diet."""
        return self.gain_g_per_day is not None

    def reaches(self, seen: Span) -> bool:
        """The band meets what was seen."""
        if self.low_g_per_day is None or self.high_g_per_day is None:
            return False
        return self.low_g_per_day <= seen[1] and seen[0] <= self.high_g_per_day

    def beyond_g_per_day(self, seen: Span) -> float:
        """How far outside the band what was seen lies; nothing assumed explains that. [g/day].

        Below zero: more was gained than the band holds. nan where the standard says nothing.
        """
        if self.low_g_per_day is None or self.high_g_per_day is None:
            return math.nan
        return min(self.high_g_per_day - seen[0], 0.0) + max(self.low_g_per_day - seen[1], 0.0)


@dataclass(frozen=True)
class _Point:
    """One choice of everything that a row leaves open."""

    weight_kg: float
    me_mj_per_kg_dm: float
    cp_g_per_kg_dm: float
    forage_kg_dm: float
    concentrate_kg_dm: float


@dataclass(frozen=True)
class _Asked:
    """A trial put to one standard with its switches."""

    trial: Trial
    tables: Tables
    standard: str
    maintenance: float
    recycled_n_share: float

    def empty(self) -> Prediction:
        """A prediction of nothing yet; faults of the question itself are raised here.

        They are slips, not a standard that does not cover the sheep.
        """
        name = needs.known(self.standard)
        usual = animals.batch(weight_kg=30, gain_g_per_day=0)
        self._need(usual)
        for feed_id in (self.trial.forage_id, *(i for i, _ in self.trial.concentrate)):
            self.tables.feeds[feed_id]
        return Prediction(name, self.maintenance, self.recycled_n_share)

    def _need(self, batch: animals.Batch) -> needs.Standard:
        return needs.of(
            batch,
            self.standard,
            margin=MARGIN,
            maintenance=self.maintenance,
            recycled_n_share=self.recycled_n_share,
        )

    def at(self, point: _Point) -> Assessment:
        """The very call a farm's ration goes through."""
        grown = self.trial.mature_weight_kg
        batch = animals.batch(
            self.trial.key,
            sheep_class=self.trial.sheep_class,
            weight_kg=point.weight_kg,
            gain_g_per_day=0.0,
            breed=self.trial.breed,
            mature_weight_kg=USUAL_GROWN_KG if grown is None else grown,
        )
        done = assess(self._need(batch), _portions(self.trial, self.tables, point))
        if not math.isfinite(done.gain_energy_g_per_day + done.gain_protein_g_per_day):
            raise OutOfRange(Problem(self.trial.key, f"{self.standard} gives no gain here"))
        return done


def _spans(trial: Trial) -> tuple[Span, ...]:
    """Everything a row leaves open, in the order of `_Point`."""
    spans = {
        "live weight": trial.weight_kg,
        "energy of the forage": trial.forage_me_mj_per_kg_dm,
        "protein of the forage": trial.forage_cp_g_per_kg_dm,
        "forage eaten": trial.forage_kg_dm_per_day,
        "trough feed": trial.concentrate_kg_dm_per_day,
    }
    missing = [words for words, span in spans.items() if span is None]
    if missing:
        raise OutOfRange(Problem(trial.key, f"{', '.join(missing)} not known, nor assumed"))
    return tuple(span for span in spans.values() if span is not None)


def _middle(spans: Sequence[Span]) -> _Point:
    return _Point(*(middle(s) for s in spans))


def _corners(spans: Sequence[Span]) -> Iterator[_Point]:
    for ends in product(*(sorted(set(s)) for s in spans)):
        yield _Point(*ends)


def _filled(feed: Feed, tables: Tables) -> Feed:
    """A feed with its gaps taken from the assumptions, as a farm would allow them."""
    gaps = {
        nutrient: guess
        for nutrient in choices.wanted(feed)
        if feed.get(nutrient) is None
        for guess in (assumed(feed, nutrient, tables),)
        if guess is not None
    }
    return feed.with_figures(gaps)


def _portion(feed: Feed, kg_dm: float) -> Portion:
    return Portion(feed.id, feed.name, feed, kg_dm / (feed["dm_g_per_kg_fresh"] / 1000))


def _portions(trial: Trial, tables: Tables, point: _Point) -> tuple[Portion, ...]:
    how = trial.how["analysis"]
    mark = how if how in ("print", "restated", "derived") else "guess"
    forage = tables.feeds[trial.forage_id].with_figures(
        {
            "me_mj_per_kg_dm": Figure(point.me_mj_per_kg_dm, mark, trial.source),
            "cp_g_per_kg_dm": Figure(point.cp_g_per_kg_dm, mark, trial.source),
        }
    )
    total = sum(kg for _, kg in trial.concentrate)
    scale = point.concentrate_kg_dm / total if total else 0.0
    trough = [
        _portion(_filled(tables.feeds[name], tables), kg * scale) for name, kg in trial.concentrate
    ]
    return (_portion(_filled(forage, tables), point.forage_kg_dm), *trough)


def portions(trial: Trial, tables: Tables) -> tuple[Portion, ...]:
    """What one sheep of a treatment ate, the middle of what is assumed.

    Raises
    ------
    InputError
        A feed is not in the tables, or the row does not say enough.
    """
    return _portions(trial, tables, _middle(_spans(trial)))


def predict(
    trial: Trial,
    tables: Tables,
    standard: str = needs.STANDARD,
    maintenance: float = 1.0,
    recycled_n_share: float = 0.0,
) -> Prediction:
    """Gain that a standard expects of a treatment, with the band of what is assumed; no margin.

    Parameters
    ----------
    trial : Trial
    tables : Tables
        For the feeds and for what may be assumed of them.
    standard : str
        One of `needs.REGISTRY`.
    maintenance : float
        Multiplier on maintenance. [-]
    recycled_n_share : float
        Degradable protein credited for nitrogen recycled to the rumen. [-]

    Returns
    -------
    Prediction
        With `why_not` when the standard does not cover these sheep or this diet; it is never
        stretched.

    Raises
    ------
    InputError
        The standard or a feed is not known, or a switch is not believable.
    """
    asked = _Asked(trial, tables, standard, maintenance, recycled_n_share)
    bare = asked.empty()
    try:
        spans = _spans(trial)
        done = asked.at(_middle(spans))
    except InputError as error:
        return replace(bare, why_not=_why(error))
    gains = [done.gain_g_per_day, *_covered(asked.at, spans)]
    return replace(
        bare,
        gain_energy_g_per_day=done.gain_energy_g_per_day,
        gain_protein_g_per_day=done.gain_protein_g_per_day,
        gain_g_per_day=done.gain_g_per_day,
        low_g_per_day=min(gains),
        high_g_per_day=max(gains),
        limited_by=done.limited_by,
    )


def predict_extra(
    trial: Trial,
    tables: Tables,
    standard: str = needs.STANDARD,
    maintenance: float = 1.0,
    recycled_n_share: float = 0.0,
) -> Prediction:
    """Gain that the trough feed adds over the same forage alone; arguments as for `predict`.

    The forage eaten alone is `forage_alone_kg_dm_per_day`, so what the trough displaces is
    counted. Energy and protein are each the difference of their own; the gain is the difference
    of the lesser.
    """
    asked = _Asked(trial, tables, standard, maintenance, recycled_n_share)
    bare = asked.empty()
    alone_kg = trial.forage_alone_kg_dm_per_day
    if alone_kg is None or trial.is_forage_alone:
        return replace(bare, why_not="what they eat without trough feed is not known")

    def both(point: _Point) -> tuple[Assessment, Assessment]:
        alone = replace(point, forage_kg_dm=alone_kg, concentrate_kg_dm=0.0)
        return asked.at(point), asked.at(alone)

    try:
        spans = _spans(trial)
        pairs = [both(_middle(spans)), *(both(p) for p in _corners(spans))]
    except InputError as error:
        return replace(bare, why_not=_why(error))
    fed, alone = pairs[0]
    gains = [x.gain_g_per_day - y.gain_g_per_day for x, y in pairs]
    return replace(
        bare,
        gain_energy_g_per_day=fed.gain_energy_g_per_day - alone.gain_energy_g_per_day,
        gain_protein_g_per_day=fed.gain_protein_g_per_day - alone.gain_protein_g_per_day,
        gain_g_per_day=gains[0],
        low_g_per_day=min(gains),
        high_g_per_day=max(gains),
        limited_by=fed.limited_by,
    )


def _covered(at: Callable[[_Point], Assessment], spans: Sequence[Span]) -> Iterator[float]:
    """Gains at the corners that the standard covers."""
    for point in _corners(spans):
        try:
            yield at(point).gain_g_per_day
        except InputError:
            continue


def _why(error: InputError) -> str:
    problem = error.problems[0]
    return "; ".join(x for x in (problem.read, problem.allowed) if x).rstrip(".")

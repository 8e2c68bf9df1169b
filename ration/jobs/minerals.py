"""From a farm file to the minerals and vitamins of its rations, beside all that is published."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from ration import jobs, minerals
from ration.animals import Batch
from ration.assess import Assessment
from ration.cautions import Caution
from ration.cautions import minerals as mineral_rules
from ration.errors import InputError, Problem, UnknownName
from ration.farm import Farm
from ration.farm.words import id_of
from ration.feeds import Feed
from ration.minerals import MineralAccount, Supplement
from ration.tables import Tables

# The cautions of minerals and of mixing them at home; urea is no mineral.
CAUTIONS = {c for c in mineral_rules.RULES if not c.startswith("urea")} | {"feed-law"}


@dataclass(frozen=True)
class BatchMinerals:
    """Minerals and vitamins of one batch.

    Attributes
    ----------
    batch : Batch
    account : MineralAccount or None
        None where no mix was found.
    supplements : tuple of Supplement
        What each mineral on offer, or the one asked about, would do.
    cautions : tuple of Caution
        On minerals and mixing them, stops first.
    """

    batch: Batch
    account: MineralAccount | None
    supplements: tuple[Supplement, ...]
    cautions: tuple[Caution, ...]


@dataclass(frozen=True)
class FarmMinerals:
    """Minerals and vitamins of the batches of a farm.

    Attributes
    ----------
    farm : Farm
    tables : Tables
    batches : tuple of BatchMinerals
    is_fed : bool
        What is fed now; else the cheapest mix.
    """

    farm: Farm
    tables: Tables
    batches: tuple[BatchMinerals, ...]
    is_fed: bool

    @property
    def is_found(self) -> bool:
        """Every batch has a ration to look at."""
        return all(b.account is not None for b in self.batches)


def minerals_file(
    path: Path,
    *,
    batches: Sequence[str] = (),
    fed: bool = False,
    supplement: str = "",
    sheets: jobs.Sheets | None = None,
    overlays: Sequence[Path] = (),
) -> FarmMinerals:
    """Minerals and vitamins of the rations of a farm file.

    Parameters
    ----------
    path : Path
        The farm file.
    batches : sequence of str
        Names of the batches wanted; none for all.
    fed : bool
        Look at what is fed now ("fed:" in the file) instead of working out the cheapest mix.
    supplement : str
        A feed of the farm or the table to try as a mineral; "" for every mineral on offer.
    sheets : mapping or None
        Laboratory sheets laid on for this run, as in `ration.jobs.mix_file`.
    overlays : sequence of Path
        Tables of your own, laid over the shipped ones.

    Raises
    ------
    InputError, NotProved, BalanceError
        As `ration.jobs.mix_file` and `ration.jobs.assess_file`; a batch or feed is not known.
    """
    if fed:
        done = jobs.assess_file(path, sheets=sheets, overlays=overlays)
        read, book = jobs.read_farm(path, sheets=sheets, overlays=overlays)
        told: list[tuple[Batch, Assessment | None]] = [(a.batch, a) for a in done.told]
        _refuse_unknown(path, batches, [b.name for b, _ in told])
        told = [(b, a) for b, a in told if not batches or b.name in batches]
        return FarmMinerals(
            read, book, _looked_at(read, book, told, done.cautions_of, supplement), fed
        )
    mixed = jobs.mix_file(path, batches=batches, sheets=sheets, overlays=overlays)
    return of_mixed(mixed, supplement=supplement)


def of_mixed(mixed: jobs.Mixed, *, supplement: str = "") -> FarmMinerals:
    """Minerals and vitamins of rations that are worked; otherwise as `minerals_file`."""
    told = [(r.batch, r.assessment) for r in mixed.result.rations]
    read, book = mixed.result.farm, mixed.tables
    return FarmMinerals(
        read, book, _looked_at(read, book, told, mixed.cautions_of, supplement), is_fed=False
    )


def _looked_at(
    read: Farm,
    book: Tables,
    told: Sequence[tuple[Batch, Assessment | None]],
    raised: Mapping[str, tuple[Caution, ...]],
    supplement: str,
) -> tuple[BatchMinerals, ...]:
    """Account, supplements and cautions of each batch."""
    tried = _tried(read, book, supplement)
    out = []
    for batch, assessment in told:
        account = minerals.account(assessment, book) if assessment else None
        out.append(
            BatchMinerals(
                batch,
                account,
                tuple(minerals.supplement_needed(account, f) for f in tried) if account else (),
                tuple(c for c in raised[batch.name] if c.id in CAUTIONS),
            )
        )
    return tuple(out)


def _refuse_unknown(path: Path, batches: Sequence[str], known: Sequence[str]) -> None:
    wrong = [name for name in batches if name not in known]
    if wrong:
        raise UnknownName(
            *(
                Problem("--batch", f'"{n}" is not fed in {path}', f"it has {', '.join(known)}")
                for n in wrong
            )
        )


def _tried(farm: Farm, tables: Tables, supplement: str) -> list[Feed]:
    """Minerals to try: the one named, else every one on offer that is fit for sheep."""
    if not supplement:
        return [
            o.feed
            for o in farm.offers
            if o.feed.group == "mineral"
            and not o.made_for
            and o.feed.get("dm_g_per_kg_fresh") is not None
        ]
    wanted = id_of(supplement)
    for offer in farm.offers:
        if wanted in (offer.id, id_of(offer.name)):
            if offer.made_for:
                raise InputError(
                    Problem("--with", f"{offer.name} is made for {offer.made_for}", "not for sheep")
                )
            return [offer.feed]
    try:
        return [tables.feeds[wanted]]
    except UnknownName as error:
        raise error.at("--with") from None

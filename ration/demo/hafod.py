"""Hafod Wrynach: the nutritionist's autumn, from a draft on book values to Monday's ration."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import date, timedelta
from pathlib import Path
from typing import TYPE_CHECKING, Any

from ration.plain_text import joined, sentence

if TYPE_CHECKING:
    from rich.console import Console

    from ration.analysis import AnalysedFeed
    from ration.animals import Batch
    from ration.farm import Farm, Offer
    from ration.jobs import Assessed, Mixed, MixedByEach, Sheets
    from ration.jobs.minerals import FarmMinerals
    from ration.jobs.trials import Trialled
    from ration.mix import FarmRations, Ration
    from ration.needs import Beside
    from ration.tables import Tables

FILES = (
    "hafod-wrynach.yaml",
    "hafod-book.csv",
    "hafod-hay-lab1.csv",
    "hafod-hay-lab2.csv",
    "hafod-haylage-lab1.csv",
)
IN_LAMB, WITH_UNKNOWNS = "Mules", "Texel crosses"
BOOKED, SUSPECT = "booked-cubes", "haylage"
PAID_GBP_PER_T = 287.0
DIET_MJ_PER_KG_DM = 10.0  # about what haylage and cubes make together
LAST_DAYS = 42  # before lambing
STEP_G_PER_DAY, MOST_OVER = 10.0, 1.25


@dataclass(frozen=True)
class Worked:
    """Everything the nutritionist works out, one thing a heading of the print.

    Attributes
    ----------
    beside : Beside
        Needs of the in-lamb batch in the middle of the winter, by every standard.
    rising : tuple of (date, Batch, mapping of str to float)
        The same batch on four days, and its energy need by standard. [MJ ME/day]
    draft : MixedByEach
        Rations on book values, by every standard.
    sheets : mapping of str to tuple of AnalysedFeed and two stocks
        What the laboratories make of each feed, and its dry matter in stock by the book and by
        the sheet. [t DM]
    retuned : Mixed
        Rations with the sheets laid over, and those before.
    sent_back : FarmRations
        The same if the booked cubes could be sent back for what they cost.
    without : FarmRations
        The same without the suspect haylage, at a slower gain where no mix will do.
    fed : Assessed
        What the shepherd gives now, by the sheets.
    trialled : Trialled
    minerals : FarmMinerals
        Of the re-tuned ration of one batch.
    """

    beside: Beside
    rising: tuple[tuple[date, Batch, Mapping[str, float]], ...]
    draft: MixedByEach
    sheets: Mapping[str, tuple[AnalysedFeed, float | None, float | None]]
    retuned: Mixed
    sent_back: FarmRations
    without: FarmRations
    fed: Assessed
    trialled: Trialled
    minerals: FarmMinerals


def sheets_in(folder: Path) -> Sheets:
    """The laboratory sheets of the demo by feed: two for the hay, one for the haylage."""
    _, _, *sheets = (folder / name for name in FILES)
    return {"hay": tuple(sheets[:2]), "haylage": sheets[2]}


def work(folder: Path) -> Worked:
    """The demo worked out from its files."""
    from ration import jobs, mix, needs
    from ration.jobs import minerals, trials

    path, sheets = folder / FILES[0], sheets_in(folder)
    draft = jobs.mix_by_each(path)
    retuned = jobs.mix_file(path, sheets=sheets)
    farm, book = retuned.result.farm, retuned.tables
    before = draft.farm
    return Worked(
        beside=needs.side_by_side(_batch(farm, IN_LAMB), DIET_MJ_PER_KG_DM),
        rising=tuple(rising(farm, _batch(farm, IN_LAMB))),
        draft=draft,
        sheets={
            o.name: (o.analysed, _stock_t_dm(_offer(before, o.id)), _stock_t_dm(o))
            for o in farm.offers
            if o.analysed is not None
        },
        retuned=retuned,
        sent_back=mix.mix(farm.with_price(BOOKED, PAID_GBP_PER_T), book),
        without=_without(retuned.result, book, SUSPECT),
        fed=jobs.assess_file(path, sheets=sheets),
        trialled=trials.run_trials(),
        minerals=minerals.minerals_file(path, batches=(WITH_UNKNOWNS,), sheets=sheets),
    )


def _without(told: FarmRations, book: Tables, offer_id: str) -> FarmRations:
    """The cheapest rations without one feed.

    Where no mix will do, the batch is asked to gain less, in tens, until it can be fed for not
    much more than before.
    """
    from ration import mix

    farm = told.farm
    others = replace(farm, offers=tuple(o for o in farm.offers if o.id != offer_id))
    ask = mix.asker(others, book)
    found = []
    for old in told.rations:
        ration, batch = ask(old.batch), old.batch
        while not _will_do(ration, old, batch) and batch.gain_g_per_day >= STEP_G_PER_DAY:
            batch = replace(batch, gain_g_per_day=batch.gain_g_per_day - STEP_G_PER_DAY)
            slower = ask(batch)
            ration = slower if slower.is_found else ration
        found.append(ration)
    return mix.FarmRations(others, tuple(found), book.digest)


def _will_do(ration: Ration, old: Ration, batch: Batch) -> bool:
    """Found, and at the gain asked for or at a cost that a slower gain is meant to save."""
    if not ration.is_found or batch == old.batch or not old.is_found:
        return ration.is_found
    return ration.cost_gbp_per_head_day <= MOST_OVER * old.cost_gbp_per_head_day


def rising(farm: Farm, batch: Batch) -> list[tuple[date, Batch, Mapping[str, float]]]:
    """Energy need of an in-lamb batch on four days of the winter, by every standard."""
    from ration import needs
    from ration.animals import TERM_DAYS

    tupped = farm.start - timedelta(days=TERM_DAYS - (batch.days_to_lambing or 0))
    last = tupped + timedelta(days=TERM_DAYS - LAST_DAYS)
    found: list[tuple[date, Batch, Mapping[str, float]]] = []
    for day in (farm.start, farm.start + timedelta(days=60), last, farm.end):
        then = replace(
            batch, days_pregnant=float((day - tupped).days), weight_kg=farm.line_kg(batch, day)
        )
        told = needs.side_by_side(then, DIET_MJ_PER_KG_DM)
        found.append((day, then, {name: n.me_mj_per_day for name, n in told.needs.items()}))
    return found


def _batch(farm: Farm, name: str) -> Batch:
    return next(b for b in farm.batches if b.name == name)


def _offer(farm: Farm, offer_id: str) -> Offer:
    return next(o for o in farm.offers if o.id == offer_id)


def _stock_t_dm(offer: Offer) -> float | None:
    dm = offer.feed.get("dm_g_per_kg_fresh")
    if dm is None or offer.stock_t_fresh is None:
        return None
    return offer.stock_t_fresh * dm / 1000


# ---------------------------------------------------------------- on the screen


def show(screen: Console, done: Worked, folder: Path) -> None:
    """The run in plain words, one short heading a step."""
    from ration.faces import minerals_report, needs_report, report, trials_report

    def heading(words: str) -> None:
        report.say(screen, "", words, style="bold")

    farm = folder / FILES[0]
    written = ", ".join(FILES[1:])
    report.say(
        screen, f"Written: {farm}, and beside it {written}. Open the farm file and change it."
    )
    heading(f"September: what the {IN_LAMB} need in the middle of the winter, by three standards.")
    needs_report.print_beside(screen, done.beside)
    _show_rising(screen, done)
    heading("September: the draft, on book values. It waits for the analysis.")
    needs_report.print_mix_by_each(screen, _quiet(done.draft))
    heading("9 and 16 November: the sheets come back.")
    report.say(screen, *sheet_words(done))
    if done.retuned.before is not None:
        report.print_changes(screen, done.retuned.before, done.retuned.result)
    report.say(screen, *cube_words(done))
    heading("What they are given now, by the new figures.")
    _show_fed(screen, done)
    heading("What to tell the shepherd on Monday.")
    report.say(screen, *monday_words(done))
    heading("How far to trust it: what feeding trials say.")
    report.say(
        screen, *trials_report.verdicts(done.trialled.sums), *trials_report.leanings(done.trialled)
    )
    heading(f"Minerals of the new ration: {WITH_UNKNOWNS}.")
    minerals_report.print_minerals(screen, done.minerals)
    heading("What to watch on the new rations.")
    report.print_cautions(screen, done.retuned.cautions)
    report.say(screen, "", *now_try(folder))


def _show_rising(screen: Console, done: Worked) -> None:
    from ration.faces import report
    from ration.units import day_words, in_words_standard

    names = list(done.rising[0][2])
    report.table(
        screen,
        f"Energy a head a day as lambing nears, MJ ME, on feed of {DIET_MJ_PER_KG_DM:g} MJ/kg",
        ("", "day in lamb", "weight", *(in_words_standard(n) for n in names)),
        [
            (
                day_words(day),
                f"{batch.days_pregnant or 0:.0f}",
                f"{batch.weight_kg:.1f} kg",
                *(f"{need[n]:.1f}" if n in need else "" for n in names),
            )
            for day, batch, need in done.rising
        ],
    )
    report.say(
        screen,
        "One ration for the whole winter is right in the middle of it only: towards lambing feed "
        "by the fortnight (ration winter).",
    )


def sheet_words(done: Worked) -> list[str]:
    """What the laboratories say of each feed, and what that makes of the stack."""
    from ration import analysis

    said = []
    for name, (made, book_t, sheet_t) in done.sheets.items():
        said += [sentence(words) for words in analysis.words(made)]
        if book_t is not None and sheet_t is not None and abs(book_t - sheet_t) > 0.05:
            way = "less" if sheet_t < book_t else "more"
            said.append(
                f"In stock there are {sheet_t:.1f} t of {name} dry matter, not the {book_t:.1f} t "
                f"of the book: {abs(book_t - sheet_t):.1f} t {way}."
            )
    return said


def _t_used(rations: FarmRations, offer_id: str) -> float:
    return sum(f.t_fresh_for_winter for r in rations.rations for f in r.feeds if f.id == offer_id)


def _gbp(rations: FarmRations) -> float:
    return sum(r.cost_gbp_for_winter for r in rations.rations if r.is_found)


def cube_words(done: Worked) -> list[str]:
    """Whether the booked cubes are still fed, and what they would have to cost."""
    from ration.explain import worth_words
    from ration.units import money

    after = done.retuned.result
    offer = _offer(after.farm, BOOKED)
    left = offer.stock_t_fresh or 0.0
    used, back = _t_used(after, BOOKED), _t_used(done.sent_back, BOOKED)
    amount = "all of the" if left - used < 0.01 * left else f"{used:.1f} t of the"
    said = [
        sentence(
            f"{offer.name}: {money(left * PAID_GBP_PER_T)} is owed for the {left:.1f} t whether "
            f"they are fed or not, so they are charged at nothing, and {amount} {left:.1f} t is "
            "still fed."
        )
    ]
    if back >= 0.01 * left:
        return [*said, f"Even at {money(PAID_GBP_PER_T)}/t {back:.1f} t of them would be fed."]
    worth = [
        f"{r.batch.name}, {worth_words(f, short=True).removeprefix('out over ')}"
        for r in done.sent_back.rations
        for f in r.feeds
        if f.id == BOOKED
    ]
    said.append(
        f"If the mill took them back at {money(PAID_GBP_PER_T)}/t, send them: none would be fed, "
        f"for a tonne is worth only so much here ({joined(worth)})."
    )
    return said


def without_words(done: Worked) -> list[str]:
    """The rations until the vet has answered: none of the haylage."""
    from ration.explain import pence, why_no_mix

    said = []
    for old, new in zip(done.retuned.result.rations, done.without.rations, strict=True):
        if new.is_found:
            slower = (
                ""
                if new.batch == old.batch
                else f", for {new.batch.gain_g_per_day:.0f} g of gain and not "
                f"{old.batch.gain_g_per_day:.0f}"
            )
            said.append(
                f"{_given(new)} That costs {pence(new.cost_gbp_per_head_day)} a head a day instead "
                f"of {pence(old.cost_gbp_per_head_day)}{slower}."
            )
        else:
            said.append(f"{sentence(new.batch.name)}: {' '.join(why_no_mix(new))}")
    return said


def _given(ration: Ration) -> str:
    """Mules: 0.29 kg cubes in the trough; 1.70 kg haylage in the rack."""
    from ration.explain import what_to_feed

    words = what_to_feed(ration).replace("Give each one, each day: ", "")
    return f"{sentence(ration.batch.name)}: {words}"


def _quiet(done: MixedByEach) -> MixedByEach:
    """The rations without their cautions: those of the final ration come at the end."""
    return replace(done, by={name: replace(m, cautions=()) for name, m in done.by.items()})


def _show_fed(screen: Console, done: Worked) -> None:
    from ration import explain
    from ration.explain import kilos
    from ration.faces import report

    for told in done.fed.told:
        given = joined(
            [f"{kilos(p.kg_fresh_offered_per_head_day)} {p.name}" for p in told.portions]
        )
        report.say(screen, f"{sentence(told.batch.name)}, {given}: {explain.what_to_expect(told)}")
    for c in done.fed.cautions:
        if c.level != "note":
            report.say(
                screen,
                f"{report.LEVEL_WORDS[c.level]}, {c.title.lower()}: {c.words} [{c.source}]",
                style="bold" if c.level == "stop" else None,
            )


def monday_words(done: Worked) -> list[str]:
    """What the shepherd is told."""
    from ration.explain import why_no_mix
    from ration.units import money

    farm = done.retuned.result.farm
    wrong = [o.name for o in farm.offers if o.made_for]
    said = [f"Stop the {joined(wrong)} today, and send the rest back."] if wrong else []
    suspect = _offer(farm, SUSPECT)
    ash, ph = (suspect.feed.get(n) for n in ("ash_g_per_kg_dm", "ph"))
    signs = [f"ash {ash:.0f} g"] if ash is not None else []
    signs += [f"pH {ph:.1f}"] if ph is not None else []
    said.append(
        f"Hold the {suspect.name} back until the vet has seen its sheet ({joined(signs)}). Until "
        "then give each one, each day:"
    )
    said += [f"- {words}" for words in without_words(done)]
    if all(r.is_found for r in done.without.rations):
        more = _gbp(done.without) - _gbp(done.retuned.result)
        said.append(
            f"All winter long that would cost {money(abs(more))} {'more' if more > 0 else 'less'} "
            f"and take {_t_used(done.without, 'hay'):.1f} t of hay."
        )
    said.append(f"If the vet lets you feed the {suspect.name}, give each one, each day:")
    said += [
        f"- {_given(r)}" if r.is_found else f"- {sentence(r.batch.name)}: {' '.join(why_no_mix(r))}"
        for r in done.retuned.result.rations
    ]
    rules = farm.winter
    said.append(
        f"Bring the trough feed in over {rules.step_up_days} days, never up by more than "
        f"{rules.most_step_kg * 1000:.0f} g from one day to the next, half of it morning and half "
        f"evening. Go from hay to {suspect.name} over 7 days, and throw out any that is mouldy or "
        "from a bale with a hole."
    )
    return said


def now_try(folder: Path) -> list[str]:
    """Commands to go on with."""
    farm = folder / FILES[0]
    return [
        "Now try:",
        f"  ration analysis {folder / FILES[2]} {folder / FILES[3]} --like hay-good",
        f"  ration mix {farm} --standard all",
        f'  ration minerals {farm} --batch "{WITH_UNKNOWNS}"',
        f"  ration assess {farm}",
        '  then take the "#" off the two "analysis:" lines in the farm file and ask again.',
    ]


# ---------------------------------------------------------------- as JSON


def worked_json(done: Worked) -> dict[str, Any]:
    """The run as a dictionary."""
    from ration.faces import as_json, minerals_json, trials_report

    return {
        "needs": as_json.beside_json(done.beside),
        "needs_rising": [
            {
                "day": day.isoformat(),
                "day_of_pregnancy": batch.days_pregnant,
                "weight_kg": batch.weight_kg,
                "me_mj_per_day": dict(need),
            }
            for day, batch, need in done.rising
        ],
        "draft": as_json.mix_by_each_json(done.draft),
        "sheets": [
            {
                "feed": name,
                "stock_by_book_t_dm": book_t,
                "stock_by_sheet_t_dm": sheet_t,
                "measured": {
                    nutrient: {"value": f.value, "standard_error": f.spread}
                    for nutrient, f in made.feed.figures.items()
                    if f.mark == "lab"
                },
            }
            for name, (made, book_t, sheet_t) in done.sheets.items()
        ],
        "analysis": as_json.mix_json(done.retuned),
        "words": [
            *sheet_words(done),
            *cube_words(done),
            *monday_words(done),
        ],
        "fed": as_json.assess_json(done.fed),
        "trials": trials_report.trials_json(done.trialled),
        "minerals": minerals_json.minerals_json(done.minerals),
    }

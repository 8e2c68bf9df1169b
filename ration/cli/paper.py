"""The command that puts an answer on paper."""

from __future__ import annotations

import sys
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from ration.cli.common import (
    CONTEXT,
    day_of,
    faults_in_words,
    json_option,
    put_json,
    tables_option,
    watched,
)
from ration.cli.winter import file_type, planning

if TYPE_CHECKING:
    from datetime import date

    from ration.jobs import Sheets
    from ration.sheets import Foot

KINDS = ("card", "order", "ration", "nutritionist", "needs", "quotes", "wintering", "minerals")
USES = {  # kind: options that mean something to it
    "--batch": ("card", "ration", "nutritionist", "needs", "minerals"),
    "--quotes": ("card", "order", "quotes"),
    "--on": ("card", "order", "quotes"),
    "--analysis": ("ration", "nutritionist", "needs", "minerals"),
}


@dataclass(frozen=True)
class Asked:
    """What was typed."""

    farm: Path
    on: date | None
    batches: tuple[str, ...]
    quotes: tuple[Path, ...]
    sheets: Sheets
    overlays: tuple[Path, ...]
    seconds: float
    progress: bool


@dataclass(frozen=True)
class Made:
    """A sheet ready to be laid out: how, its data, the hash of its tables, why there is none."""

    lay: Callable[[Foot], str]
    data: dict[str, Any]
    tables: str
    first: date | None = None
    is_whole: bool = True
    why_not: tuple[str, ...] = ()


@click.command(context_settings=CONTEXT)
@click.argument("kind", type=click.Choice(KINDS))
@click.argument("farm", type=file_type)
@click.option(
    "--out", default=None, type=file_type, help="FILE.html or FILE.pdf; else beside FARM."
)
@click.option("--over", is_flag=True, help="Write over a file of that name that differs.")
@click.option("--on", default=None, metavar="DATE", help="A day the card is for; day of the order.")
@click.option("--batch", "batches", multiple=True, help="Only this batch; may be given again.")
@click.option(
    "--analysis",
    "analyses",
    multiple=True,
    metavar="FEED=SHEET",
    help="Lay a laboratory sheet over a feed; the needs sheet then shows before and after.",
)
@click.option("--dated", default=None, metavar="DATE", help="Day in the foot; else today.")
@planning
@tables_option
@json_option
@faults_in_words
def paper(
    kind: str,
    farm: Path,
    out: Path | None,
    over: bool,
    on: str | None,
    batches: tuple[str, ...],
    analyses: tuple[str, ...],
    dated: str | None,
    quotes: tuple[Path, ...],
    seconds: float,
    progress: bool,
    overlays: tuple[Path, ...],
    as_json: bool,
) -> None:
    """Put an answer on A4 paper: a page that stands alone, or a PDF.

    \b
    KIND is one of
      card           a feeding card for each pen, to hang in the shed and tick off
      order          what to ring in, from whom, when, and the price to walk away at
      ration         what to feed, what it costs, what to expect
      nutritionist   the same worked: needs, limits, worth, every figure with its origin
      needs          needs by every standard; before and after an analysis
      quotes         merchants' quotes compared
      wintering      ways of wintering side by side
      minerals       minerals and vitamins, with what is not known

    \b
    Examples:
      ration paper card quernhope.yaml
      ration paper card quernhope.yaml --on "14 January 2027" --batch small --out small.pdf
      ration paper order quernhope.yaml --quotes merchants.xlsx --out order.html
      ration paper needs quernhope.yaml --analysis bottom-ings=bottom-ings-2026-11-16.csv
    """
    from ration.sheets import foot, store

    _refuse_idle(kind, on=on, batch=batches, quotes=quotes, analysis=analyses)
    if out is not None:
        store.check_name(out)
    day = day_of(on, "--on")
    printed = day_of(dated, "--dated") or _today()
    asked = Asked(farm, day, batches, quotes, _laid(analyses), overlays, seconds, progress)
    made = MAKERS[kind](asked)
    if as_json:
        put_json(made.data)
    elif made.why_not:
        for line in made.why_not:
            click.echo(line)
    else:
        path = out or _beside(farm, kind, asked, made.first)
        store.put(made.lay(foot(printed, made.tables)), path, over=over)
        click.echo(f"Written: {path}")
    if not made.is_whole:
        sys.exit(3)


def _refuse_idle(kind: str, **given: Any) -> None:
    """An option that a sheet has no use for is a mistake, not a wish."""
    for option, kinds in USES.items():
        if given[option.removeprefix("--")] and kind not in kinds:
            raise click.UsageError(
                f"{option} means nothing to {kind}; it is for {', '.join(kinds)}"
            )


def _today() -> date:
    from datetime import datetime

    return datetime.now().astimezone().date()


def _laid(text: tuple[str, ...]) -> Sheets:
    from ration.cli import _overlaid

    return _overlaid(text)


def _beside(farm: Path, kind: str, asked: Asked, first: date | None) -> Path:
    """A name beside the farm file: quernhope-card-2026-10-28-small.html."""
    from ration.farm.words import id_of

    parts = [farm.stem, kind]
    if first is not None:
        parts.append(first.isoformat())
    parts += [id_of(name) for name in asked.batches]
    return farm.with_name(f"{'-'.join(parts)}.html")


# ---------------------------------------------------------------- one maker a kind


def _planned(asked: Asked, **more: Any) -> Any:
    from ration.jobs import winter as winter_jobs

    with watched(asked.progress) as (tell, stop):
        return winter_jobs.winter_file(
            asked.farm,
            quotes=asked.quotes,
            seconds=asked.seconds,
            overlays=asked.overlays,
            tell=tell,
            stop=stop,
            **more,
        )


def _card(asked: Asked) -> Made:
    from ration import sheets
    from ration.faces import winter_json
    from ration.jobs import winter as winter_jobs

    winter_jobs.check_card(asked.farm, asked.on, asked.batches, asked.overlays)
    done = _planned(asked, with_values=False)
    if not done.plan.is_found:
        return _no_plan(done)
    cards = winter_jobs.cards_of(done, asked.on, asked.batches)
    return Made(
        lambda f: sheets.card_sheet(done.ready.farm.name, cards, f),
        winter_json.cards_json(done, cards),
        done.plan.tables_digest,
        first=cards[0].start if cards else None,
    )


def _order(asked: Asked) -> Made:
    from ration import sheets
    from ration.faces import winter_json
    from ration.sheets import drawings

    done = _planned(asked, on=asked.on)
    if not done.plan.is_found:
        return _no_plan(done)
    return Made(
        lambda f: sheets.order_sheet(done, f, drawings.of_order(done)),
        winter_json.order_json(done),
        done.plan.tables_digest,
    )


def _no_plan(done: Any) -> Made:
    from ration.faces import winter_json

    return Made(
        lambda _: "", winter_json.order_json(done), "", is_whole=False, why_not=done.why_not
    )


def _mixed(asked: Asked) -> Any:
    from ration import jobs

    return jobs.mix_file(
        asked.farm, batches=asked.batches, sheets=asked.sheets, overlays=asked.overlays
    )


def _ration(asked: Asked) -> Made:
    from ration import sheets
    from ration.faces import as_json as js

    done = _mixed(asked)
    return Made(
        lambda f: sheets.ration_sheet(done, f),
        js.mix_json(done),
        done.result.tables_digest,
        is_whole=all(r.is_found for r in done.result.rations),
    )


def _nutritionist(asked: Asked) -> Made:
    from ration import sheets

    done = _mixed(asked)
    return Made(
        lambda f: sheets.nutritionist_sheet(done, f),
        sheets.nutritionist_json(done),
        done.result.tables_digest,
        is_whole=all(r.is_found for r in done.result.rations),
    )


def _needs(asked: Asked) -> Made:
    from ration import sheets

    done = sheets.needs_beside(
        asked.farm, batches=asked.batches, sheets=asked.sheets, overlays=asked.overlays
    )
    return Made(
        lambda f: sheets.needs_sheet(done, f),
        sheets.needs_beside_json(done),
        done.mixed.result.tables_digest,
        is_whole=all(r.is_found for r in done.mixed.result.rations),
    )


def _quotes(asked: Asked) -> Made:
    from ration import jobs, sheets
    from ration.faces import winter_json
    from ration.jobs import quotes as quote_jobs

    _, book = jobs.read_farm(asked.farm, overlays=asked.overlays)
    done = quote_jobs.compare_file(
        asked.farm, quotes=asked.quotes, on=asked.on, overlays=asked.overlays
    )
    return Made(
        lambda f: sheets.quotes_sheet(done, f), winter_json.compared_json(done), book.digest
    )


def _wintering(asked: Asked) -> Made:
    from ration import jobs, sheets
    from ration.faces import wintering_json
    from ration.jobs import wintering as wintering_jobs

    _, book = jobs.read_farm(asked.farm, overlays=asked.overlays)
    done = wintering_jobs.wintering_file(asked.farm, overlays=asked.overlays)
    return Made(
        lambda f: sheets.wintering_sheet(done, f), wintering_json.wintering_json(done), book.digest
    )


def _minerals(asked: Asked) -> Made:
    from ration import sheets
    from ration.faces import minerals_json
    from ration.jobs import minerals as mineral_jobs

    done = mineral_jobs.minerals_file(
        asked.farm, batches=asked.batches, sheets=asked.sheets, overlays=asked.overlays
    )
    return Made(
        lambda f: sheets.minerals_sheet(done, f),
        minerals_json.minerals_json(done),
        done.tables.digest,
        is_whole=done.is_found,
    )


MAKERS: dict[str, Callable[[Asked], Made]] = {
    "card": _card,
    "order": _order,
    "ration": _ration,
    "nutritionist": _nutritionist,
    "needs": _needs,
    "quotes": _quotes,
    "wintering": _wintering,
    "minerals": _minerals,
}

COMMANDS = (paper,)

"""The commands of the winter: stack, winter, order, card, weigh, quotes."""

from __future__ import annotations

import sys
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from ration.cli.common import (
    CONTEXT,
    F,
    console,
    day_of,
    faults_in_words,
    json_option,
    put_json,
    tables_of,
    tables_option,
    typed_day,
    watched,
)
from ration.cli.xlsx import check_xlsx, put_xlsx, xlsx_option

if TYPE_CHECKING:
    from datetime import date

    from rich.console import Console

    from ration.jobs.quotes import Compared, LandedOnly
    from ration.jobs.winter import Wintered
    from ration.weighing import Weighing

file_type = click.Path(path_type=Path)
farm_argument = click.argument("farm", type=file_type)


def planning(command: F) -> F:
    """Options of every command that plans a winter."""
    for option in (
        click.option(
            "--progress", is_flag=True, help="Tell the progress on standard error, window or not."
        ),
        click.option(
            "--seconds",
            default=50.0,
            show_default=True,
            type=click.FloatRange(min=0.1),
            help="After which the best plan found is given, with its gap; for each plan.",
        ),
        click.option(
            "--quotes",
            multiple=True,
            type=file_type,
            help="A file of quotes, instead of those the farm file names; may be given again.",
        ),
    ):
        command = option(command)
    return command


ordering_day = click.option(
    "--on",
    default=None,
    metavar="DATE",
    help="Day on which the order is placed; else the first day of the winter.",
)


@click.command(context_settings=CONTEXT)
@farm_argument
@click.option(
    "--hay",
    default="0.80 kg",
    show_default=True,
    help="What each of the batches is taken to eat a day, waste apart.",
)
@tables_option
@json_option
@faults_in_words
def stack(farm: Path, hay: str, overlays: tuple[Path, ...], as_json: bool) -> None:
    """How long the hay will last, before there is a plan: each lot with its band.

    \b
    Examples:
      ration stack quernhope.yaml
      ration stack quernhope.yaml --hay 0.68kg
    """
    from ration import units
    from ration.errors import InputError
    from ration.faces import winter_json, winter_report
    from ration.jobs import winter as winter_jobs

    try:
        kg = units.mass_kg(hay, "hay")
    except InputError as error:
        raise error.at("--hay") from None
    found = winter_jobs.stack_file(farm, hay_kg_per_head_day=kg, overlays=overlays)
    if as_json:
        put_json(winter_json.stack_json(found))
    else:
        winter_report.print_stack(console(), found)


def _planned(
    farm: Path,
    quotes: tuple[Path, ...],
    seconds: float,
    progress: bool,
    overlays: tuple[Path, ...],
    **more: Any,
) -> Wintered:
    from ration.jobs import winter as winter_jobs

    with watched(progress) as (tell, stop):
        return winter_jobs.winter_file(
            farm, quotes=quotes, seconds=seconds, overlays=overlays, tell=tell, stop=stop, **more
        )


def whole_winter(command: F) -> F:
    """What `winter` and `order` are asked; `_whole_winter` takes it as it comes."""
    for option in (
        faults_in_words,
        json_option,
        xlsx_option,
        tables_option,
        click.option(
            "--what-if",
            "what_ifs",
            multiple=True,
            metavar="CHANGE",
            help='Beside the plan, the winter with one change, like "long winter"; may be given '
            "again.",
        ),
        ordering_day,
        planning,
        farm_argument,
    ):
        command = option(command)
    return command


def _whole_winter(
    put: Callable[[Console, Wintered], None],
    as_data: Callable[[Wintered], dict[str, Any]],
    as_book: Callable[[Wintered], bytes],
    *,
    on: str | None,
    as_json: bool,
    xlsx: Path | None,
    over: bool,
    **asked: Any,
) -> None:
    """Plan the winter and put it on the screen, or its data on standard output."""
    check_xlsx(xlsx, over)
    done = _planned(on=day_of(on, "--on"), **asked)
    if as_json:
        put_json(as_data(done))
    else:
        put(console(), done)
    put_xlsx(xlsx, over, lambda: as_book(done))
    if not done.plan.is_found:
        sys.exit(3)


@click.command(context_settings=CONTEXT)
@whole_winter
def winter(**asked: Any) -> None:
    """Plan the whole winter: what to order, what to feed when, how long it lasts, what it costs.

    Ctrl-C once gives the best plan found so far with its gap.

    \b
    Examples:
      ration winter quernhope.yaml
      ration winter quernhope.yaml --quotes merchants.xlsx --on "14 September 2026"
      ration winter quernhope.yaml --what-if "long winter" --what-if "all bought feed +30 %"
      ration winter quernhope.yaml --xlsx winter.xlsx
    """
    from ration.faces import winter_json, winter_report

    def book(done: Wintered) -> bytes:
        from ration.workbooks.winter import winter_book

        return winter_book(done)

    _whole_winter(winter_report.print_winter, winter_json.winter_json, book, **asked)


@click.command(context_settings=CONTEXT)
@whole_winter
def order(**asked: Any) -> None:
    """The order sheet of the winter: feed, merchant, tonnes, loads, dates, cost.

    \b
    Example:
      ration order quernhope.yaml --quotes merchants.csv
    """
    from ration.faces import winter_json, winter_report

    def book(done: Wintered) -> bytes:
        from ration.workbooks.winter import order_book

        return order_book(done)

    _whole_winter(winter_report.print_order, winter_json.order_json, book, **asked)


@click.command(context_settings=CONTEXT)
@farm_argument
@planning
@click.option("--on", default=None, metavar="DATE", help="A day the card is for; else the first.")
@click.option("--batch", "only", multiple=True, help="Only this batch; may be given again.")
@tables_option
@json_option
@faults_in_words
def card(
    farm: Path,
    quotes: tuple[Path, ...],
    on: str | None,
    seconds: float,
    only: tuple[str, ...],
    progress: bool,
    overlays: tuple[Path, ...],
    as_json: bool,
) -> None:
    """The feeding cards of one period: scoops, buckets and bales for each pen.

    \b
    Examples:
      ration card quernhope.yaml
      ration card quernhope.yaml --on "14 January 2027" --batch small
    """
    from ration.faces import card_report, report, winter_json, winter_report
    from ration.jobs import winter as winter_jobs

    day = day_of(on, "--on")
    winter_jobs.check_card(farm, day, only, overlays)
    done = _planned(farm, quotes, seconds, progress, overlays, with_values=False)
    if not done.plan.is_found:
        if as_json:
            put_json(winter_json.order_json(done))
        else:
            winter_report.print_order(console(), done)
        sys.exit(3)
    found = winter_jobs.cards_of(done, day, only)
    if as_json:
        put_json(winter_json.cards_json(done, found))
        return
    screen = console()
    report.print_heading(screen, done.ready.farm)
    card_report.print_cards(screen, found)


@click.command(context_settings=CONTEXT)
@farm_argument
@click.option("--on", required=True, metavar="DATE", help="The day they were weighed.")
@click.option("--mean", default=None, help='Their mean weight: "37.1 kg".')
@click.option("--sd", default=None, help='Standard deviation of the weights: "3.0 kg".')
@click.option("--number", default=None, type=int, help="How many were weighed.")
@click.option("--weights", default=None, type=file_type, help="A file, one weight a line.")
@click.option("--batch", default="", help="The batch they are of; else a sample of all.")
@click.option("--hours-off", default=None, help='Since they last had feed: "8 h".')
@click.option("--first-hours-off", default=None, help="The same at the first weighing.")
@click.option(
    "--later", default=None, metavar="DATE", help='A later day to catch up by, or "25 days".'
)
@planning
@tables_option
@json_option
@faults_in_words
def weigh(
    farm: Path,
    on: str,
    mean: str | None,
    sd: str | None,
    number: int | None,
    weights: Path | None,
    batch: str,
    hours_off: str | None,
    first_hours_off: str | None,
    later: str | None,
    quotes: tuple[Path, ...],
    seconds: float,
    progress: bool,
    overlays: tuple[Path, ...],
    as_json: bool,
) -> None:
    """A weighing in mid-winter: behind or ahead, what catches up at what cost, the new cards.

    \b
    Examples:
      ration weigh quernhope.yaml --on "14 January 2027" --mean 37.1kg --sd 3.0kg --number 40
      ration weigh quernhope.yaml --on "14 January 2027" --weights small.txt --batch small
    """
    from ration.faces import weigh_report, winter_json
    from ration.jobs import weigh as weigh_jobs

    day = typed_day(on, "--on")
    weighed = _weighing(day, mean, sd, number, weights, batch, _hours(hours_off, "--hours-off"))
    first = _hours(first_hours_off, "--first-hours-off")
    with watched(progress) as (tell, stop):
        done = weigh_jobs.weigh_file(
            farm,
            weighed,
            quotes=quotes,
            later=_later(later),
            start_hours_off=first,
            seconds=seconds,
            overlays=overlays,
            tell=tell,
            stop=stop,
        )
    if as_json:
        put_json(winter_json.weigh_json(done))
    else:
        weigh_report.print_weighing(console(), done)
    if not done.is_found:
        sys.exit(3)


def _weighing(
    day: date,
    mean: str | None,
    sd: str | None,
    number: int | None,
    weights: Path | None,
    batch: str,
    hours: float | None,
) -> Weighing:
    """What was weighed, from a file of weights or from mean, spread and number."""
    from ration import units, weighing
    from ration.jobs import weigh as weigh_jobs

    if weights is not None:
        if mean is not None or sd is not None or number is not None:
            raise click.UsageError("--weights says it all: leave out --mean, --sd and --number")
        return weighing.from_weights(
            weigh_jobs.weights_of(weights), day, hours_off_feed=hours, batch=batch
        )
    if mean is None or sd is None or number is None:
        raise click.UsageError("--mean, --sd and --number are wanted together, or --weights")
    return weighing.weighing(
        day,
        number,
        units.mass_kg(mean, "mean weight"),
        units.mass_kg(sd, "standard deviation"),
        hours_off_feed=hours,
        batch=batch,
    )


def _hours(text: str | None, option: str) -> float | None:
    """Hours: "8", "8 h", "8 hours"."""
    from ration import units
    from ration.errors import InputError

    if text is None:
        return None
    bare = text.strip().lower()
    for tail in ("hours", "hour", "hrs", "h"):
        bare = bare.removesuffix(tail).strip()
    try:
        return units.number(bare, "hours")
    except InputError as error:
        raise error.at(option) from None


def _later(text: str | None) -> date | int | None:
    """A day, or a number of days."""
    if text is None:
        return None
    bare = text.strip().removesuffix("days").removesuffix("day").strip()
    if bare.isdigit():
        return int(bare)
    return typed_day(text, "--later")


@click.command(context_settings=CONTEXT)
@click.argument("files", nargs=-1, required=True, type=file_type, metavar="[FARM] [QUOTES]...")
@click.option(
    "--on", default=None, metavar="DATE", help="Day of the order; else the first day of winter."
)
@click.option("--tonnes", default=None, help='Without a farm: so much of each, "34 t".')
@click.option("--drops", default=None, type=int, help="Without a farm: deliveries it comes in.")
@tables_option
@xlsx_option
@json_option
@faults_in_words
def quotes(
    files: tuple[Path, ...],
    on: str | None,
    tonnes: str | None,
    drops: int | None,
    overlays: tuple[Path, ...],
    xlsx: Path | None,
    over: bool,
    as_json: bool,
) -> None:
    """Compare merchants' quotes: for the batches of a farm, or by landed cost alone.

    With a farm file (.yaml) first, merchants are ranked by what its sheep cost with each one's feed
    as the only change. Without one, each quote's price in the bin is shown.

    \b
    Examples:
      ration quotes quernhope.yaml merchants.xlsx
      ration quotes merchants.xlsx --tonnes 34 --drops 5
      ration quotes quernhope.yaml merchants.xlsx --xlsx compared.xlsx
    """
    from ration.faces import landed_report, quotes_report, winter_json
    from ration.jobs import quotes as quote_jobs

    check_xlsx(xlsx, over)
    day = day_of(on, "--on")
    if files[0].suffix.lower() in (".yaml", ".yml"):
        if tonnes is not None or drops is not None:
            raise click.UsageError("--tonnes and --drops are for quotes without a farm file")
        found = quote_jobs.compare_file(files[0], quotes=files[1:], on=day, overlays=overlays)
        if as_json:
            put_json(winter_json.compared_json(found))
        else:
            quotes_report.print_quotes(
                console(), found.ranked, found.tied, on=found.on, sheets=found.sheets
            )
        put_xlsx(xlsx, over, lambda: _compared_book(found, overlays))
        return
    alone = quote_jobs.landed_files(
        files, tonnes=_tonnes(tonnes), drops=1 if drops is None else drops, on=day,
        overlays=overlays,
    )  # fmt: skip
    if as_json:
        put_json(winter_json.landed_json(alone))
    else:
        landed_report.print_landed(console(), alone)
    put_xlsx(xlsx, over, lambda: _landed_book(alone, overlays))


def _compared_book(found: Compared, overlays: tuple[Path, ...]) -> bytes:
    from ration.workbooks.quotes import quotes_book

    return quotes_book(found, tables_of((*overlays, *found.farm.tables)))


def _landed_book(found: LandedOnly, overlays: tuple[Path, ...]) -> bytes:
    from ration.workbooks.quotes import landed_book

    return landed_book(found, tables_of(overlays))


def _tonnes(text: str | None) -> float | None:
    from ration import units
    from ration.errors import InputError

    if text is None:
        return None
    bare = text.strip()
    try:
        return units.mass_kg(bare if bare[-1:].isalpha() else f"{bare} t", "tonnes") / 1000
    except InputError as error:
        raise error.at("--tonnes") from None


COMMANDS = (stack, winter, order, card, weigh, quotes)

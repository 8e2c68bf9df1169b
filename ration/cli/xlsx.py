"""The option that writes an answer as a workbook, for every command that has one."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import click

from ration.cli.common import F


def xlsx_option(command: F) -> F:
    """--xlsx FILE, and --over for a file that is there already."""
    for option in (
        click.option(
            "--over", is_flag=True, help="Let --xlsx replace a file that is there and differs."
        ),
        click.option(
            "--xlsx",
            default=None,
            metavar="FILE",
            type=click.Path(path_type=Path),
            help="Write the answer as a workbook too (.xlsx).",
        ),
    ):
        command = option(command)
    return command


def check_xlsx(xlsx: Path | None, over: bool) -> None:
    """Refuse before the work what could not be written after it."""
    if xlsx is None:
        if over:
            raise click.UsageError("--over goes with --xlsx")
        return
    from ration.workbooks.save import check_target

    check_target(xlsx)


def put_xlsx(xlsx: Path | None, over: bool, made: Callable[[], bytes]) -> None:
    """Write the workbook when it was asked for, and say so on standard error."""
    if xlsx is None:
        return
    from ration.workbooks.save import save

    is_new = save(xlsx, made(), over=over)
    click.echo(f"{xlsx}: {'written' if is_new else 'just that is there already'}.", err=True)

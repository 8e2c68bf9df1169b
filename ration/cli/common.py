"""What all commands share: faults in words, the console, JSON, days, and Ctrl-C.

Heavy packages are imported inside the functions so that --help is quick.
"""

from __future__ import annotations

import os
import signal
import sys
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from functools import wraps
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

import click

from ration.errors import RationError

if TYPE_CHECKING:
    from datetime import date

    from rich.console import Console

    from ration.tables import Tables

F = TypeVar("F", bound=Callable[..., Any])
CONTEXT = {"help_option_names": ["-h", "--help"], "max_content_width": 96}
STOPPING = (
    "\nStopping: the best plan found so far follows. Press Ctrl-C again to leave without it.\n"
)


def faults_in_words(command: F) -> F:
    """Turn errors into lines on standard error and an exit code."""

    @wraps(command)
    def run(*args: Any, **kwargs: Any) -> Any:
        try:
            return command(*args, **kwargs)
        except RationError as error:
            click.echo(error.lines(), err=True)
            sys.exit(error.exit_code)
        except (click.ClickException, click.exceptions.Exit, click.Abort):
            raise
        except BrokenPipeError:
            sys.exit(0)
        except Exception as error:  # the last face before a person: never a traceback
            click.echo(
                f"This is our fault, not yours: {type(error).__name__}: {error}. Please report it "
                "with the file you used.",
                err=True,
            )
            sys.exit(4)

    return run  # type: ignore[return-value]


def console() -> Console:
    """A console as wide as the window, or 100 columns when it is not a window."""
    from rich.console import Console

    out = Console(highlight=False, markup=False, emoji=False)
    return (
        out
        if out.is_terminal
        else Console(highlight=False, markup=False, emoji=False, width=100, no_color=True)
    )


def put_json(value: Any) -> None:
    """JSON alone on standard output."""
    from ration.faces import as_json

    click.echo(as_json.text(value))


def tables_of(overlays: tuple[str, ...] | tuple[Path, ...] = ()) -> Tables:
    """The shipped tables with overlays laid on."""
    from ration import tables

    return tables.load(overlays=[Path(p) for p in overlays])


def typed_day(text: str, option: str) -> date:
    """A day as typed after an option.

    Raises
    ------
    InputError
        It is not a day.
    """
    from ration import units
    from ration.errors import InputError

    try:
        return units.day(text)
    except InputError as error:
        raise error.at(option) from None


def day_of(text: str | None, option: str) -> date | None:
    """A day as typed after an option; None when the option was not given."""
    return None if text is None else typed_day(text, option)


@contextmanager
def watched(progress: bool) -> Iterator[tuple[Callable[[str], None], Callable[[], bool]]]:
    """Progress on standard error, and whether Ctrl-C was pressed.

    The first press asks the work to stop with the best it has; the second ends the process at
    once. Progress is told when standard error is a terminal or when it is asked for.
    """
    pressed = threading.Event()
    is_main = threading.current_thread() is threading.main_thread()
    is_told = progress or sys.stderr.isatty()

    def first(_number: int, _frame: object) -> None:
        pressed.set()
        signal.signal(signal.SIGINT, signal.SIG_DFL)
        os.write(2, STOPPING.encode())  # a print might break into one that is under way

    def tell(words: str) -> None:
        if is_told:
            click.echo(words, err=True)

    before = signal.signal(signal.SIGINT, first) if is_main else None
    try:
        yield tell, pressed.is_set
    finally:
        if is_main:
            signal.signal(signal.SIGINT, before)


ALL = "all"


def _or_all(_context: click.Context, _option: click.Parameter, value: str | None) -> str | None:
    """A standard as typed; "All" and "ALL" are all of them too."""
    return ALL if value is not None and value.strip().lower() == ALL else value


standard_option = click.option(
    "--standard",
    default="AFRC 1993",
    callback=_or_all,
    show_default=True,
    help='Published standard: "AFRC 1993", "NRC 1985", "CSIRO 2007", or "all" beside each other.',
)
standard_of_farm = click.option(
    "--standard",
    default=None,
    callback=_or_all,
    help="Published standard instead of the farm file's: AFRC 1993, NRC 1985, CSIRO 2007, all.",
)
one_standard_of_farm = click.option(
    "--standard",
    default=None,
    help="Published standard instead of the farm file's: AFRC 1993, NRC 1985 or CSIRO 2007.",
)
json_option = click.option("--json", "as_json", is_flag=True, help="JSON on standard output.")
tables_option = click.option(
    "--tables",
    "overlays",
    multiple=True,
    type=click.Path(path_type=Path),
    help="Your own feed table (CSV), or a folder of edited tables, laid over the shipped one.",
)

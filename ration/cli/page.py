"""The command that starts the page."""

from __future__ import annotations

import os
import sys
from contextlib import ExitStack, suppress
from pathlib import Path
from typing import TYPE_CHECKING

import click

from ration.cli.common import CONTEXT, faults_in_words, tables_option

if TYPE_CHECKING:
    import socket

HERE = "127.0.0.1"
MORE_PORTS = 20


@click.command(context_settings=CONTEXT)
@click.argument("farm", type=click.Path(path_type=Path))
@click.option("--port", default=8765, show_default=True, type=click.IntRange(1, 65535))
@click.option("--share", is_flag=True, help="Let a phone on the home network in, by a code.")
@click.option("--no-browser", is_flag=True, help="Do not open a browser.")
@tables_option
@faults_in_words
def page(farm: Path, port: int, share: bool, no_browser: bool, overlays: tuple[Path, ...]) -> None:
    """Work on a farm file in a browser, on this machine and without the internet.

    Nothing is written into the file until you press Save. Ctrl-C ends it.

    \b
    Examples:
      ration page quernhope.yaml
      ration page quernhope.yaml --port 9000 --no-browser
      ration page quernhope.yaml --share     a phone on the home network, once it types the code
    """
    import secrets
    import webbrowser

    import uvicorn

    from ration import page as pages
    from ration.page import runs

    address = home_address() if share else None
    with ExitStack() as held:
        sockets = [held.enter_context(opened(HERE, port))]
        if address is not None:
            sockets.append(held.enter_context(opened(address, port)))
        made = pages.app(
            farm,
            token=secrets.token_urlsafe(32),
            hosts=() if address is None else (address,),
            code=None if address is None else new_code,
            overlays=overlays,
        )
        here = f"http://{HERE}:{port}/"
        click.echo(f"Open {here} in a browser on this machine. Ctrl-C ends it.", err=True)
        if address is not None:
            click.echo(f"On a phone on the same network: http://{address}:{port}/", err=True)
        if not no_browser:
            webbrowser.open(here)
        settings = uvicorn.Config(
            made,
            log_level="error",
            access_log=False,
            timeout_graceful_shutdown=2,
            lifespan="off",
            server_header=False,
            proxy_headers=False,
        )
        with suppress(KeyboardInterrupt):
            uvicorn.Server(settings).run(sockets=sockets)
    click.echo("The page is closed. What was not saved is gone.", err=True)
    if not runs.end(made):  # a plan under way would hold the program for half a minute more
        sys.stderr.flush()
        os._exit(0)


def new_code() -> str:
    """A code for one more device, shown here and nowhere else."""
    import secrets

    code = f"{secrets.randbelow(10**8):08d}"
    click.echo(f"Code for the next device, good for one: {code[:4]} {code[4:]}", err=True)
    return code


def opened(host: str, port: int) -> socket.socket:
    """A socket that listens.

    Raises
    ------
    InputError
        The port is taken, or is not to be had; the next free one is named.
    """
    import socket

    from ration.errors import InputError, Problem

    made = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
    made.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        made.bind((host, port))
        made.listen(64)
    except OSError as fault:
        made.close()
        free = next_free(host, port)
        do = "Try another with --port" if free is None else f"Use --port {free}, which is free"
        why = "is taken" if fault.errno in (48, 98, 10048) else "is not to be had"
        raise InputError(Problem("--port", f"port {port} {why} at {host}", "", do)) from None
    return made


def next_free(host: str, port: int) -> int | None:
    """The next port that nobody listens at."""
    import socket

    for other in range(port + 1, min(port + MORE_PORTS, 65535) + 1):
        with socket.socket(socket.AF_INET, socket.SOCK_STREAM) as tried:
            try:
                tried.bind((host, other))
            except OSError:
                continue
            return other
    return None


def home_address() -> str:
    """This machine's address on the home network.

    Raises
    ------
    InputError
        It has none, or one that the whole world could reach.
    """
    import ipaddress
    import socket

    from ration.errors import InputError, Problem

    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as asked:
        try:
            asked.connect(("192.0.2.1", 9))  # nothing is sent: it tells which way is out
            found = str(asked.getsockname()[0])
        except OSError:
            found = HERE
    address = ipaddress.ip_address(found)
    if address.is_loopback or not address.is_private:
        raise InputError(
            Problem("--share", f"no home network was found (this machine is {found})", "",
                    "Join the home network, or leave --share out")
        )  # fmt: skip
    return found

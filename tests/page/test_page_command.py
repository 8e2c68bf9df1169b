"""The command: loopback only, a plain line where the port is taken, a clean end."""

from __future__ import annotations

import importlib
import re
import signal
import socket
import subprocess
import sys
import time
import urllib.request

import pytest
from click.testing import CliRunner

from ration.errors import InputError

command = importlib.import_module("ration.cli.page")  # the room, not the command of that name


def free_port() -> int:
    with socket.socket() as tried:
        tried.bind(("127.0.0.1", 0))
        return tried.getsockname()[1]


def started(farm, port, *more) -> subprocess.Popen[str]:
    run = "from ration.cli.page import page; page()"
    return subprocess.Popen(
        [sys.executable, "-c", run, str(farm), "--port", str(port), "--no-browser", *more],
        stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True,
    )  # fmt: skip


def asked(address: str) -> str:
    for _ in range(100):
        try:
            with urllib.request.urlopen(address, timeout=5) as got:
                return got.read().decode()
        except OSError:
            time.sleep(0.1)
    raise AssertionError(f"nothing answers at {address}")


@pytest.mark.skipif(sys.platform == "win32", reason="Ctrl-C is sent to a process otherwise there")
def test_it_starts_answers_and_ends_at_ctrl_c(farm) -> None:
    port = free_port()
    run = started(farm, port)
    try:
        assert "What do I feed?" in asked(f"http://127.0.0.1:{port}/")
        with socket.socket() as other:
            assert other.connect_ex(("127.0.0.2", port)) != 0, "only this one address"
        run.send_signal(signal.SIGINT)
        out, err = run.communicate(timeout=20)
    finally:
        run.kill()
    assert run.returncode == 0, err
    assert out == ""
    assert "Traceback" not in err
    assert f"http://127.0.0.1:{port}/" in err
    assert "code" not in err.lower(), "nothing is shared"


def test_a_port_that_is_taken_is_a_plain_line_with_a_free_one(farm) -> None:
    with socket.socket() as busy:
        busy.bind(("127.0.0.1", 0))
        busy.listen()
        port = busy.getsockname()[1]
        told = CliRunner().invoke(command.page, [str(farm), "--port", str(port), "--no-browser"])
    assert told.exit_code == 1
    assert f"port {port} is taken" in told.stderr
    offered = int(re.search(r"Use --port (\d+), which is free", told.stderr).group(1))
    assert port < offered <= port + command.MORE_PORTS


def test_a_file_that_is_not_there(tmp_path) -> None:
    port = str(free_port())
    told = CliRunner().invoke(
        command.page, [str(tmp_path / "x.yaml"), "--port", port, "--no-browser"]
    )
    assert told.exit_code == 1
    assert "there is no such file" in told.stderr


def test_sharing_tells_the_address_and_a_code(farm, monkeypatch) -> None:
    import uvicorn

    seen: list[list[str]] = []
    monkeypatch.setattr(command, "home_address", lambda: "127.0.0.2")
    monkeypatch.setattr(
        uvicorn.Server, "run",
        lambda _, sockets: seen.append([s.getsockname()[0] for s in sockets]),
    )  # fmt: skip
    port = free_port()
    told = CliRunner().invoke(
        command.page, [str(farm), "--port", str(port), "--no-browser", "--share"]
    )
    assert told.exit_code == 0, told.stderr
    assert seen == [["127.0.0.1", "127.0.0.2"]]
    assert f"http://127.0.0.2:{port}/" in told.stderr
    assert (
        len(re.findall(r"Code for the next device, good for one: \d{4} \d{4}\n", told.stderr)) == 1
    )


@pytest.mark.parametrize("found", ["127.0.0.1", "8.8.8.8"])
def test_no_sharing_where_there_is_no_home_network(monkeypatch, found) -> None:
    class Asked(socket.socket):
        def connect(self, _) -> None:
            pass

        def getsockname(self):
            return (found, 9)

    monkeypatch.setattr(socket, "socket", Asked)
    with pytest.raises(InputError, match="no home network"):
        command.home_address()


def test_help_stays_quick() -> None:
    run = (
        "import sys; from ration.cli.page import page; import ration.page; "
        "print([m for m in ('starlette', 'jinja2', 'uvicorn', 'numpy') if m in sys.modules])"
    )
    got = subprocess.run([sys.executable, "-c", run], capture_output=True, text=True, check=True)
    assert got.stdout.strip() == "[]"

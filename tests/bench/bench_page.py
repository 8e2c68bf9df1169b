"""How the page bears many changes: hay protein moved fifty times a second on one worker.

Run: python tests/bench/bench_page.py [SECONDS [CHANGES_A_SECOND]]; by default 30 s of 50 a second,
some four minutes in all. It starts the page's own command on the invented farm, on this machine
only, moves one figure as a slider would and prints what came back and how long it took. Changes
leave on time whether or not earlier answers are in, so waiting in the queue is counted. Three runs:
a slider drawn to and fro (values come again), every value new, and the menu's pages in turn. It
prints and judges nothing. Times are of the machine at hand and change with what else it does.

A browser sends far fewer: it waits a fifth of a second after the last key, and gives up what it
asked before. So the second run tells how much the page works out a second, not what a person waits.
"""

from __future__ import annotations

import asyncio
import shutil
import signal
import socket
import statistics
import subprocess
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from pathlib import Path

import httpx2 as httpx

ROOT = Path(__file__).parents[2]
DEMO = ROOT / "ration" / "demo"
HERE = "127.0.0.1"
AS_SCRIPT = {"HX-Request": "true"}
LEAST, MOST = 5.0, 12.0  # protein of the hay, % of dry matter
PATIENCE_S = 900


@dataclass
class Run:
    """What came back from one run."""

    name: str
    seconds: list[float] = field(default_factory=list)
    answers: Counter[str] = field(default_factory=Counter)
    faults: list[str] = field(default_factory=list)

    def told(self, took_s: float, memory: str) -> str:
        ms = sorted(1000 * s for s in self.seconds)
        if not ms:
            return f"{self.name}: nothing came back. {self.faults[:1]}"
        percentiles = statistics.quantiles(ms, n=100) if len(ms) > 1 else ms * 99
        wrong = len(self.faults)
        return (
            f"{self.name}: {len(ms) + wrong} changes in {took_s:.1f} s, {wrong} faults; "
            f"{len(self.answers)} different answers.\n"
            f"  median {percentiles[49]:.0f} ms, 90th percentile {percentiles[89]:.0f}, "
            f"99th {percentiles[98]:.0f}, longest {ms[-1]:.0f}. Memory of the page: {memory}."
            + "".join(f"\n  fault: {x}" for x in self.faults[:3])
        )


def to_and_fro(step: float = 0.1) -> Iterator[str]:
    """Protein as a slider gives it: up by steps, down again."""
    many = round((MOST - LEAST) / step)
    while True:
        for i in (*range(many), *range(many, 0, -1)):
            yield f"/hay?protein={LEAST + i * step:.1f}"


def always_new() -> Iterator[str]:
    """Protein that was never asked before: the golden section of the range, again and again."""
    share = 0.0
    while True:
        share = (share + 0.6180339887498949) % 1
        yield f"/hay?protein={LEAST + share * (MOST - LEAST):.5f}"


def in_turn(paths: list[str]) -> Iterator[str]:
    """The first page of every question, one after the other."""
    while True:
        yield from paths


async def change(client: httpx.AsyncClient, path: str, run: Run, mark: str) -> None:
    """One change; the answer's own words are counted, so that an empty one is noticed."""
    begun = time.perf_counter()
    try:
        got = await client.get(path, headers=AS_SCRIPT if "?" in path else {})
    except httpx.HTTPError as fault:
        run.faults.append(f"{path}: {type(fault).__name__} {fault}")
        return
    took = time.perf_counter() - begun
    if got.status_code != 200 or mark not in got.text:
        run.faults.append(f"{path}: {got.status_code} {got.text[:80]!r}")
        return
    run.seconds.append(took)
    run.answers[str(hash(got.text))] += 1


async def send(base: str, run: Run, paths: Iterator[str], seconds: float, a_second: float,
               mark: str) -> float:  # fmt: skip
    """Send changes by the clock and wait for all answers."""
    limits = httpx.Limits(max_connections=64, max_keepalive_connections=64)
    async with httpx.AsyncClient(base_url=base, timeout=PATIENCE_S, limits=limits,
                                 trust_env=False) as client:  # fmt: skip
        begun = time.perf_counter()
        under_way = []
        for i in range(round(seconds * a_second)):
            await asyncio.sleep(max(0.0, begun + i / a_second - time.perf_counter()))
            under_way.append(asyncio.create_task(change(client, next(paths), run, mark)))
        await asyncio.gather(*under_way)
        return time.perf_counter() - begun


def memory(pid: int) -> str:
    """What the page holds and the most it held, where the system tells."""
    try:
        lines = Path(f"/proc/{pid}/status").read_text(encoding="ascii").splitlines()
    except OSError:
        return "not told here"
    kb = {k: int(v.split()[0]) for k, _, v in (x.partition(":") for x in lines)
          if k in ("VmRSS", "VmHWM")}  # fmt: skip
    return f"{kb['VmRSS'] / 1024:.0f} MB, at most {kb['VmHWM'] / 1024:.0f} MB"


def free_port() -> int:
    with socket.socket(socket.AF_INET, socket.SOCK_STREAM) as tried:
        tried.bind((HERE, 0))
        return int(tried.getsockname()[1])


def up(base: str, page: subprocess.Popen[bytes]) -> None:
    """Wait until the page answers."""
    for _ in range(200):
        if page.poll() is not None:
            raise SystemExit("the page ended before it answered")
        try:
            httpx.get(base + "/hay", timeout=PATIENCE_S, trust_env=False).raise_for_status()
        except httpx.TransportError:
            time.sleep(0.1)
        else:
            return
    raise SystemExit("the page did not come up")


def menu(base: str) -> list[str]:
    """The addresses of the menu, as the page itself gives them."""
    import re

    told = httpx.get(base + "/", timeout=PATIENCE_S, trust_env=False).text
    return re.findall(r'<li><a href="([^"]+)"', told)


def main(seconds: float, a_second: float) -> None:
    folder = Path(tempfile.mkdtemp()) / "farm"
    shutil.copytree(DEMO, folder)
    port = free_port()
    base = f"http://{HERE}:{port}"
    command = [sys.executable, "-m", "ration", "page", str(folder / "quernhope.yaml"),
               "--port", str(port), "--no-browser"]  # fmt: skip
    page = subprocess.Popen(command, cwd=ROOT, stderr=subprocess.DEVNULL)
    runs: list[tuple[str, Callable[[], Iterator[str]], float, str]] = [
        ("slider drawn to and fro", to_and_fro, a_second, 'id="now"'),
        ("every value new", always_new, a_second, 'id="now"'),
    ]
    try:
        up(base, page)
        paths = menu(base)
        print(f"Started: {memory(page.pid)}. {a_second:g} changes a second for {seconds:g} s.")
        for name, give, rate, mark in runs:
            run = Run(name)
            took = asyncio.run(send(base, run, give(), seconds, rate, mark))
            print(run.told(took, memory(page.pid)), flush=True)
        run = Run("the menu's pages in turn, 5 a second: " + " ".join(paths))
        took = asyncio.run(send(base, run, in_turn(paths), seconds / 3, 5, "<h1>"))
        print(run.told(took, memory(page.pid)))
    finally:
        page.send_signal(signal.SIGINT)
        try:
            page.wait(10)
        except subprocess.TimeoutExpired:
            page.kill()
        shutil.rmtree(folder.parent)


if __name__ == "__main__":
    asked = [float(x) for x in sys.argv[1:3]]
    main(*(asked + [30.0, 50.0][len(asked) :]))

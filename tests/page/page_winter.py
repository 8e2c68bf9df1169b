"""A small invented farm whose winter is worked out in a moment, for the tests of long work."""

from __future__ import annotations

import threading
import time
from contextlib import contextmanager
from pathlib import Path

from page_browser import Browser, browser

from ration.page import runs

SMALL = """\
# An invented farm, cut down so that its winter is worked out in a moment.
name: Little Fold
winter:
  from: 2 November 2026
  to: 14 December 2026
  periods: 14 days
  long winter: 7 days
class: ewe lamb
mature weight: 62 kg
housing: shed
trough: 20 m
meals a day: 2
assume: all
batches:
  hoggs:
    head: 40
    weight: 35 kg
    gain: 60 g
feeds:
  meadow hay:
    like: hay average
    stock: 1.2 t
    would fetch: 100 /t
  bought hay:
    like: hay average
    price: 140 /t
  barley:
    price: 211 /t
  soya:
    like: soya-hipro
    price: 398 /t
"""
QUOTES = """\
merchant,feed,price (GBP/t),pack,least drop (t),drop charge (GBP),delivered or collected,VAT
Curlew Feeds,barley,205,bulk,0.2,5,delivered,ex
"""


def small(folder: Path, text: str = SMALL, quotes: str = "") -> Path:
    """The farm written into a folder, with quotes when some are given."""
    folder.mkdir(parents=True, exist_ok=True)
    path = folder / "fold.yaml"
    if quotes:
        (folder / "quotes.csv").write_text(quotes, encoding="utf-8")
        text += "quotes: quotes.csv\n"
    path.write_text(text, encoding="utf-8")
    return path


def opened(folder: Path, **more: str) -> Browser:
    """A page on the small farm."""
    return browser(small(folder, **more))


def runs_of(page: Browser) -> runs.Runs:
    """The runs of a page, for the tests to look at."""
    if not hasattr(page.app.state, "runs"):
        page.app.state.runs = runs.Runs()
    return page.app.state.runs


def now(page: Browser, question: str) -> runs.Run | None:
    """The run that would be shown."""
    read = page.desk.read()
    return runs_of(page).look(question, runs.key_of(read))


def ended(page: Browser, question: str, seconds: float = 60.0) -> runs.Run:
    """The run, once it has ended."""
    run = now(page, question)
    assert run is not None, "nothing was begun"
    assert run.wait(seconds), f"still going: {run.lines}"
    return run


class Slow:
    """Stands for the planner: goes on until it is told to stop, then gives what it was given."""

    def __init__(self, gives: object = None) -> None:
        self.gives = gives
        self.calls = 0
        self.at_once = self.most_at_once = 0
        self.has_begun = threading.Event()
        self.was_stopped = threading.Event()
        self.go_on = threading.Event()

    def __call__(self, *_args, tell, stop, **_more):
        self.calls += 1
        self.at_once += 1
        self.most_at_once = max(self.most_at_once, self.at_once)
        tell("looking")
        self.has_begun.set()
        until = time.monotonic() + 30
        while not stop() and not self.go_on.is_set():
            assert time.monotonic() < until, "nobody stopped it"
            time.sleep(0.01)
        if stop():
            self.was_stopped.set()
        self.at_once -= 1
        if isinstance(self.gives, Exception):
            raise self.gives
        return self.gives


@contextmanager
def closing(page: Browser):
    """The page, its long work ended with the test."""
    try:
        yield page
    finally:
        runs_of(page).end(20)

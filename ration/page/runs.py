"""Long work: one piece at a time for each question, in a thread, seen alike by everyone who looks.

A run belongs to one text of the farm file. When the text is changed the run is dropped: it stops
as soon as the planner asks, and what it found is not kept. What is found for a text is kept, so
that a page loaded again, a second window or a change taken back shows it at once.
"""

from __future__ import annotations

import logging
import threading
import time
from collections import OrderedDict, deque
from collections.abc import Callable, Hashable, Mapping
from typing import TYPE_CHECKING, Any

from starlette.exceptions import HTTPException
from starlette.responses import Response

from ration.errors import InputError, RationError
from ration.page import pages

if TYPE_CHECKING:
    from starlette.applications import Starlette
    from starlette.requests import Request

    from ration.page.desk import Desk, Read

LOG = logging.getLogger("ration.page")
MOST_LINES = 200
MOST_SHOWN = 6
MOST_KEPT = 8
LOOK_S = 0.5  # between two looks at whether the text still holds
Said = tuple[tuple[str, str], ...]
Tell = Callable[[str], None]
Stop = Callable[[], bool]
Work = Callable[[Tell, Stop], object]


def in_order(said: Mapping[str, str]) -> Said:
    """What was typed, as runs are told apart by it; empty boxes are left out."""
    return tuple(sorted((k, v) for k, v in said.items() if v))


class Run:
    """One piece of long work; every attribute may be read from any thread.

    Attributes
    ----------
    question : str
        The question it answers.
    key : hashable
        Of the text it is worked from.
    said : tuple of (str, str)
        What was typed for it, by name of the box.
    number : int
        Its own, from 1.
    result : object
        None until it is found.
    fault : Exception or None
        What it ended with instead.
    is_dropped : bool
        The text was changed meanwhile: what it finds is not kept.
    """

    def __init__(
        self,
        question: str,
        key: Hashable,
        said: Said,
        number: int,
        is_wanted: Callable[[], bool],
        clock: Callable[[], float],
    ) -> None:
        self.question, self.key, self.said, self.number = question, key, said, number
        self.result: object = None
        self.fault: Exception | None = None
        self.is_dropped = False
        self._is_wanted, self._clock = is_wanted, clock
        self._began, self._ended = clock(), float("nan")
        self._looked = self._began
        self._lines: deque[tuple[float, str]] = deque(maxlen=MOST_LINES)
        self._stop, self._done = threading.Event(), threading.Event()

    @property
    def is_going(self) -> bool:
        """It has not ended."""
        return not self._done.is_set()

    @property
    def is_stopping(self) -> bool:
        """It was told to make do with the best so far."""
        return self._stop.is_set()

    @property
    def seconds(self) -> float:
        """Since it began, or that it took. [s]"""
        return (self._clock() if self.is_going else self._ended) - self._began

    @property
    def lines(self) -> tuple[tuple[float, str], ...]:
        """What it told, with the second at which; the newest last."""
        return tuple(self._lines)

    @property
    def shown(self) -> tuple[tuple[float, str], ...]:
        """The last few lines."""
        return self.lines[-MOST_SHOWN:]

    @property
    def fault_lines(self) -> tuple[str, ...]:
        """What went wrong, in words."""
        if self.fault is None:
            return ()
        if isinstance(self.fault, RationError):
            return tuple(str(p) for p in self.fault.problems)
        return (
            f"This is our fault, not yours: {type(self.fault).__name__}. The farm file is as it "
            "was. Please report it with the file you used.",
        )

    def told(self, name: str) -> str:
        """What was typed into one box."""
        return dict(self.said).get(name, "")

    def stop(self) -> None:
        """Make do with the best so far."""
        self._stop.set()

    def drop(self) -> None:
        """Stop, and keep nothing."""
        self.is_dropped = True
        self._stop.set()

    def wait(self, seconds: float | None = None) -> bool:
        """Wait for its end; False when it has not ended by then."""
        return self._done.wait(seconds)

    def tell(self, words: str) -> None:
        """Take a line of progress."""
        self._lines.append((self._clock() - self._began, words))

    def must_stop(self) -> bool:
        """Whether the work is to make do with the best so far; asked very often."""
        if self._stop.is_set():
            return True
        if not threading.main_thread().is_alive():  # the program is ending
            self.drop()
        now = self._clock()
        if now - self._looked >= LOOK_S:
            self._looked = now
            if not self._is_wanted():
                self.drop()
        return self._stop.is_set()

    def work(self, work: Work, before: Run | None) -> None:
        """Do the work once the one before has ended; never raises."""
        try:
            if before is not None:
                before.wait()
            if not self.is_dropped:
                self.result = work(self.tell, self.must_stop)
        except RationError as fault:
            self.fault = fault
        except Exception as fault:  # the last face before a person: never a traceback
            LOG.error("%s: %s: %s", self.question, type(fault), fault)
            LOG.debug("in full", exc_info=fault)
            self.fault = fault

    def end(self) -> None:
        """Let those who wait go on."""
        self._ended = self._clock()
        self._done.set()


class Runs:
    """The runs of one page; every method may be called from any thread.

    Parameters
    ----------
    clock : callable
        Seconds that only go forward. [s]
    """

    def __init__(self, clock: Callable[[], float] = time.monotonic) -> None:
        self._clock = clock
        self._lock = threading.RLock()
        self._now: dict[str, Run] = {}
        self._kept: OrderedDict[tuple[str, Hashable, Said], Run] = OrderedDict()
        self._dropped: dict[str, Run] = {}
        self._count = 0

    def begin(
        self,
        question: str,
        key: Hashable,
        said: Said,
        work: Work,
        is_wanted: Callable[[], bool] = lambda: True,
    ) -> Run:
        """The run of a question: the one that is going for this text, else a new one.

        Parameters
        ----------
        question : str
        key : hashable
            Of the text.
        said : tuple of (str, str)
            What was typed. A run that is going is joined whatever was typed for it.
        work : callable
            Takes a teller of progress and an asker whether to stop; what it gives is kept.
        is_wanted : callable
            Whether the text still holds.
        """
        with self._lock:
            now = self._now.get(question)
            if now is not None and now.key == key and not now.is_dropped:
                return now
            if now is not None:
                now.drop()
            self._count += 1
            run = self._now[question] = Run(
                question, key, said, self._count, is_wanted, self._clock
            )
            self._dropped.pop(question, None)
            name = f"{question} {run.number}"
            threading.Thread(target=self._go, args=(run, work, now), name=name).start()
            return run

    def _go(self, run: Run, work: Work, before: Run | None) -> None:
        try:
            run.work(work, before)
        finally:
            with self._lock:
                is_newest = self._now.get(run.question) is run
                if is_newest:
                    del self._now[run.question]
                if not run.is_dropped:
                    self._keep(run)
                elif is_newest:
                    self._dropped[run.question] = run
                run.end()

    def _keep(self, run: Run) -> None:
        name = (run.question, run.key, run.said)
        self._kept[name] = run
        self._kept.move_to_end(name)
        while len(self._kept) > MOST_KEPT:
            self._kept.popitem(last=False)

    def look(self, question: str, key: Hashable, said: Said | None = None) -> Run | None:
        """The run to be shown for a text: the one that is going, else the newest kept.

        A run that is going for another text is dropped.

        Parameters
        ----------
        question : str
        key : hashable
        said : tuple or None
            Only a run of just this; None takes any.
        """
        with self._lock:
            now = self._now.get(question)
            if now is not None and now.key != key:
                now.drop()
                self._dropped[question] = now
            elif now is not None and not now.is_dropped and said in (None, now.said):
                return now
            for (asked, text, typed), run in reversed(self._kept.items()):
                if asked == question and text == key and said in (None, typed):
                    return run
            return None

    def dropped(self, question: str) -> Run | None:
        """The last run of a question if the text was changed under it and none began since."""
        with self._lock:
            return self._dropped.get(question)

    def stop(self, question: str) -> None:
        """Let the run of a question, if one is going, make do with the best so far."""
        with self._lock:
            now = self._now.get(question)
        if now is not None:
            now.stop()

    def end(self, seconds: float = 5.0) -> bool:
        """Drop every run; whether all have ended within so long. [s]"""
        with self._lock:
            going = tuple(self._now.values())
        for run in going:
            run.drop()
        until = self._clock() + seconds
        return all([run.wait(max(until - self._clock(), 0.0)) for run in going])


# ---------------------------------------------------------------- what the views ask

_MAKING = threading.Lock()


def of(request: Request) -> Runs:
    """The runs of the page."""
    state = request.app.state
    with _MAKING:
        if not hasattr(state, "runs"):
            state.runs = Runs()
    found: Runs = state.runs
    return found


def end(app: Starlette, seconds: float = 2.0) -> bool:
    """Drop all runs of a page that is being closed; whether all have ended within so long. [s]

    The planner stops when it next asks, which may be half a minute later, and the program does not
    end before its threads.
    """
    found: Runs | None = getattr(app.state, "runs", None)
    return found is None or found.end(seconds)


def key_of(read: Read) -> Hashable:
    """What tells one text, with the files it names, from another."""
    return read.digest, read.files


def looked_at(request: Request, question: str, said: Said | None = None) -> Run | None:
    """The run to be shown for the farm file as it stands.

    Raises
    ------
    InputError
        Every fault of the farm file.
    """
    return of(request).look(question, key_of(pages.desk_of(request).read()), said)


def begun(request: Request, question: str, read: Read, said: Said, work: Work) -> Run:
    """A run for a text of the farm file; dropped once the text is no longer the one on the desk."""
    desk: Desk = pages.desk_of(request)

    def is_wanted() -> bool:
        return desk.draft.digest == read.digest

    return of(request).begin(question, key_of(read), said, work, is_wanted)


def told(request: Request, question: str, run: Run | None) -> dict[str, object]:
    """What the templates of a view with long work name."""
    return {"run": run, "dropped": of(request).dropped(question), "question": question}


def progress(request: Request, question: str, path: str) -> Response:
    """How far a run is, asked for every second; at its end the whole page is asked for."""
    try:
        run = looked_at(request, question)
    except InputError:
        run = None
    if not pages.is_fragment(request):
        return pages.go(path)
    if run is None or not run.is_going:
        return Response(headers={"HX-Refresh": "true"})
    return pages.page(request, "run_now.html", part="run_now.html", run=run)


def stopped(request: Request, question: str) -> None:
    """Stop a run with the best so far."""
    of(request).stop(question)


def waited(request: Request, question: str, said: Said, begin: Callable[[], Run], gone: str) -> Any:
    """What a run of just this gives: kept already, or waited for.

    Parameters
    ----------
    request : Request
    question : str
    said : tuple of (str, str)
    begin : callable
        Starts it, or joins the one that is going.
    gone : str
        What is said when the farm file is changed meanwhile.

    Raises
    ------
    HTTPException
        The farm file was changed meanwhile.
    Exception
        What the work ended with.
    """
    run = looked_at(request, question, said)
    if run is not None and run.fault is not None:
        run = None  # it is tried again
    while run is None or run.is_going or run.said != said:
        run = begin() if run is None or not run.is_going else run
        while not run.wait(1.0):
            if not threading.main_thread().is_alive():  # the program is ending
                raise HTTPException(503, "The page is being closed.")
        if run.is_dropped:
            raise HTTPException(409, gone)
        if run.said != said:
            run = None
    if run.fault is not None:
        raise run.fault
    return run.result

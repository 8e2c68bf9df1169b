"""Work that takes longer than a page may: on a thread of its own, looked at again and again."""

from __future__ import annotations

import logging
import time
from collections import OrderedDict
from collections.abc import Callable, Hashable
from dataclasses import dataclass, field
from threading import Event, Lock, Thread
from typing import Any

from ration.errors import RationError

LOG = logging.getLogger("ration.page")
MOST_KEPT = 24
MOST_AT_ONCE = 4


@dataclass
class Work:
    """One piece of work.

    Attributes
    ----------
    began : float
        [s], of a clock that only goes forward.
    is_done : bool
    answer : object
        None until it is done, or when it failed.
    faults : tuple of str
        Why there is no answer.
    """

    began: float
    is_done: bool = False
    answer: Any = None
    faults: tuple[str, ...] = ()
    _over: Event = field(default_factory=Event, repr=False)

    @property
    def seconds(self) -> float:
        """Since it was begun. [s]"""
        return time.monotonic() - self.began

    def wait(self, seconds: float) -> bool:
        """Whether it is done, having waited for it so long at most."""
        return self._over.wait(seconds)

    def run(self, work: Callable[[], Any]) -> None:
        """Do it; a fault is kept in words."""
        try:
            self.answer = work()
        except RationError as fault:
            self.faults = tuple(str(p) for p in fault.problems)
        except Exception as fault:  # nobody else hears of it on a thread of its own
            LOG.error("long work failed: %s: %s", type(fault), fault)
            LOG.debug("in full", exc_info=fault)
            self.faults = (f"This is our fault, not yours: {type(fault).__name__}.",)
        self.is_done = True
        self._over.set()


class Bench:
    """Pieces of long work by what they answer; each is done once."""

    def __init__(self) -> None:
        self._lock = Lock()
        self._works: OrderedDict[Hashable, Work] = OrderedDict()

    def done(self, key: Hashable) -> Work | None:
        """Work of this name, None when there is none yet."""
        return self._works.get(key)

    def begin(self, key: Hashable, work: Callable[[], Any]) -> Work | None:
        """Work of this name, begun when there is none; None when too much is going on."""
        with self._lock:
            kept = self._works.get(key)
            if kept is not None:
                self._works.move_to_end(key)
                return kept
            if sum(not w.is_done for w in self._works.values()) >= MOST_AT_ONCE:
                return None
            made = self._works[key] = Work(time.monotonic())
            while len(self._works) > MOST_KEPT:
                self._works.popitem(last=False)
        Thread(target=made.run, args=(work,), daemon=True).start()
        return made

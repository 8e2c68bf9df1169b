"""Work that cannot be asked to stop, done so that nobody has to wait for its end."""

from __future__ import annotations

from collections.abc import Callable
from threading import Event, Thread
from typing import Any

from ration.errors import RationError

LOOK_S = 0.2


class Stopped(RationError):
    """The answer is not wanted any more."""


def apart(work: Callable[[], Any], stop: Callable[[], bool]) -> Any:
    """What a piece of work gives, done on a thread that ends with the program.

    Parameters
    ----------
    work : callable
    stop : callable
        Whether the answer is not wanted any more; asked again and again.

    Raises
    ------
    Stopped
        It is not; what the work finds is dropped.
    Exception
        What the work raises.
    """
    over = Event()
    answer: list[Any] = []
    fault: list[Exception] = []

    def done() -> None:
        try:
            answer.append(work())
        except Exception as error:  # raised again where it is waited for
            fault.append(error)
        finally:
            over.set()

    Thread(target=done, daemon=True).start()
    while not over.wait(LOOK_S):
        if stop():
            raise Stopped("Stopped before it was worked out")
    if fault:
        raise fault[0]
    return answer[0]

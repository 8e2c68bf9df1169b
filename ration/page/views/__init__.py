"""The views, one module a question the farmer asks.

A module here has `ROUTES`, a list of Starlette routes; its functions are plain ones (no `async`),
so that each runs on a thread of its own. `QUESTIONS` is the menu; a question whose module is not
there yet is left out of it.
"""

from __future__ import annotations

from dataclasses import dataclass
from importlib import import_module
from importlib.util import find_spec
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from starlette.routing import BaseRoute


@dataclass(frozen=True)
class Question:
    """One entry of the menu: the module that answers it, its address and its words."""

    module: str
    path: str
    words: str


QUESTIONS = (
    Question("feed", "/", "What do I feed?"),
    Question("hay", "/hay", "What if the hay is not what I thought?"),
    Question("figures", "/figures", "Which figures are we trusting?"),
    Question("order", "/order", "What do I order, and when?"),
    Question("quotes", "/quotes", "Whose quote is best for us?"),
    Question("weighing", "/weighing", "Are they on the line?"),
    Question("wintering", "/wintering", "Which way to winter?"),
    Question("paper", "/paper", "Paper"),
)
ALWAYS = ("edit", "gate", "twins")  # changes of the file, the code, JSON


def _is_there(module: str) -> bool:
    return find_spec(f"{__name__}.{module}") is not None


def menu() -> tuple[Question, ...]:
    """The questions that can be answered."""
    return tuple(q for q in QUESTIONS if _is_there(q.module))


def routes() -> list[BaseRoute]:
    """The routes of all views."""
    found: list[BaseRoute] = []
    for name in (*(q.module for q in menu()), *ALWAYS):
        found += import_module(f"{__name__}.{name}").ROUTES
    return found

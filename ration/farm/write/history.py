"""The steps of an editing session: what each changed, and the way back and forth."""

from __future__ import annotations

from dataclasses import dataclass, field, replace

from ration.farm.write.settle import Changed

MOST_STEPS = 100


@dataclass(frozen=True)
class Step:
    """A text, and in words what the step to it changed."""

    text: str = field(repr=False)
    words: str = ""


@dataclass(frozen=True)
class History:
    """Texts in the order they were made; `at` is the one that holds now.

    Nothing is changed in place: `push`, `undo` and `redo` give a new history. At most
    `MOST_STEPS` steps are kept, the oldest go first.

    Examples
    --------
    >>> history = History.of("a: 1").push("a: 2", "a 1 to 2")
    >>> history.undo().text, history.undo().redo().text, history.undo_words
    ('a: 1', 'a: 2', 'a 1 to 2')
    """

    steps: tuple[Step, ...]
    at: int = 0

    @classmethod
    def of(cls, text: str) -> History:
        """A history that starts with a text."""
        return cls((Step(text),))

    @property
    def text(self) -> str:
        """The text that holds now."""
        return self.steps[self.at].text

    @property
    def can_undo(self) -> bool:
        """Whether there is a step to take back."""
        return self.at > 0

    @property
    def can_redo(self) -> bool:
        """Whether a step was taken back that can be made again."""
        return self.at + 1 < len(self.steps)

    @property
    def undo_words(self) -> str:
        """What `undo` would take back; "" when nothing."""
        return self.steps[self.at].words if self.can_undo else ""

    @property
    def redo_words(self) -> str:
        """What `redo` would make again; "" when nothing."""
        return self.steps[self.at + 1].words if self.can_redo else ""

    @property
    def done(self) -> tuple[str, ...]:
        """What every step that holds now changed, oldest first."""
        return tuple(step.words for step in self.steps[1 : self.at + 1])

    def push(self, change: Changed | str, words: str = "") -> History:
        """A further step; steps that were taken back are forgotten. The same text is no step."""
        if isinstance(change, Changed):
            step = Step(change.text, words or change.words)
        else:
            step = Step(change, words)
        if step.text == self.text:
            return self
        steps = (*self.steps[: self.at + 1], step)[-MOST_STEPS - 1 :]
        return History(steps, len(steps) - 1)

    def undo(self) -> History:
        """One step back; the same history when there is none."""
        return replace(self, at=max(self.at - 1, 0))

    def redo(self) -> History:
        """One step forth again; the same history when there is none."""
        return replace(self, at=min(self.at + 1, len(self.steps) - 1))

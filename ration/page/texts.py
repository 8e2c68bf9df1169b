"""The whole text of the draft changed at once, for what is more than one value."""

from __future__ import annotations

from typing import TYPE_CHECKING

from ration.farm.write import Changed, digest_of

if TYPE_CHECKING:
    from ration.page.desk import Desk


def put_text(
    desk: Desk, text: str, made_from: str, words: str, done: tuple[Changed, ...] = ()
) -> None:
    """Put a text in the place of the draft, as one step that can be taken back.

    Parameters
    ----------
    desk : Desk
    text : str
    made_from : str
        Digest of the draft that the form was made from.
    words : str
        What was done.
    done : tuple of Changed
        The lines that changed, to be shown.

    Raises
    ------
    Stale
        Another window changed the draft since; nothing is written.
    InputError
        The file would then have faults; nothing is written.
    """
    with desk._lock:
        draft = desk.draft
        if made_from != draft.digest:
            raise desk._stale((), draft)
        desk.read(text)
        desk._history = desk._history.push(text, words)
        desk._note(text)
        desk.last = (digest_of(text), done)

"""The desk: one farm file being worked on, its unsaved changes, and answers already worked out.

What the user changes is a draft of the file's own text, so that it is read by the same reader,
with the same faults in words, as the file on disk; comments and order stay. Every answer is kept
under the digest of the text it was worked from.
"""

from __future__ import annotations

import re
from collections import OrderedDict
from collections.abc import Callable, Hashable, Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from threading import Lock, RLock
from typing import TYPE_CHECKING, Any, TypeVar

from ration import farm as farms
from ration import strict_yaml, tables
from ration.errors import InputError, Problem
from ration.farm import write
from ration.farm.write import Changed, ChangedSince, History, digest_of
from ration.plain_text import joined, plain
from ration.strict_yaml import Keys, Sheet

if TYPE_CHECKING:
    from ration.farm import Farm
    from ration.tables import Tables

T = TypeVar("T")
MOST_KEPT = 200
MOST_DRAFTS = 100
MOST_VALUE = 200
_FILE_NAME = re.compile(r"[^,\[\]]+\.[A-Za-z]{2,5}")


@dataclass(frozen=True)
class Edit:
    """One value to be written under some names of the farm file; None takes the line out."""

    keys: Keys
    value: str | None


@dataclass(frozen=True)
class Draft:
    """The farm file as it stands on the desk.

    Attributes
    ----------
    text, digest : str
    on_disk : str
        Digest of the file when it was last read or saved.
    undo_words, redo_words : str or None
        What can be taken back, and put in again; None when nothing.
    is_moved : bool
        The file on disk was changed by something else since.
    """

    text: str
    digest: str
    on_disk: str
    undo_words: str | None
    redo_words: str | None
    is_moved: bool

    @property
    def is_saved(self) -> bool:
        """Nothing here that is not on disk."""
        return self.digest == self.on_disk


@dataclass(frozen=True)
class Read:
    """A text of the farm file, read.

    Attributes
    ----------
    text, digest : str
    sheet : Sheet
        Where each name and value stands in the text.
    farm : Farm
    tables : Tables
    files : tuple
        The other files it names, as they were.
    """

    text: str
    digest: str
    sheet: Sheet
    farm: Farm
    tables: Tables
    files: tuple[tuple[str, int, int], ...]

    def written(self, keys: Keys) -> str:
        """A value as it stands in the text, "" where there is none."""
        return written(self.sheet, keys)


class Stale(InputError):
    """A form was made from a draft that has since been changed by another window.

    Attributes
    ----------
    edits : tuple of Edit
        What the form asked for.
    now : tuple of str
        What stands there now, one for each edit.
    untouched : tuple of str
        Names of boxes of the form in which nothing was typed; they are not asked for again.
    """

    edits: tuple[Edit, ...] = ()
    now: tuple[str, ...] = ()
    untouched: tuple[str, ...] = ()


def written(sheet: Sheet, keys: Keys) -> str:
    """A value as it stands in a sheet, "" where there is none or where it is no lone value."""
    at: Any = sheet.data
    for key in keys:
        try:
            at = at[key]
        except (KeyError, IndexError, TypeError):
            return ""
    if isinstance(at, bool):
        return "yes" if at else "no"
    if not isinstance(at, str | int | float):
        return ""
    return plain(at) if str(at).strip() else ""


def checked(edit: Edit, where: str) -> Edit:
    """An edit whose value may stand on one line of the file.

    Raises
    ------
    InputError
        It is empty, too long, or more than one line.
    """
    if edit.value is None:
        return edit
    value = " ".join(edit.value.split(" ")).strip()
    if not value:
        raise InputError(Problem(where, "nothing is written here", "", "Write a value"))
    if len(value) > MOST_VALUE:
        raise InputError(Problem(where, "this is too long", f"at most {MOST_VALUE} letters"))
    if not value.isprintable():
        raise InputError(Problem(where, "this is not one plain line of text"))
    return Edit(edit.keys, value)


class Desk:
    """One farm file on the desk; every method may be called from any thread.

    Parameters
    ----------
    path : Path
    overlays : sequence of Path
        Tables of the user's own, laid over the shipped ones.
    """

    def __init__(self, path: Path, *, overlays: Sequence[Path] = ()) -> None:
        self.path = path
        self.overlays = tuple(overlays)
        self._lock = RLock()
        self._lanes = {False: Lock(), True: Lock()}
        self._reads: OrderedDict[str, Read] = OrderedDict()
        self._answers: OrderedDict[Hashable, Any] = OrderedDict()
        self._books: dict[Hashable, Tables] = {}
        self._drafts: OrderedDict[str, str] = OrderedDict()
        self.last: tuple[str, tuple[Changed, ...]] = ("", ())
        self._start()

    def _start(self) -> None:
        """Take the file as it lies on disk."""
        with self._lock:
            seen = _stamp(self.path)
            text, self._on_disk = write.open_text(self.path)
            self._history = History.of(text)
            self._disk_text, self._seen, self._moved = text, seen, False
            self._note(text)

    def _note(self, text: str) -> None:
        self._drafts[digest_of(text)] = text
        while len(self._drafts) > MOST_DRAFTS:
            self._drafts.popitem(last=False)

    # ------------------------------------------------------------ the draft

    @property
    def draft(self) -> Draft:
        """The draft as it stands; a file changed elsewhere is read again when nothing is lost."""
        with self._lock:
            if _stamp(self.path) != self._seen:
                self._look_again()
            past = self._history
            return Draft(
                past.text,
                digest_of(past.text),
                self._on_disk,
                past.undo_words if past.can_undo else None,
                past.redo_words if past.can_redo else None,
                self._moved,
            )

    def _look_again(self) -> None:
        """The file on disk was touched: take it over, or remember that it moved."""
        seen = _stamp(self.path)
        try:
            _, digest = write.open_text(self.path)
        except InputError:
            self._moved = True
            return
        if digest == self._on_disk:
            self._seen, self._moved = seen, False
        elif digest_of(self._history.text) == self._on_disk:
            self._start()
        else:
            self._moved = True

    def text_at(self, digest: str) -> str | None:
        """The draft that had a digest, None when it is not remembered."""
        with self._lock:
            return self._drafts.get(digest)

    @property
    def name(self) -> str:
        """Name of the file."""
        return self.path.name

    def lay(
        self, edits: Sequence[Edit], text: str | None = None
    ) -> tuple[str, tuple[Changed, ...]]:
        """The text with some values changed, and the lines that changed; the desk stays as it is.

        Raises
        ------
        InputError
            A value that cannot stand in the file.
        """
        now = self.draft.text if text is None else text
        kept = self._reads.get(digest_of(now))
        sheet = strict_yaml.parse(now, self.name) if kept is None else kept.sheet
        done: list[Changed] = []
        for edit in edits:
            edit = checked(edit, sheet.where(edit.keys))
            if edit.value is not None:
                done.append(write.put_value(now, edit.keys, edit.value))
            elif edit.keys in sheet.lines:
                done.append(write.remove_value(now, edit.keys))
            else:
                continue
            now = done[-1].text
        return now, tuple(done)

    def change(self, edits: Sequence[Edit], made_from: str) -> tuple[Changed, ...]:
        """Write values into the draft.

        Parameters
        ----------
        edits : sequence of Edit
        made_from : str
            Digest of the draft that the form was made from.

        Raises
        ------
        Stale
            Another window changed the draft since; nothing is written.
        InputError
            The file would then have faults; nothing is written.
        """
        with self._lock:
            draft = self.draft
            if made_from != draft.digest:
                raise self._stale(edits, draft)
            text, done = self.lay(edits, draft.text)
            if text == draft.text:
                return ()
            sheet = self.read(text).sheet
            done = tuple(  # a later change may have moved an earlier one down
                replace(c, line=sheet.lines.get(c.keys, c.line)) if c.line_after else c
                for c in done
            )
            self._push(text, joined([c.words for c in done]), done)
            return done

    def put_text(
        self, text: str, made_from: str, words: str, done: tuple[Changed, ...] = ()
    ) -> None:
        """Put a text in the place of the draft, for what is more than one value.

        Parameters
        ----------
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
        with self._lock:
            draft = self.draft
            if made_from != draft.digest:
                raise self._stale((), draft)
            self.read(text)
            self._push(text, words, done)

    def _push(self, text: str, words: str, done: tuple[Changed, ...]) -> None:
        """Make a text the draft, as one step that can be taken back."""
        self._history = self._history.push(text, words)
        self._note(text)
        self.last = (digest_of(text), done)

    def _stale(self, edits: Sequence[Edit], draft: Draft) -> Stale:
        sheet = strict_yaml.parse(draft.text, self.name)
        words = "the farm file was changed in another window since this form was made"
        fault = Stale(Problem(self.name, words, "", "Look at both values and choose"))
        fault.edits = tuple(edits)
        fault.now = tuple(written(sheet, e.keys) for e in edits)
        return fault

    def step(self, way: str, made_from: str) -> bool:
        """Take the last change back ("undo") or put it in again ("redo"); False where none is.

        Raises
        ------
        Stale
            Another window changed the draft since.
        """
        with self._lock:
            draft = self.draft
            if made_from != draft.digest:
                raise self._stale((), draft)
            past = self._history
            self._history = past.undo() if way == "undo" else past.redo()
            self._note(self._history.text)
            self.last = ("", ())
            return past is not self._history and past.at != self._history.at

    def save(self, made_from: str) -> None:
        """Put the draft on disk, whole.

        Raises
        ------
        Stale
            Another window changed the draft since.
        ChangedSince
            The file was changed by something else; the draft is kept.
        InputError
            It cannot be written; the draft is kept.
        """
        with self._lock:
            draft = self.draft
            if made_from != draft.digest:
                raise self._stale((), draft)
            try:
                write.save(self.path, draft.text, self._on_disk, text_read=self._disk_text)
            except ChangedSince:
                self._moved = True
                raise
            self._on_disk, self._disk_text = draft.digest, draft.text
            self._seen, self._moved = _stamp(self.path), False

    def read_again(self) -> None:
        """Put the draft aside and take the file as it is on disk.

        Raises
        ------
        InputError
            There is no such file any more, or it is not text.
        """
        with self._lock:
            self._start()
            self.last = ("", ())

    # ------------------------------------------------------------ what is worked from it

    def read(self, text: str | None = None) -> Read:
        """A text of the farm file read, the draft where none is given.

        Raises
        ------
        InputError
            Every fault of the text, one line each.
        """
        text = self.draft.text if text is None else text
        digest = digest_of(text)
        with self._lock:
            kept = self._reads.get(digest)
            if kept is not None and kept.files == self._files(kept.sheet):
                self._reads.move_to_end(digest)
                return kept
            sheet = strict_yaml.parse(text, self.name)
            files = self._files(sheet)
            book = self._book(self.overlays)
            farm = farms.read_text(text, self.name, self.path.parent, tables=book)
            if farm.tables:
                book = self._book((*self.overlays, *farm.tables))
            made = self._reads[digest] = Read(text, digest, sheet, farm, book, files)
            while len(self._reads) > MOST_DRAFTS:
                self._reads.popitem(last=False)
            return made

    def _book(self, overlays: tuple[Path, ...]) -> Tables:
        """The tables with some laid over, read once for as long as they stay as they are."""
        key = tuple((str(p), *_stamp(p)) for p in overlays)
        if key not in self._books:
            self._books[key] = tables.load(overlays=list(overlays))
        return self._books[key]

    def _files(self, sheet: Sheet) -> tuple[tuple[str, int, int], ...]:
        """The files that a text may name, as they are now."""
        found = []
        for name in dict.fromkeys(_names_in(sheet.data)):
            path = self.path.parent / name
            stamp = _stamp(path)
            if stamp != (0, 0):
                found.append((name, *stamp))
        return tuple(found)

    def once(
        self, read: Read, name: Hashable, work: Callable[[], T], *, is_long: bool = False
    ) -> T:
        """What a piece of work gives for a text, worked once.

        Parameters
        ----------
        read : Read
        name : hashable
            What is asked: a word and its particulars.
        work : callable
            Works it out; what it raises is raised and not kept.
        is_long : bool
            Work of more than a second: it does not keep short work waiting.
        """
        key = (read.digest, read.files, name)
        with self._lock:
            if key in self._answers:
                self._answers.move_to_end(key)
                kept: T = self._answers[key]
                return kept
        with self._lanes[is_long]:
            with self._lock:
                if key in self._answers:
                    waited: T = self._answers[key]
                    return waited
            made = work()
            with self._lock:
                self._answers[key] = made
                while len(self._answers) > MOST_KEPT:
                    self._answers.popitem(last=False)
            return made


def _stamp(path: Path) -> tuple[int, int]:
    try:
        at = path.stat()
    except (OSError, ValueError):
        return (0, 0)
    return (at.st_mtime_ns, at.st_size)


def _names_in(value: Any) -> Iterator[str]:
    """Texts that may be names of files."""
    if isinstance(value, dict):
        for inner in value.values():
            yield from _names_in(inner)
    elif isinstance(value, list):
        for inner in value:
            yield from _names_in(inner)
    elif isinstance(value, str) and len(value) < MOST_VALUE:
        for part in value.split(","):
            if _FILE_NAME.fullmatch(part.strip()):
                yield part.strip()

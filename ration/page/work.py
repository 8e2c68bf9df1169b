"""What a view asks of the desk: a form laid over the farm file, and one batch worked out."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import partial

from ration import card, cautions, mix, strict_yaml
from ration.card import Card
from ration.cautions import Caution
from ration.errors import InputError
from ration.mix import FarmRations, Ration
from ration.page import forms
from ration.page.desk import Desk, Read, Stale
from ration.page.forms import Field
from ration.strict_yaml import Sheet, tidy

FieldsOf = Callable[[Read], tuple[Field, ...]]


@dataclass(frozen=True)
class Asked:
    """A form laid over the farm file.

    Attributes
    ----------
    fields : tuple of Field
        With what was typed, and its faults.
    base : Read
        The farm file as it stands here.
    read : Read
        With what was typed laid over; the base where that has faults.
    rest : tuple of str
        Faults that belong to no box.
    is_old : bool
        The form was made from a draft that another window has changed since.
    """

    fields: tuple[Field, ...]
    base: Read
    read: Read
    rest: tuple[str, ...] = ()
    is_old: bool = False

    @property
    def is_faulty(self) -> bool:
        """Something typed cannot be used."""
        return bool(self.rest) or any(f.errors for f in self.fields)

    @property
    def is_changed(self) -> bool:
        """What is worked out is not the farm file as it stands."""
        return self.read.digest != self.base.digest

    @property
    def changed(self) -> tuple[Field, ...]:
        """The boxes in which something else was typed."""
        return tuple(f for f in self.fields if f.value != f.start)

    @property
    def status(self) -> int:
        """For the answer."""
        return 422 if self.is_faulty else 200


def asked(desk: Desk, fields_of: FieldsOf, said: Mapping[str, object]) -> Asked:
    """What a form asks, the farm file on the desk left as it is.

    Parameters
    ----------
    desk : Desk
    fields_of : callable
        The boxes of the view from a farm file.
    said : mapping
        What was sent, by name of the box; `made_from` among it.
    """
    base = desk.read()
    made_from = str(said.get("made_from") or base.digest)
    text = desk.text_at(made_from)
    first = base if text is None or made_from == base.digest else desk.read(text)
    fields = forms.typed(fields_of(first), said)
    is_old = made_from != base.digest
    try:
        text, _ = desk.lay(forms.edits(fields), base.text)
    except InputError as fault:
        fields, rest = forms.with_errors(fields, fault, base.sheet)
        return Asked(fields, base, base, rest, is_old)
    try:
        return Asked(fields, base, desk.read(text), (), is_old)
    except InputError as fault:
        fields, rest = forms.with_errors(fields, fault, _sheet(desk, text, base))
        return Asked(fields, base, base, rest, is_old)


def _sheet(desk: Desk, text: str, base: Read) -> Sheet:
    """Where everything stands in a text that cannot be read as a farm."""
    try:
        return strict_yaml.parse(text, desk.name)
    except InputError:
        return base.sheet


def kept(desk: Desk, fields_of: FieldsOf, said: Mapping[str, object]) -> None:
    """Write what a form asks into the farm file on the desk.

    Raises
    ------
    Stale
        Another window changed the draft since the form was made.
    InputError
        The file would then have faults.
    """
    made_from = str(said.get("made_from", ""))
    text = desk.text_at(made_from)
    first = desk.read(text)
    fields = forms.typed(fields_of(first), said)
    try:
        desk.change(forms.edits(fields), made_from)
    except Stale as fault:
        fault.untouched = tuple(f.name for f in fields if f.value == f.start)
        raise


# ---------------------------------------------------------------- one batch


def batch_key(read: Read, said: str) -> str:
    """The batch asked for, by its name in the farm file; the first where none such is there."""
    names = [b.name for b in read.farm.batches]
    return next((n for n in names if tidy(n) == tidy(said)), names[0])


def ration_of(desk: Desk, read: Read, batch: str, *, with_worth: bool = False) -> Ration:
    """The cheapest ration of one batch, the stock shared as if all were worked."""

    def work() -> Ration:
        ask = mix.asker(read.farm, read.tables, with_worth=with_worth)
        return ask(next(b for b in read.farm.batches if b.name == batch))

    return desk.once(read, ("ration", batch, with_worth), work)


def rations_of(read: Read, ration: Ration) -> FarmRations:
    """One batch's ration as those who word changes take it."""
    return FarmRations(read.farm, (ration,), read.tables.digest)


def cautions_of(desk: Desk, read: Read, ration: Ration) -> tuple[Caution, ...]:
    """The cautions of one batch."""
    name = ("cautions", ration.batch.name)
    work = partial(cautions.for_ration, ration, read.farm, read.tables, offers=ration.offers)
    return desk.once(read, name, work)


def cards_of(desk: Desk, read: Read, ration: Ration) -> tuple[Card, ...]:
    """What goes to each pen on the full ration, morning and evening."""
    farm = read.farm
    grazed = {o.id for o in ration.offers if o.is_grazed}

    def work() -> tuple[Card, ...]:
        return card.plain_cards(
            ration.batch,
            {
                f.id: f.kg_fresh_offered_per_head_day
                for f in ration.feeds
                if f.is_used and f.id not in grazed
            },
            farm,
            farm.start,
            farm.end,
            read.tables,
            offers=ration.offers,
            assessment=ration.assessment,
        )

    return desk.once(read, ("cards", ration.batch.name), work) if ration.is_found else ()

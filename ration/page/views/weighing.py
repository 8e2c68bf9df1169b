"""Are they on the line? A weighing held against the weight line, and what catching up costs."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import partial
from types import MappingProxyType
from typing import TYPE_CHECKING, Any
from urllib.parse import urlencode

from markupsafe import Markup
from starlette.responses import Response
from starlette.routing import Route

from ration import units, weighing
from ration.errors import InputError, OutOfRange, Problem
from ration.faces import card_report, weigh_report, winter_json, winter_report
from ration.jobs import weigh as weigh_jobs
from ration.jobs import winter as winter_jobs
from ration.page import pages, rows, runs
from ration.page import winter_forms as forms
from ration.page.forms import Field
from ration.page.views import order as order_view
from ration.page.views.twins import json_bytes
from ration.sheets.ears import Grid, Said
from ration.weighing import sentences

if TYPE_CHECKING:
    from collections.abc import Sequence
    from datetime import date

    from starlette.requests import Request

    from ration.card import Card
    from ration.farm import Farm
    from ration.jobs.weigh import Weighed
    from ration.page.desk import Read
    from ration.page.runs import Run, Stop, Tell
    from ration.page.runs import Said as Typed
    from ration.sheets.ears import Block
    from ration.weighing import Told, Weighing

QUESTION, PATH = "weighing", "/weighing"
NAMES = (
    "on", "batch", "number", "mean", "sd", "weights", "hours-off", "first-hours-off", "later",
    "seconds",
)  # fmt: skip
MOST_LETTERS = 20_000  # of single weights: they travel in the address
MOST_LATER_DAYS = 366
GONE = "The farm file was changed while catching up was worked out, so that work was dropped."
# Figures that no weighing could make wrong, to find which of several is.
_NUMBER, _MEAN_KG, _SD_KG = 30, 40.0, 1.0


@dataclass(frozen=True)
class Asked:
    """A weighing as typed.

    Attributes
    ----------
    weighing : Weighing
    told : Told
        Against the line.
    later : date, int or None
        A later day to catch up by, or so many days after turnout.
    first_hours_off : float or None
        Hours off feed at the first weighing. [h]
    seconds : float
        For each plan. [s]
    said : tuple of (str, str)
        What was typed.
    """

    weighing: Weighing
    told: Told
    later: date | int | None
    first_hours_off: float | None
    seconds: float
    said: Typed


# ---------------------------------------------------------------- the form


def fields_of(farm: Farm, said: Mapping[str, str]) -> tuple[Field, ...]:
    """The boxes of a weighing."""
    day = units.in_words_day(farm.start + (farm.end - farm.start) // 2)
    batches = (("", "a sample of all"), *((b.name, b.name) for b in farm.batches))
    return (
        forms.box("on", "Weighed on", said, hint=f"As you write it: {day}"),
        forms.box("batch", "Which were weighed", said, options=batches),
        forms.box("number", "How many", said, hint="30 to 50, as they come"),
        forms.box("mean", "Their mean weight", said, hint="37.1 kg, or 82 lb; a bare figure is kg"),
        forms.box("sd", "Their spread", said, hint="The standard deviation, like 3.0 kg"),
        forms.box("weights", "Single weights, one a line", said,
                  hint="Mean and spread are worked from them"),
        forms.box("hours-off", "Hours off feed", said, hint="Empty when not known"),
        forms.box("first-hours-off", "The same at the first weighing", said),
        forms.box("later", "Or catch up by a later day", said,
                  hint="A day, or 25 days after turnout"),
        forms.seconds_box(said),
    )  # fmt: skip


def _kilos(text: str) -> float:
    return units.mass_kg(text if text[-1].isalpha() else f"{text} kg", "weight")


def _count(text: str) -> int:
    most = weigh_jobs.MOST_WEIGHTS
    if not text.isdecimal() or len(text) > 9:
        raise OutOfRange(Problem("", "this is not a whole number", "like 40"))
    if int(text) > most:
        raise OutOfRange(Problem("", f"{int(text)} weighed", f"at most {most}"))
    return int(text)


def _hours(text: str) -> float:
    bare = text.lower()
    for tail in ("hours", "hour", "hrs", "h"):
        bare = bare.removesuffix(tail).strip()
    return units.number(bare, "hours")


def _later(text: str) -> date | int:
    bare = text.removesuffix("days").removesuffix("day").strip()
    if not bare.isdecimal():
        return units.day(text)
    if len(bare) > 4 or not 0 < int(bare) <= MOST_LATER_DAYS:
        raise OutOfRange(Problem("", "this is not a later day", f"1 to {MOST_LATER_DAYS} days"))
    return int(bare)


def asked_of(farm: Farm, said: Mapping[str, str]) -> tuple[Asked | None, tuple[Field, ...]]:
    """The weighing that a form tells, and its boxes with their faults; None where it has any."""
    asking = forms.Asking(fields_of(farm, said))
    typed = {n: said.get(n, "") for n in NAMES}
    if not any(v for n, v in typed.items() if n not in ("batch", "seconds")):
        return None, asking.fields
    when = _day(asking, farm)
    batch = asking.text("batch")
    asking.check("batch", lambda: winter_jobs.check_batches(farm, [batch] if batch else []))
    hours, first = (_hours_off(asking, n, farm.start) for n in ("hours-off", "first-hours-off"))
    later = asking.read("later", _later)
    end = asking.check("later", lambda: weigh_jobs.later_day(farm, later))
    seconds = asking.read("seconds", forms.seconds_of)
    ways = _from_weights if asking.text("weights") else _from_mean
    found = ways(asking, when or farm.start)
    if asking.is_faulty or found is None:
        return None, asking.fields
    weighed = replace(found, hours_off_feed=hours, batch=batch)
    told = asking.check(
        "on",
        lambda: weighing.against_farm(weighed, farm, later_end=end, start_hours_off=first),
    )
    if told is None:
        return None, asking.fields
    usual = winter_jobs.SECONDS if seconds is None else seconds
    typed["seconds"] = f"{usual:g}"
    asked = Asked(weighed, told, later, first, usual, runs.in_order(typed))
    return asked, asking.fields


def _day(asking: forms.Asking, farm: Farm) -> date | None:
    """The day they were weighed, held against the line."""
    when = asking.read("on", units.day)
    if when is None:
        if not asking.text("on"):
            asking.fault("on", "The day they were weighed is wanted.")
        return None
    probe = weighing.Weighing(when, _NUMBER, _MEAN_KG, _SD_KG)
    asking.check("on", lambda: weighing.against_farm(probe, farm))
    return when


def _hours_off(asking: forms.Asking, name: str, day: date) -> float | None:
    hours = asking.read(name, _hours)
    asking.check(
        name, lambda: weighing.weighing(day, _NUMBER, _MEAN_KG, _SD_KG, hours_off_feed=hours)
    )
    return hours


def _from_weights(asking: forms.Asking, day: date) -> Weighing | None:
    """From the weights of single sheep."""
    if any(asking.text(n) for n in ("number", "mean", "sd")):
        asking.fault(
            "weights", "The single weights say it all: leave number, mean and spread empty."
        )
        return None
    text = asking.text("weights")
    if len(text) > MOST_LETTERS:
        asking.fault("weights", f"This is too long; at most {MOST_LETTERS} letters.")
        return None
    try:
        found = weigh_jobs.weights_in(text, "weights")
    except InputError as fault:
        asking.fault("weights", *(str(p) for p in fault.problems[:5]))
        return None
    return asking.check("weights", lambda: weighing.from_weights(found, day))


def _from_mean(asking: forms.Asking, day: date) -> Weighing | None:
    """From number, mean and spread, each looked at by itself."""
    number = asking.read("number", _count)
    mean, sd = asking.read("mean", _kilos), asking.read("sd", _kilos)
    for name, words in (
        ("number", "How many were weighed is wanted, or the single weights."),
        ("mean", "Their mean weight is wanted, or the single weights."),
        ("sd", "Their spread is wanted, or the single weights."),
    ):
        if not asking.text(name):
            asking.fault(name, words)
    if number is not None:
        asking.check("number", lambda: weighing.weighing(day, number, _MEAN_KG, _SD_KG))
    if mean is None:
        return None
    if asking.check("mean", lambda: weighing.weighing(day, _NUMBER, mean, 0.0)) is None:
        return None
    if sd is None:
        return None
    if asking.check("sd", lambda: weighing.weighing(day, _NUMBER, mean, sd)) is None:
        return None
    return None if number is None else weighing.Weighing(day, number, mean, sd)


# ---------------------------------------------------------------- the page


def look(request: Request) -> Response:
    """A weighing against the line, and how far catching up has been worked out."""
    read = pages.desk_of(request).read()
    said = forms.boxes_sent(request.query_params, NAMES)
    if not said:
        run = runs.looked_at(request, QUESTION)
        said = dict(run.said) if run is not None else {}
    return _page(request, read, *asked_of(read.farm, said))


def begin(request: Request) -> Response:
    """Start working out what catching up costs, or say what is wrong with the form."""
    read = pages.desk_of(request).read()
    asked, fields = asked_of(read.farm, forms.boxes_sent(pages.form_of(request), NAMES))
    if asked is None:
        return _page(request, read, asked, fields, status=422)
    begun(request, read, asked)
    return pages.go(f"{PATH}?{urlencode(asked.said)}")


def stop(request: Request) -> Response:
    """Make do with the best so far."""
    runs.stopped(request, QUESTION)
    run = runs.looked_at(request, QUESTION)
    return pages.go(PATH if run is None else f"{PATH}?{urlencode(run.said)}")


def progress(request: Request) -> Response:
    """How far it is."""
    return runs.progress(request, QUESTION, PATH)


def begun(request: Request, read: Read, asked: Asked) -> Run:
    """The run that works out catching up, or the one that is going."""
    base = _base(request, asked.seconds)
    ready = forms.ready_of(pages.desk_of(request), read) if base is None else base.ready

    def work(tell: Tell, stop: Stop) -> Weighed:
        return weigh_jobs.weighed_of(
            ready,
            asked.weighing,
            later=asked.later,
            start_hours_off=asked.first_hours_off,
            seconds=asked.seconds,
            tell=tell,
            stop=stop,
            base=base,
        )

    return runs.begun(request, QUESTION, read, asked.said, work)


def _base(request: Request, seconds: float) -> winter_jobs.Wintered | None:
    """The winter as it was worked out for the order, if it is just what is wanted here."""
    run = runs.looked_at(request, order_view.QUESTION)
    done = order_view.found(request)
    if run is None or done is None or run.told("seconds") != f"{seconds:g}":
        return None
    plan = done.plan
    if not plan.is_found or plan.is_cut_short or done.ready.on != plan.farm.start:
        return None
    bare = replace(plan, more=(), walk_away_gbp_per_t=MappingProxyType({}))
    return replace(done, plan=bare, what_ifs=())


def _page(
    request: Request,
    read: Read,
    asked: Asked | None,
    fields: tuple[Field, ...],
    status: int | None = None,
) -> Response:
    latest = runs.looked_at(request, QUESTION)
    run = None if asked is None else runs.looked_at(request, QUESTION, asked.said)
    busy = latest if latest is not None and latest.is_going and latest is not run else None
    done = run.result if run is not None and not run.is_going else None
    given: dict[str, Any] = {
        **runs.told(request, QUESTION, run),
        **forms.common(),
        "fields": fields,
        "asked": asked,
        "gone": GONE,
        "busy": busy,
        "busy_query": "" if busy is None else urlencode(busy.said),
        "done": None,
        "going_words": "Working out what catching up costs.",
    }
    if asked is not None:
        given |= _told(request, read, asked)
    if isinstance(done, weigh_jobs.Weighed):
        given |= _answer(done)
    bad = any(f.errors for f in fields)
    code = status or (422 if bad else 200)
    return pages.page(request, "weighing.html", status=code, here=PATH, **given)


def _told(request: Request, read: Read, asked: Asked) -> dict[str, Any]:
    """What the weighing tells by itself."""
    told, farm = asked.told, read.farm
    verdict = sentences._verdict_words(told)
    before, _, after = weighing.words(told).partition(verdict)
    _, notes = weighing.batch_weights([asked.weighing], farm)

    def drawn() -> tuple[Any, Markup]:
        from ration import plots

        plot = plots.weights_line(farm, asked.weighing.batch or None, [told])
        return plot, Markup(plot.svg)

    return {
        "verdict": verdict,
        "words": [before.strip(), after.strip(), *notes],
        "figures": figures(told),
        "picture": pages.desk_of(request).once(read, ("weighed", asked.said), drawn),
        "said": asked.said,
        "query": urlencode([s for s in asked.said if s != ("seconds", forms.USUAL)]),
    }


def figures(told: Told) -> list[tuple[str, str]]:
    """Weighed, the line, how far off and what may be. Rounding only."""
    w = told.weighing
    off = "behind" if told.behind_kg >= 0 else "ahead"
    return [
        (f"mean of {w.number}", f"{w.mean_kg:.1f} kg"),
        (f"the line on {units.day_words(w.when)}", f"{told.line_kg:.2f} kg"),
        (f"{off}, as weighed", f"{abs(told.behind_kg):.2f} kg"),
        ("give or take, by the sample", f"{told.half_width_kg:.2f} kg"),
    ]


def _answer(done: Weighed) -> dict[str, Any]:
    """What catching up costs, what to order for it, and the new cards."""
    spoken = forms.laid(lambda c: weigh_report.print_told(c, done))
    best = weigh_report._best(done)
    return {
        "done": done,
        "catching_up": spoken[2 + len(done.notes) :],
        "cards": [_card(c) for c in done.cards] if best is not None else [],
        "footer": [b.text for b in forms.laid(lambda c: winter_report._footer(c, done.base))
                   if isinstance(b, Said)],
    }  # fmt: skip


def _card(card: Card) -> dict[str, Any]:
    """One card: what goes in at each meal, then what the face says below it."""
    spoken: Sequence[Block] = forms.laid(lambda c: card_report.print_card(c, card, standing=False))[
        1:
    ]
    first = next((i for i, b in enumerate(spoken) if isinstance(b, Grid)), 0)
    return {
        "heading": card_report.heading(card),
        "first": card_report._first_lines(card) if card.lines else [],
        "meals": rows.meals(card),
        "rest": spoken[first:],
    }


# ---------------------------------------------------------------- JSON


def as_json(request: Request) -> Response:
    """`ration weigh FARM --json`, its options named as the boxes are."""
    read = pages.desk_of(request).read()
    asked, fields = asked_of(read.farm, forms.boxes_sent(request.query_params, NAMES))
    if asked is None:
        faults = [Problem(f.label, e) for f in fields for e in f.errors]
        raise InputError(*(faults or [Problem("on", "the day they were weighed is wanted")]))
    done = runs.waited(request, QUESTION, asked.said, partial(begun, request, read, asked), GONE)
    return Response(json_bytes(winter_json.weigh_json(done)), media_type="application/json")


ROUTES = [
    Route("/weighing", look),
    Route("/weighing/run", begin, methods=["POST"]),
    Route("/weighing/stop", stop, methods=["POST"]),
    Route("/weighing/progress", progress),
    Route("/json/weigh", as_json),
]

"""What do I order, and when? The whole winter planned: long work, its answer, its downloads."""

from __future__ import annotations

import csv
import io
import math
import re
from collections.abc import Mapping
from dataclasses import dataclass
from functools import partial
from pathlib import PurePath
from typing import TYPE_CHECKING, Any

from markupsafe import Markup
from starlette.exceptions import HTTPException
from starlette.responses import Response
from starlette.routing import Route

from ration import units, what_if
from ration.errors import InputError, Problem
from ration.faces import winter_json, winter_report, winter_words
from ration.jobs import winter as winter_jobs
from ration.page import pages, runs, views
from ration.page import winter_forms as forms
from ration.page.downloads import XLSX, download
from ration.page.forms import Field
from ration.page.views.twins import json_bytes
from ration.plain_text import joined
from ration.sheets.ears import Grid, Said
from ration.stack import lots as stacked
from ration.winter import order

if TYPE_CHECKING:
    from datetime import date

    from starlette.requests import Request

    from ration.jobs.winter import Ready, Wintered
    from ration.page.desk import Desk, Read
    from ration.page.runs import Run, Stop, Tell
    from ration.page.runs import Said as Typed
    from ration.plots import Plot

QUESTION, PATH = "order", "/order"
BOXES, MOST_WHAT_IFS = 3, 10
WHAT_IFS = tuple(f"what-if-{i}" for i in range(1, MOST_WHAT_IFS + 1))
NAMES = (*WHAT_IFS, "on", "seconds")
GONE = "The farm file was changed while the winter was worked out, so that work was dropped."


@dataclass(frozen=True)
class Asked:
    """What is to be worked out.

    Attributes
    ----------
    what_ifs : tuple of str
        In the farmer's words.
    on : date or None
        Day of the order; None takes the first of the winter.
    seconds : float
        For each plan. [s]
    """

    what_ifs: tuple[str, ...] = ()
    on: date | None = None
    seconds: float = winter_jobs.SECONDS

    @property
    def said(self) -> Typed:
        """The same, as runs are told apart by it."""
        told = dict(zip(WHAT_IFS, self.what_ifs, strict=False))
        told["on"] = "" if self.on is None else self.on.isoformat()
        return runs.in_order({**told, "seconds": f"{self.seconds:g}"})


# ---------------------------------------------------------------- the form


def fields_of(said: Mapping[str, str]) -> tuple[Field, ...]:
    """The boxes: what if, the day of the order, how long it may look."""
    used = [i for i, name in enumerate(WHAT_IFS, 1) if said.get(name)]
    hints = ("long winter", "all bought feed +30 %", "20 fewer sheep")
    asked = [
        forms.box(
            name,
            f"What if, {i}",
            said,
            hint=f"like: {hints[i - 1]}" if i <= len(hints) else "",
        )
        for i, name in enumerate(WHAT_IFS[: max([BOXES, *used])], 1)
    ]
    on = forms.box("on", "Day of the order", said, hint="Empty takes the first day of the winter")
    return (*asked, on, forms.seconds_box(said))


def asked_of(desk: Desk, read: Read, said: Mapping[str, str]) -> tuple[Asked, tuple[Field, ...]]:
    """What a form asks, and its boxes with their faults."""
    asking = forms.Asking(fields_of(said))
    on = asking.read("on", units.day)
    seconds = asking.read("seconds", forms.seconds_of)
    ready = forms.ready_of(desk, read, on)
    texts = []
    for field in asking.fields:
        if field.name in WHAT_IFS and field.value:
            asking.read(field.name, lambda text: winter_jobs.changed_by(ready, [text]))
            texts.append(field.value)
    asked = Asked(tuple(texts), on, winter_jobs.SECONDS if seconds is None else seconds)
    return asked, asking.fields


def work_of(ready: Ready, asked: Asked, tell: Tell, stop: Stop) -> Wintered:
    """The winter, worked out."""
    return winter_jobs.wintered(
        ready, seconds=asked.seconds, what_ifs=asked.what_ifs, tell=tell, stop=stop
    )


def begun(request: Request, read: Read, asked: Asked) -> Run:
    """The run that works it out, or the one that is going."""
    ready = forms.ready_of(pages.desk_of(request), read, asked.on)
    return runs.begun(request, QUESTION, read, asked.said, partial(work_of, ready, asked))


# ---------------------------------------------------------------- the page


def look(request: Request) -> Response:
    """Where it stands: nothing yet, being worked out, or the answer."""
    read = pages.desk_of(request).read()
    run = runs.looked_at(request, QUESTION)
    return _page(request, read, run, fields_of(dict(run.said) if run else {}))


def begin(request: Request) -> Response:
    """Start working it out, or say what is wrong with the form."""
    desk = pages.desk_of(request)
    read = desk.read()
    asked, fields = asked_of(desk, read, forms.boxes_sent(pages.form_of(request), NAMES))
    if any(f.errors for f in fields):
        return _page(request, read, runs.looked_at(request, QUESTION), fields, status=422)
    begun(request, read, asked)
    return pages.go(PATH)


def stop(request: Request) -> Response:
    """Make do with the best so far."""
    runs.stopped(request, QUESTION)
    return pages.go(PATH)


def progress(request: Request) -> Response:
    """How far it is."""
    return runs.progress(request, QUESTION, PATH)


def _page(
    request: Request, read: Read, run: Run | None, fields: tuple[Field, ...], status: int = 200
) -> Response:
    done = run.result if run is not None and not run.is_going else None
    given: dict[str, Any] = {
        **runs.told(request, QUESTION, run),
        **forms.common(),
        "fields": fields,
        "examples": what_if.FORMS,
        "estimate": stacked.estimated(read.farm),
        "gone": GONE,
        "done": None,
        "papers": [],
        "going_words": "Working out the winter: every batch, feed and delivery to turnout at once.",
    }
    ready = forms.ready_of(pages.desk_of(request), read)
    if isinstance(done, winter_jobs.Wintered):
        ready = done.ready
        given |= _answer(request, read, run, done)
    given["prices"] = price_words(ready, pages.desk_of(request).name)
    return pages.page(request, "order.html", status=status, here=PATH, **given)


def price_words(ready: Ready, file: str) -> list[str]:
    """Whose prices are taken."""
    day = units.in_words_day(ready.on)
    if not ready.sheets:
        return [
            f"{file} names no merchants' quotes, so its own prices are taken: any amount, on any "
            "day, without drop charges."
        ]
    lines = [f"Prices by the quotes in {joined([s.file for s in ready.sheets])}, as on {day}."]
    names = {o.id: o.name for o in ready.farm.offers}
    own = [names.get(s.offer_id, s.quote.feed) for s in ready.supplies if not s.quote.merchant]
    if own:
        lines.append(
            f"Not quoted, so at the price in {file}, any amount on any day: {joined(own)}."
        )
    return lines


def _answer(request: Request, read: Read, run: Run | None, done: Wintered) -> dict[str, Any]:
    """Everything the templates name of a winter that was worked out."""
    plan, ready = done.plan, done.ready
    told: dict[str, Any] = {
        "done": done,
        "took": 0.0 if run is None else run.seconds,
        "what_ifs": forms.laid(lambda c: winter_report._what_ifs(c, done)),
        "refused": winter_words.refused(ready.supplies),
        "to_ask": winter_words.to_ask(ready.tied, ready.sheets),
        "left_out": [f"{feed} ({why})" for feed, why in ready.farm.unpriced],
        "papers": _paper_links(),
        "query": _query(run),
        "footer": [b.text for b in forms.laid(lambda c: winter_report._footer(c, done))
                   if isinstance(b, Said)],
    }  # fmt: skip
    if not plan.is_found:
        return told
    bought = order.rows_of(plan)
    sheet = forms.laid(lambda c: winter_report.print_order_sheet(c, plan, bought, ready.on))
    total = winter_words.order_total(plan) if bought else "Nothing is to be bought."
    pictures = pages.desk_of(request).once(
        read, ("order plots", 0 if run is None else run.number), lambda: plots_of(done)
    )
    return {
        **told,
        "total": total,
        "figures": figures(done),
        "proof": winter_words.proof(plan),
        "order": next((b for b in sheet if isinstance(b, Grid)), None),
        "order_notes": [b.text for b in sheet if isinstance(b, Said) and b.text != total]
        if bought else [],
        "now_or_later": [x.words for x in order.now_or_later(plan)],
        "periods": forms.laid(lambda c: winter_report.print_periods(c, plan)),
        "lasts": [*(lot.words for lot in done.stack.lots), *winter_words.classes(done.stack),
                  *winter_words.behind_the_stack(done.stack)],
        "bill": winter_words.bill(plan),
        "more": winter_words.more(plan.more) if plan.more else [],
        "pictures": pictures,
        "method": [b.text for b in forms.laid(lambda c: winter_report._method(c, done))
                   if isinstance(b, Said)][1:-1],
    }  # fmt: skip


def figures(done: Wintered) -> list[tuple[str, str]]:
    """Tonnes to order, cost, cost a head, proved gap."""
    plan = done.plan
    if plan.bill is None:
        return []
    head, total = sum(b.head for b in plan.farm.batches), plan.bill.total_gbp
    is_proved = math.isfinite(plan.bound_gbp)
    return [
        ("to order", f"{math.fsum(what_if.bought_t(plan).values()):.2f} t"),
        ("the winter costs", units.money(total)),
        ("a head", units.money(total / head)),
        ("proved gap", winter_words._gap(plan.gap_share) if is_proved else "not proved"),
    ]


def plots_of(done: Wintered) -> dict[str, list[tuple[Plot, Markup]]]:
    """The rations and weights of each batch, and the stack."""
    from ration import plots

    plan = done.plan

    names = [b.name for b in plan.farm.batches]
    return {
        "rations": [drawn(plots.ration_through_winter(plan, n), i) for i, n in enumerate(names)],
        "weights": [drawn(plots.weights_line(plan, n), i) for i, n in enumerate(names)],
        "stack": [drawn(plots.stack_to_run_out(done.stack, plan), 0)],
    }


def drawn(plot: Plot, number: int) -> tuple[Plot, Markup]:
    """A plot and its picture; its ids are its own where several of a kind stand in one page."""
    svg = re.sub(r'(\bid="|url\(#|href="#)', rf"\g<1>n{number}-", plot.svg)
    return plot, Markup(svg)


def _paper_links() -> list[tuple[str, str]]:
    """Where the order and the cards are put on paper, when there is such a page."""
    paper = next((q for q in views.menu() if q.module == "paper"), None)
    if paper is None:
        return []
    return [
        ("Order sheet on paper", f"{paper.path}/order.html"),
        ("Feeding cards on paper", f"{paper.path}/card.html"),
    ]


# ---------------------------------------------------------------- to take away


def found(request: Request) -> Wintered | None:
    """The winter as worked out for the farm file as it stands; None when it is not.

    Raises
    ------
    InputError
        Every fault of the farm file.
    """
    run = runs.looked_at(request, QUESTION)
    done = None if run is None or run.is_going else run.result
    return done if isinstance(done, winter_jobs.Wintered) else None


def _stem(request: Request) -> str:
    return PurePath(pages.desk_of(request).name).stem


def book(request: Request) -> Response:
    """The workbook of the winter that is shown."""
    from ration.workbooks.winter import winter_book

    done = found(request)
    if done is None:
        return pages.go(PATH)
    return download(winter_book(done), f"{_stem(request)}-winter.xlsx", XLSX)


def order_csv(done: Wintered) -> bytes:
    """The order, one row a delivery; a text that a spreadsheet would take for a sum is marked."""
    out = io.StringIO(newline="")
    writer = csv.writer(out)
    writer.writerow(
        ("feed", "from", "date", "t_fresh", "packs", "price_gbp_per_t_fresh", "cost_gbp")
    )
    names = {o.id: o.name for o in done.plan.offers}
    for d in done.plan.deliveries:
        quote = d.supply.quote
        merchant = quote.merchant or order.YOUR_PRICE
        texts = (names.get(d.supply.offer_id, quote.feed), merchant)
        writer.writerow(
            (
                *(f"'{t}" if t.startswith(("=", "+", "-", "@", "\t", "\r")) else t for t in texts),
                d.period.start.isoformat(),
                f"{d.tonnes:.3f}",
                "" if d.packs is None else d.packs,
                f"{d.price_gbp_per_t_fresh:.2f}",
                f"{d.cost_gbp:.2f}",
            )
        )
    return out.getvalue().encode("utf-8-sig")


def as_csv(request: Request) -> Response:
    """The order that is shown, as CSV."""
    done = found(request)
    if done is None:
        return pages.go(PATH)
    return download(order_csv(done), f"{_stem(request)}-order.csv", "text/csv")


def _query(run: Run | None) -> str:
    """What asks `/json/winter` for just this run."""
    from urllib.parse import urlencode

    if run is None:
        return ""
    said = [("what-if" if k in WHAT_IFS else k, v) for k, v in run.said]
    return urlencode([(k, v) for k, v in said if (k, v) != ("seconds", forms.USUAL)])


def as_json(request: Request) -> Response:
    """`ration winter FARM --json`, with `what-if` (again and again), `on` and `seconds`."""
    desk = pages.desk_of(request)
    read = desk.read()
    asked = request.query_params
    texts = asked.getlist("what-if")
    if len(texts) > MOST_WHAT_IFS:
        raise HTTPException(400, f"At most {MOST_WHAT_IFS} what-ifs are taken at once.")
    said = dict(zip(WHAT_IFS, texts, strict=False))
    said |= {n: asked[n] for n in ("on", "seconds") if n in asked}
    wanted, fields = asked_of(desk, read, said)
    faults = [Problem(f.label, e) for f in fields for e in f.errors]
    if faults:
        raise InputError(*faults)
    done = runs.waited(request, QUESTION, wanted.said, lambda: begun(request, read, wanted), GONE)
    return Response(json_bytes(winter_json.winter_json(done)), media_type="application/json")


ROUTES = [
    Route("/order", look),
    Route("/order/run", begin, methods=["POST"]),
    Route("/order/stop", stop, methods=["POST"]),
    Route("/order/progress", progress),
    Route("/order/winter.xlsx", book),
    Route("/order/order.csv", as_csv),
    Route("/json/winter", as_json),
]

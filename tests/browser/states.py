"""Everything the page can show, as a person meets it: addresses, and what is pressed there."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from playwright.sync_api import expect
from windows import LONG_MS, Window

from ration import demo
from ration.page.views import menu

SHIPPED = Path(demo.__file__).parent
LAB_SHEET = SHIPPED / "bottom-ings-2026-11-16.csv"
THERE = {q.module: q for q in menu()}
WEIGHED = "/weighing?on=14+January+2027&number=40&mean=37.1+kg&sd=3.0+kg"
FARMS = ("quernhope", "small")


def farm(folder: Path, which: str = "quernhope") -> Path:
    """The invented farm as it is shipped, or cut down so that its winter is soon worked out.

    "one" has one batch, "small" three periods besides; "hafod" is the nutritionist's.
    """
    folder.mkdir(parents=True)
    for path in SHIPPED.iterdir():
        if path.suffix in (".csv", ".yaml"):
            (folder / path.name).write_bytes(path.read_bytes())
    if which == "hafod":
        return folder / "hafod-wrynach.yaml"
    made = folder / "quernhope.yaml"
    if which in ("one", "small"):
        text = made.read_text(encoding="utf-8")
        begin, end = text.index("  middle:\n    head"), text.index("other stock:")
        text = text[:begin] + "\n" + text[end:]
        text = text.replace("fed:\n  middle:", "fed:\n  strong:")
        if which == "small":
            text = text.replace("periods: 14 days ", "periods: 52 days ")
        made.write_text(text, encoding="utf-8")
    return made


@dataclass(frozen=True)
class State:
    """One thing to look at.

    Attributes
    ----------
    name : str
    view : str
        The module that answers it.
    path : str
    then : callable or None
        What is done there.
    may_say : tuple of str
        Lines of the browser's log that belong to it.
    farm : str
        Of which farm; the small one where whole winters are worked out.
    is_long : bool
        It takes seconds to come up, so it is looked at in one go.
    """

    name: str
    view: str
    path: str
    then: Callable[[Window], None] | None = None
    may_say: tuple[str, ...] = ()
    farm: str = FARMS[0]
    is_long: bool = False

    def show(self, window: Window) -> None:
        """Bring it into the window."""
        for words in self.may_say:
            window.may_say(words)
        window.open(self.path)
        if self.then:
            self.then(window)


def open_all(window: Window) -> None:
    """Open everything that can be opened."""
    window.page.evaluate(
        "() => document.querySelectorAll('details').forEach(d => { d.open = true; })"
    )


def curve_shown(window: Window) -> None:
    window.press("Show where the mix changes")
    expect(window.page.locator("#curve svg")).to_be_visible(timeout=LONG_MS)


def faulty(window: Window) -> None:
    window.box("Protein").fill("99")
    expect(window.page.locator("#error-protein")).not_to_be_empty()


def which_moves_most(window: Window) -> None:
    window.press("Work out which moves it most")
    expect(window.page.locator("#if-out table")).to_be_visible(timeout=LONG_MS)


def lab_sheet_dropped(window: Window) -> None:
    drop_lab_sheet(window, LAB_SHEET, "Bottom Ings")


def drop_lab_sheet(window: Window, sheet: Path, feed: str) -> None:
    """Put a sheet into the box and say whose it is."""
    window.page.get_by_label("The sheet as the laboratory sent it").set_input_files(sheet)
    window.press("Read the sheet")
    window.page.get_by_label("Which feed was sampled?").select_option(label=feed)
    expect(window.page.locator("#sheet .changed")).to_be_visible()


def work_the_winter(window: Window) -> None:
    """The winter; worked out once for a farm, whoever looks."""
    if not window.page.get_by_text("Worked out in").is_visible():
        window.press("Work out the winter")
        expect(window.page.get_by_text("Worked out in")).to_be_visible(timeout=LONG_MS)


def winter_worked(window: Window) -> None:
    work_the_winter(window)
    open_all(window)


def catching_up_worked(window: Window) -> None:
    window.press("Work out catching up")
    expect(window.page.get_by_role("heading", name="New cards")).to_be_visible(timeout=LONG_MS)
    open_all(window)


def agree(window: Window) -> None:
    """Yes, the sheets were read right; then the comparison, worked out once for a farm."""
    if window.button("Yes, that is how I read").is_visible():
        window.press("Yes, that is how I read")
    expect(window.button("Workbook")).to_be_visible(timeout=LONG_MS)


def quotes_compared(window: Window) -> None:
    agree(window)
    open_all(window)


def landed(window: Window) -> None:
    agree(window)
    window.press("Without sheep: price in the bin")
    open_all(window)


def paper_after_the_winter(window: Window) -> None:
    work_the_winter(window)
    window.open("/paper")


def ways_by_mix(window: Window) -> None:
    window.press("Put the mix beside feed by hand")
    expect(window.page.locator("#mix table").first).to_be_visible(timeout=LONG_MS)


EXTRA = (
    State("feed-worth", "feed", "/?batch=small&worth=yes", open_all),
    State("feed-changed", "feed", "/?price-soya=430+%2Ft"),
    State("hay-moved", "hay", "/hay?protein=6.9"),
    State("hay-curve", "hay", "/hay", curve_shown, is_long=True),
    State("hay-fault", "hay", "/hay", faulty, ("422",)),
    State("figures-open", "figures", "/figures", open_all),
    State("figures-out", "figures", "/figures", which_moves_most, farm="small", is_long=True),
    State("figures-table", "figures", "/figures/table"),
    State("figures-lab-sheet", "figures", "/figures", lab_sheet_dropped),
    State("order-open", "order", "/order", open_all),
    State("quotes-read", "quotes", "/quotes", open_all),
    State("wintering-open", "wintering", "/wintering", open_all),
    State("wintering-mix", "wintering", "/wintering", ways_by_mix, is_long=True),
    State("weighing-told", "weighing", WEIGHED, open_all),
    State("order-worked", "order", "/order", winter_worked, farm="small", is_long=True),
    State("weighing-worked", "weighing", WEIGHED, catching_up_worked, farm="small", is_long=True),
    State("paper-worked", "paper", "/order", paper_after_the_winter, farm="small", is_long=True),
    State("quotes-compared", "quotes", "/quotes", quotes_compared, farm="small", is_long=True),
    State("quotes-landed", "quotes", "/quotes", landed, farm="small", is_long=True),
    State("no-such-page", "feed", "/nowhere", may_say=("404",)),
)


def states(*, is_long: bool | None = None) -> list[State]:
    """The first page of every question of the menu, then all that can be brought up in them."""
    first = [State(q.module, q.module, q.path) for q in THERE.values()]
    found = [*first, *(s for s in EXTRA if s.view in THERE)]
    return [s for s in found if is_long is None or s.is_long == is_long]

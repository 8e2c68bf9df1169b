"""Every view by axe-core, by day and by night, and what it cannot tell.

Outside measure: WCAG 2.2, levels A and AA (W3C Recommendation), through the rules of axe-core
4.14.1, which lies beside these tests under its own licence (MPL-2.0) and is never part of the
package. The 44 px of a target are WCAG 2.2's 2.5.5 (AAA), the 24 px its 2.5.8 (AA).
"""

from __future__ import annotations

import hashlib

import pytest
from looks import AXE, AXE_SHA256, CLEAR, axe, plain_faults, serious, too_wide
from playwright.sync_api import expect
from states import THERE, State, agree, states, work_the_winter
from windows import PHONE, Window, opened

from ration.page.views.paper import SHEETS


def test_axe_is_the_published_one() -> None:
    assert hashlib.sha256(AXE.read_bytes()).hexdigest() == AXE_SHA256
    assert "Mozilla Public License" in (AXE.parent / "LICENSE").read_text(encoding="utf-8")


@pytest.fixture(scope="module")
def watched(chromium, served, pictures):
    """One window for all the views that are only looked at."""
    with opened(chromium, served.base, pictures, "view") as window:
        yield window


@pytest.mark.parametrize("state", states(), ids=lambda s: s.name)
def test_a_view_has_no_serious_fault_by_day_or_by_night(
    watched: Window, look, state: State
) -> None:
    """axe-core; then what it does not judge: one main heading, no level left out, all reachable."""
    look(state.farm)
    watched.size(1200, 900)
    watched.page.emulate_media(color_scheme="light")
    state.show(watched)
    assert serious(axe(watched)) == []
    assert plain_faults(watched) == []
    watched.picture(state.name)
    watched.page.emulate_media(color_scheme="dark")
    assert serious(axe(watched, "color-contrast", "link-in-text-block")) == []
    watched.picture(f"{state.name}-night")
    if state.is_long:
        assert too_wide(watched) == []


def test_axe_would_see_a_fault(watched: Window, look) -> None:
    """These tests can fail: grey on white and a box without a name are found."""
    watched.page.emulate_media(color_scheme="light")
    watched.open("/")
    watched.page.evaluate(
        """() => { const p = document.createElement("p"); p.textContent = "hard to read";
        p.style.color = "rgb(190, 190, 190)"; const b = document.createElement("input");
        const h = document.createElement("h4"); h.textContent = "out of order";
        document.querySelector("main").prepend(p, b, h); }"""
    )
    told = " ".join(serious(axe(watched)))
    assert "color-contrast" in told and "label" in told
    told = " ".join(plain_faults(watched))
    assert "level" in told and "no label" in told


@pytest.mark.parametrize("path", ["/", "/hay"])
def test_nothing_moves_for_one_who_asks_for_stillness(open_window, path) -> None:
    """prefers-reduced-motion: no animation runs and no change is drawn out."""
    window = open_window("desktop", reduced_motion="reduce")
    window.open(path)
    told = window.page.evaluate(
        """() => [...document.querySelectorAll("*")].filter(e => { const s = getComputedStyle(e);
        const long = v => v.split(",").some(x => parseFloat(x) > 0);
        return s.animationName !== "none" || long(s.transitionDuration) && s.transitionProperty !== "none";
        }).map(e => e.outerHTML.slice(0, 80))"""
    )
    assert told == []


@pytest.mark.parametrize("path", ["/", "/hay?protein=6.9"])
def test_at_two_hundred_per_cent_all_is_there_and_no_box_is_covered(
    chromium, look, pictures, path
) -> None:
    """WCAG 2.2, 1.4.4 and 2.4.11. A window of 1200 x 900 at 200 % is one of 600 x 450 to the page."""
    with opened(
        chromium, look().base, pictures, "zoomed", (600, 450), device_scale_factor=2
    ) as window:
        window.open(path)
        assert window.page.evaluate("() => document.documentElement.scrollWidth") <= 600
        window.page.screenshot(path=pictures / f"zoomed-{path.strip('/')[:3] or 'feed'}.png")
        for box in window.page.locator("form.ask input[type=text]:visible").all():
            box.focus()
            box.press("End")
            assert box.evaluate(CLEAR), box.get_attribute("id")


def test_a_screen_reader_is_told_of_the_new_answer(open_window) -> None:
    """WCAG 2.2, 4.1.3: the cost stands in a live region, which the swap does not replace by another kind."""
    window = open_window("desktop")
    window.open("/hay")
    now = window.page.get_by_role("status").filter(has_text="a head a day")
    expect(now).to_have_count(1)
    window.box("Protein").fill("6.9")
    expect(now).to_contain_text("by the farm file")
    expect(window.page.locator("#now")).to_have_attribute("role", "status")


def test_axe_on_a_phone(chromium, look, pictures) -> None:
    """Targets large and apart enough for a thumb (WCAG 2.2, 2.5.8), on every question of the menu."""
    with opened(chromium, look().base, pictures, "phone", PHONE) as window:
        for question in THERE.values():
            window.open(question.path)
            assert serious(axe(window, "target-size", "color-contrast")) == [], question
            assert plain_faults(window) == [], question
            window.picture(question.module)


def test_paper_reads_on_a_phone_too(chromium, look, pictures) -> None:
    """A sheet that was sent opens 320 px wide without scrolling sideways (WCAG 2.2, 1.4.10)."""
    with opened(chromium, look("small").base, pictures, "paper", PHONE) as window:
        window.open("/order")
        work_the_winter(window)
        window.open("/quotes")
        agree(window)
        for sheet in SHEETS:
            window.open(f"/paper/{sheet.kind}.html")
            assert window.page.get_by_role("heading", level=1).count() == 1
            assert serious(axe(window)) == [], sheet.kind
            assert too_wide(window) == [], sheet.kind
            window.size(*PHONE)
            window.picture(sheet.kind)

"""From a narrow phone to a desk: the page never scrolls sideways; tables do, in their own frame.

Outside measure: WCAG 2.2, 1.4.10 Reflow (AA): 320 px wide without scrolling in two directions,
tables left out.
"""

from __future__ import annotations

import pytest
from looks import WIDTHS, too_wide
from states import State, states
from windows import Window, opened


@pytest.fixture(scope="module")
def narrow(chromium, served, pictures):
    with opened(chromium, served.base, pictures, "width") as window:
        yield window


@pytest.mark.parametrize("state", states(is_long=False), ids=lambda s: s.name)
def test_a_view_fits(narrow: Window, look, state: State) -> None:
    """What takes seconds to come up is held against the widths in test_accessibility."""
    look(state.farm)
    narrow.size(1200, 900)
    state.show(narrow)
    assert too_wide(narrow) == []


def test_what_is_too_wide_is_seen(narrow: Window, look) -> None:
    """This test can fail: a line that cannot break is found."""
    narrow.open("/")
    narrow.page.evaluate(
        "() => { const p = document.createElement('p'); p.textContent = 'x'.repeat(200);"
        " document.querySelector('main').prepend(p); }"
    )
    told = too_wide(narrow)
    assert any(t.startswith(f"at {WIDTHS[0]} px: the page is") for t in told), told

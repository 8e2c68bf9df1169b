"""A window of a real browser on the page of the tests, and what a person does in it."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from urllib.parse import urlsplit

from playwright.sync_api import (
    Browser,
    BrowserContext,
    Download,
    Locator,
    LocatorAssertions,
    Page,
    expect,
)

HERE = "127.0.0.1"
DESKTOP = (1200, 900)
PHONE = (390, 844)
SIZES = {"desktop": DESKTOP, "phone": PHONE}
SOON_MS = 15_000  # patience on a busy machine, not a promise
LONG_MS = 90_000  # a whole winter worked out

# What the browser refuses by the page's own rules is told here, whether or not it reaches the log.
NOTE_REFUSED = """
window.refusedByTheRules = [];
document.addEventListener("securitypolicyviolation", e =>
  window.refusedByTheRules.push(`${e.effectiveDirective} ${e.blockedURI} ${e.sourceFile}`));
"""


class Window:
    """One window. What it asks of whom, and what goes wrong in it, is noted from the first moment.

    Attributes
    ----------
    page : Page
    asked : list of str
        Every address asked for.
    wrong : list of str
        Lines of the browser's log that are errors or warnings, faults of scripts, lost requests.
    """

    def __init__(self, page: Page, base: str, pictures: Path, name: str) -> None:
        self.page, self.base, self.pictures, self.name = page, base, pictures, name
        self.asked: list[str] = []
        self.wrong: list[str] = []
        self.expected: list[str] = []
        page.set_default_timeout(SOON_MS)
        page.on("request", lambda r: self.asked.append(r.url))
        page.on("websocket", lambda s: self.asked.append(s.url))
        page.on("pageerror", lambda e: self.wrong.append(f"fault of a script: {e}"))
        page.on("console", self._logged)

    def _logged(self, line: object) -> None:
        if line.type in ("error", "warning"):
            self.wrong.append(f"{line.type}: {line.text}")

    def may_say(self, words: str) -> None:
        """A line of the browser's log that belongs to what is tested, an answer 422 for one."""
        self.expected.append(words)

    def faults(self) -> list[str]:
        """What a good page never does."""
        outside = [a for a in self.asked if urlsplit(a).hostname != HERE and a != "data:,"]
        wrong = [w for w in self.wrong if not any(e in w for e in self.expected)]
        refused = [] if self.page.is_closed() or not self.has_scripts else self.page.evaluate(
            "window.refusedByTheRules ?? []")  # fmt: skip
        return [*(f"asked elsewhere: {a}" for a in outside), *wrong,
                *(f"refused by the rules: {r}" for r in refused)]  # fmt: skip

    has_scripts = True

    # ---------------------------------------------------------------- what a person does

    def open(self, path: str) -> None:
        """Type an address."""
        self.page.goto(self.base + path)

    def ask(self, question: str) -> None:
        """Choose a question of the menu."""
        self.page.get_by_role("navigation", name="Questions").get_by_role(
            "link", name=question, exact=True
        ).click()
        expect(self.page.get_by_role("heading", level=1)).to_have_text(question)

    def box(self, label: str | re.Pattern[str]) -> Locator:
        """A box by how its label begins; the slider beside it has a name of its own."""
        if isinstance(label, str):
            label = re.compile(rf"^\s*{re.escape(label)}")
        return self.page.get_by_label(label).and_(
            self.page.locator("input:not([type=range]), select, textarea")
        )

    def press(self, words: str | re.Pattern[str]) -> None:
        """Press a button, or a link that looks like one."""
        self.button(words).first.click()

    def button(self, words: str | re.Pattern[str]) -> Locator:
        """A button or a link by its words."""
        return self.page.get_by_role("button", name=words).or_(
            self.page.get_by_role("link", name=words)
        )

    def says(self, words: str | re.Pattern[str], *, within_ms: int = SOON_MS) -> None:
        """Some words are to be read, soon."""
        self._wait_for(words, lambda body: body.to_contain_text(words, timeout=within_ms))

    def says_not(self, words: str | re.Pattern[str]) -> None:
        """Some words are not to be read any more."""
        self._wait_for(words, lambda body: body.not_to_contain_text(words))

    def _wait_for(self, words: object, wait: Callable[[LocatorAssertions], None]) -> None:
        try:
            wait(expect(self.page.locator("body")))
        except AssertionError:
            told = self.read("body")[:700]
            raise AssertionError(f"{words!r} at {self.page.url}, where it says: {told}") from None

    def read(self, where: str = "main") -> str:
        """What stands there, spaces tidied."""
        return " ".join(self.page.locator(where).first.inner_text().split())

    def download(self, press: Callable[[], None]) -> Download:
        """What comes down when something is pressed."""
        with self.page.expect_download() as coming:
            press()
        return coming.value

    def size(self, width: int, height: int) -> None:
        """Make the window as large."""
        self.page.set_viewport_size({"width": width, "height": height})

    def picture(self, name: str) -> Path:
        """A picture for a person to look at; it is held against nothing."""
        path = self.pictures / f"{self.name}-{name}.png"
        self.page.screenshot(path=path, full_page=True)
        return path

    # ---------------------------------------------------------------- by keyboard

    def focused(self) -> str:
        """The id, or the words, of what has the focus."""
        told: str = self.page.evaluate(
            "() => { const e = document.activeElement; return e.id || e.ariaLabel ||"
            " e.textContent.trim().replace(/\\s+/g, ' ').slice(0, 60); }"
        )
        return told

    def tab_to(self, locator: Locator, most: int = 80) -> None:
        """Press Tab until the focus is there."""
        for _ in range(most):
            self.page.keyboard.press("Tab")
            if locator.evaluate("e => e === document.activeElement"):
                return
        raise AssertionError(f"{most} times Tab do not lead to {locator}; now at {self.focused()}")


@contextmanager
def opened(
    chromium: Browser,
    base: str,
    pictures: Path,
    name: str,
    size: tuple[int, int] = DESKTOP,
    *,
    has_scripts: bool = True,
    **more: object,
) -> Iterator[Window]:
    """A window of its own, cookies and all; its faults are told when it closes."""
    context: BrowserContext = chromium.new_context(
        viewport={"width": size[0], "height": size[1]},
        has_touch=size == PHONE,
        java_script_enabled=has_scripts,
        locale="en-GB",
        accept_downloads=True,
        **more,
    )
    try:
        if has_scripts:
            context.add_init_script(NOTE_REFUSED)
        window = Window(context.new_page(), base, pictures, name)
        window.has_scripts = has_scripts
        yield window
        if faults := window.faults():
            raise AssertionError("\n".join(faults))
    finally:
        context.close()

"""One browser and one server for all these tests; every test has a farm of its own on it.

Needs the system's Chromium. Without it the tests are left out with the reason, or fail where
CI=true: there it is to be installed.
"""

from __future__ import annotations

import os
import shutil
import socket
from collections.abc import Callable, Iterator
from contextlib import ExitStack
from pathlib import Path
from threading import Thread

import pytest
import uvicorn
from playwright.sync_api import Browser, sync_playwright
from states import FARMS, farm
from windows import HERE, SIZES, Window, opened

from ration import page

TOKEN = "a-token-of-the-tests"
NAMES = ("chromium", "chromium-browser", "google-chrome")
MISSING = "no browser for these tests: apt-get install chromium, or put chromium on the PATH"


class Switch:
    """An application that hands on to another, which a test may change."""

    def __init__(self) -> None:
        self.app = None

    async def __call__(self, scope, receive, send) -> None:
        await self.app(scope, receive, send)


class Site:
    """The server of these tests, and the farm that it shows now."""

    def __init__(self, base: str, switch: Switch) -> None:
        self.base, self.switch = base, switch

    def show(self, farm: Path, made=None) -> None:
        """Another farm from here on."""
        self.farm = farm
        self.switch.app = made or page.app(farm, token=TOKEN)

    @property
    def text(self) -> str:
        """The farm file as it is on disk."""
        return self.farm.read_text(encoding="utf-8")

    @property
    def desk(self):
        return self.switch.app.state.desk


def pytest_configure(config: pytest.Config) -> None:
    config.addinivalue_line("markers", "farm(name): the invented farm that a test works on")


@pytest.fixture(scope="session")
def served() -> Iterator[Site]:
    """A server on a free port of this machine."""
    switch = Switch()
    with socket.socket(socket.AF_INET, socket.SOCK_STREAM) as listening:
        listening.bind((HERE, 0))
        listening.listen(64)
        settings = uvicorn.Config(switch, log_level="error", access_log=False, lifespan="off",
                                  server_header=False, proxy_headers=False)  # fmt: skip
        server = uvicorn.Server(settings)
        thread = Thread(target=server.run, kwargs={"sockets": [listening]}, daemon=True)
        thread.start()
        yield Site(f"http://{HERE}:{listening.getsockname()[1]}", switch)
        server.should_exit = True
        thread.join(10)


@pytest.fixture(scope="session")
def chromium() -> Iterator[Browser]:
    """The system's browser, without a window; it can reach this machine and no other."""
    found = next(filter(None, map(shutil.which, NAMES)), None)
    if found is None:
        if os.environ.get("CI") == "true":
            pytest.fail(MISSING)
        pytest.skip(MISSING)
    with sync_playwright() as driver:
        started = driver.chromium.launch(
            executable_path=found,
            args=["--no-sandbox", f"--host-resolver-rules=MAP * ~NOTFOUND, EXCLUDE {HERE}"],
        )
        yield started
        started.close()


@pytest.fixture(scope="session")
def pictures(tmp_path_factory) -> Path:
    """Where pictures go for a person to look at; `RATION_PICTURES` names another folder."""
    named = os.environ.get("RATION_PICTURES")
    folder = Path(named) if named else tmp_path_factory.mktemp("pictures")
    folder.mkdir(parents=True, exist_ok=True)
    return folder


@pytest.fixture
def site(served: Site, tmp_path: Path, request) -> Site:
    """The server with a fresh copy of an invented farm, the first unless a test names another."""
    marked = request.node.get_closest_marker("farm")
    served.show(farm(tmp_path / "farm", *(marked.args if marked else ())))
    return served


@pytest.fixture(scope="session")
def kept(tmp_path_factory) -> dict[str, tuple[Path, object]]:
    """Farms that nobody changes, with their pages, which remember what they have worked out."""
    made = {}
    for which in FARMS:
        path = farm(tmp_path_factory.mktemp("kept") / "farm", which)
        made[which] = path, page.app(path, token=TOKEN)
    return made


@pytest.fixture
def look(served: Site, kept) -> Callable:
    """Puts one of those farms on the server, for tests that only look; asks for its name."""

    def at(which: str = FARMS[0]) -> Site:
        served.show(*kept[which])
        return served

    at()
    return at


@pytest.fixture
def open_window(chromium: Browser, site: Site, pictures: Path, request) -> Iterator[Callable]:
    """Opens windows; when the test is over each is asked for its faults."""
    name = request.node.name.replace("[", "-").replace("]", "").removeprefix("test_")
    with ExitStack() as held:

        def another(size: str = "desktop", **more) -> Window:
            return held.enter_context(
                opened(chromium, site.base, pictures, name, SIZES[size], **more)
            )

        yield another


@pytest.fixture(params=SIZES)
def window(open_window, request) -> Window:
    """A window on a desktop, and one on a phone."""
    return open_window(request.param)

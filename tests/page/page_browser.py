"""A browser of the tests: asks the page as one on the same machine would."""

from __future__ import annotations

import re
from pathlib import Path

from starlette.testclient import TestClient

from ration import demo, page

TOKEN = "a-token-of-the-tests"
HERE = "http://127.0.0.1:8765"
SHIPPED = Path(demo.__file__).parent


class Browser(TestClient):
    """A test client that fills in what the page's own forms carry."""

    def fill(self, path: str, **fields: str):
        """A form of the page posted, with the token and the draft as it stands now."""
        made_from = fields.pop("made_from", None) or self.app.state.desk.draft.digest
        return self.post(
            path,
            data={"token": TOKEN, "made_from": made_from, **fields},
            headers={"Origin": str(self.base_url).rstrip("/"), "Sec-Fetch-Site": "same-origin"},
            follow_redirects=False,
        )

    def part(self, path: str):
        """What the page's script asks for."""
        return self.get(path, headers={"HX-Request": "true"})

    @property
    def desk(self):
        return self.app.state.desk


def browser(path: Path, client: str = "127.0.0.1", base: str = HERE, **more) -> Browser:
    made = page.app(path, token=TOKEN, **more)
    return Browser(made, base_url=base, client=(client, 50000))


def words(html: str) -> str:
    """The text of a page, tags out and spaces tidied."""
    import html as entities

    return " ".join(entities.unescape(re.sub(r"<[^>]+>", " ", html)).split())

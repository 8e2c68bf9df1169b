"""Who is refused, each in words and with the page still up afterwards."""

from __future__ import annotations

import hashlib

import pytest
from page_browser import HERE, TOKEN, browser, words

from ration.page import pages
from ration.page.security import Gate, safe_name

# As published: npm package htmx.org 4.0.1, dist/htmx.min.js, Zero-Clause BSD.
HTMX = "a0abb04f2f45a1f89d1d4844023245537e5e6014c87b144553e0607b4cc32130"
PHONE = "192.168.1.77"
SHARED = "http://192.168.1.20:8765"


def still_up(page) -> bool:
    return page.get("/").status_code == 200


def refused(got, status: int) -> bool:
    assert got.status_code == status, words(got.text)
    assert "Traceback" not in got.text
    assert 'role="alert"' in got.text
    assert "script-src 'self'" in got.headers["content-security-policy"]
    return True


def test_the_vendored_script_is_the_published_one() -> None:
    assert hashlib.sha256((pages.STATIC / "htmx.min.js").read_bytes()).hexdigest() == HTMX
    assert "Zero-Clause BSD" in (pages.STATIC / "htmx-licence.txt").read_text(encoding="utf-8")


@pytest.mark.parametrize("path", ["/", "/json/stack", "/static/style.css", "/nowhere"])
def test_every_answer_carries_the_rules(shared, path) -> None:
    got = shared.get(path).headers
    assert "default-src 'self'" in got["content-security-policy"]
    assert "unsafe" not in got["content-security-policy"]
    assert got["x-content-type-options"] == "nosniff"
    assert got["referrer-policy"] == "same-origin"
    assert got["cache-control"] == ("no-cache" if path.startswith("/static") else "no-store")


@pytest.mark.parametrize(
    "host", ["evil.example", "127.0.0.1.evil.example", "evil.example:8765", "", "192.168.1.20", "a b",
             "localhost@evil.example", "[::1"],
)  # fmt: skip
def test_a_foreign_name_is_refused(shared, host) -> None:
    assert refused(shared.get("/", headers={"Host": host}), 400)
    assert "Quernhope" not in shared.get("/", headers={"Host": host}).text
    assert still_up(shared)


@pytest.mark.parametrize("host", ["localhost:8765", "127.0.0.1", "LOCALHOST", "[::1]:8765"])
def test_the_names_of_this_machine_are_answered(shared, host) -> None:
    assert shared.get("/", headers={"Host": host}).status_code == 200


@pytest.mark.parametrize("token", [None, "", "guess", TOKEN + "x", "é", "\ud800"])
def test_a_form_without_the_token_is_refused(client, token) -> None:
    before = client.desk.draft
    data = {"batch": "strong", "price-soya": "430 /t", "made_from": before.digest}
    if token is not None:
        data["token"] = token.encode("utf-8", "surrogatepass").decode("latin-1")
    assert refused(client.post("/feed/keep", data=data, headers={"Origin": HERE}), 403)
    assert client.desk.draft == before
    assert still_up(client)


def test_the_token_may_be_a_header(client) -> None:
    got = client.post(
        "/undo", data={"made_from": client.desk.draft.digest},
        headers={"X-Ration-Token": TOKEN}, follow_redirects=False,
    )  # fmt: skip
    assert got.status_code == 303


@pytest.mark.parametrize(
    "headers",
    [
        {"Origin": "http://evil.example"},
        {"Origin": "null"},
        {"Origin": "http://127.0.0.1:9999"},
        {"Origin": "http://[bad"},
        {"Origin": HERE, "Sec-Fetch-Site": "cross-site"},
        {"Origin": HERE, "Sec-Fetch-Site": "same-site", "Sec-Fetch-Mode": "navigate"},
    ],
)
def test_a_form_from_another_site_is_refused_even_with_the_token(client, headers) -> None:
    before = client.desk.draft
    data = {"token": TOKEN, "made_from": before.digest, "batch": "strong", "price-soya": "430 /t"}
    assert refused(client.post("/feed/keep", data=data, headers=headers), 403)
    assert client.desk.draft == before


def test_another_site_may_link_here_but_not_fetch(shared) -> None:
    follow = {
        "Sec-Fetch-Site": "cross-site",
        "Sec-Fetch-Mode": "navigate",
        "Sec-Fetch-Dest": "document",
    }
    assert shared.get("/", headers=follow).status_code == 200
    framed = {**follow, "Sec-Fetch-Dest": "iframe"}
    assert refused(shared.get("/", headers=framed), 403)
    fetched = {"Sec-Fetch-Site": "cross-site", "Sec-Fetch-Mode": "no-cors"}
    assert refused(shared.get("/json/mix", headers=fetched), 403)


@pytest.mark.parametrize("method", ["PUT", "DELETE", "PATCH", "OPTIONS", "TRACE"])
def test_other_methods_are_refused(shared, method) -> None:
    assert refused(shared.request(method, "/"), 405)


def test_a_page_that_only_is_looked_at(client) -> None:
    assert refused(client.fill("/"), 405)
    assert refused(client.get("/undo"), 405)


# ---------------------------------------------------------------- too long, of the wrong kind


def chunks(total: int):
    sent = 0
    while sent < total:
        yield b"x" * 65536
        sent += 65536


@pytest.mark.parametrize(
    ("kind", "total"),
    [
        ("application/x-www-form-urlencoded", 300_000),
        ("multipart/form-data; boundary=b", 9_000_000),
    ],
)
def test_what_is_too_long_is_refused_while_it_is_read(client, kind, total) -> None:
    got = client.post(
        "/save", content=chunks(total), headers={"Content-Type": kind, "Origin": HERE}
    )
    assert refused(got, 413)
    assert still_up(client)


@pytest.mark.parametrize("said", ["99999999999", "-1", "many"])
def test_what_says_it_is_too_long_is_not_read(client, said) -> None:
    headers = {"Content-Type": "application/x-www-form-urlencoded", "Content-Length": said}
    assert refused(client.post("/save", content=b"", headers=headers), 413)


@pytest.mark.parametrize("kind", ["application/json", "text/plain", "", "multipart/mixed"])
def test_what_is_no_form_is_refused(client, kind) -> None:
    got = client.post("/save", content=b"{}", headers={"Content-Type": kind, "Origin": HERE})
    assert refused(got, 415)


@pytest.mark.parametrize(
    ("kind", "body"),
    [
        ("multipart/form-data", b"token=x"),
        ("multipart/form-data; boundary=b", b"--b\r\nnothing"),
        ("multipart/form-data; boundary=b", b"\x00\xff" * 50),
        ("application/x-www-form-urlencoded", b"a=1&" * 40_000),
    ],
)
def test_a_form_that_is_no_form(client, kind, body) -> None:
    got = client.post("/save", content=body, headers={"Content-Type": kind, "Origin": HERE})
    assert got.status_code in (400, 403)
    assert "Traceback" not in got.text
    assert still_up(client)


@pytest.mark.parametrize(
    "path",
    ["/static/../desk.py", "/static/%2e%2e/desk.py", "/static/..%2f..%2fdesk.py",
     "/static//etc/passwd", "/static/%2fetc%2fpasswd", "/../quernhope.yaml", "/json/../draft.txt/x",
     "/static/style.css%00.js"],
)  # fmt: skip
def test_nothing_outside_is_served(shared, path) -> None:
    got = shared.get(path)
    assert got.status_code == 404
    assert "root:" not in got.text
    assert "def " not in got.text


@pytest.mark.parametrize(
    ("name", "kept"),
    [
        ("../../etc/passwd", "passwd"),
        ("..\\..\\quotes.xlsx", "quotes.xlsx"),
        ("/abs/lab.csv", "lab.csv"),
        ("C:\\hay\\lab 1.csv", "lab 1.csv"),
        ("...", "sheet"),
        ("", "sheet"),
        (None, "sheet"),
        (".hidden.csv", "hidden.csv"),
        ("a\x00b\n.csv", "ab.csv"),
        ("<img src=x>.csv", "img srcx.csv"),
        ("é" * 300 + ".csv", "é" * 76 + ".csv"),
    ],
)
def test_a_name_sent_with_a_file(name, kept) -> None:
    assert safe_name(name) == kept


def test_our_own_fault_is_a_page_in_words(client, monkeypatch) -> None:
    from ration.page import work

    def breaks(*_: object, **__: object) -> None:
        raise ZeroDivisionError("secret detail")

    monkeypatch.setattr(work, "ration_of", breaks)
    for got in (client.get("/"), client.part("/")):
        assert got.status_code == 500
        assert "our fault" in words(got.text)
        assert "secret detail" not in got.text
        assert "Traceback" not in got.text
    monkeypatch.undo()
    assert still_up(client)


def test_a_word_that_is_longer_than_any_address(shared) -> None:
    assert shared.get("/?batch=" + "x" * 20_000).status_code == 200


# ---------------------------------------------------------------- sharing with a phone


def ticking(start: float = 0.0):
    now = [start]
    return now, lambda: now[0]


def test_a_phone_types_the_code_once(farm) -> None:
    codes = iter(["1234 5678", "8765 4321", "0000 0000"])
    phone = browser(
        farm, client=PHONE, base=SHARED, hosts=("192.168.1.20",), code=lambda: next(codes)
    )
    at_gate = phone.get("/", follow_redirects=False)
    assert (at_gate.status_code, at_gate.headers["location"]) == (303, "/code")
    asked = phone.get("/json/mix")
    assert "Type the code" in asked.text
    assert "Quernhope" not in asked.text
    assert "quernhope" not in asked.text
    wrong = phone.post("/code", data={"code": "1111 1111"})
    assert wrong.status_code == 403
    right = phone.post("/code", data={"code": " 12345678"}, follow_redirects=False)
    assert right.status_code == 303
    cookie = right.headers["set-cookie"].lower()
    assert "httponly" in cookie
    assert "samesite=strict" in cookie
    assert TOKEN not in cookie
    assert "What do I feed?" in phone.get("/").text
    other = browser(farm, client="192.168.1.78", base=SHARED, hosts=("192.168.1.20",))
    other.app = phone.app
    phone.cookies.clear()
    again = phone.post("/code", data={"code": "12345678"})
    assert again.status_code == 403, "a code works once"
    assert phone.post("/code", data={"code": "87654321"}, follow_redirects=False).status_code == 303


def test_a_phone_without_the_code_changes_nothing(farm) -> None:
    phone = browser(farm, client=PHONE, base=SHARED, hosts=("192.168.1.20",), code="1")
    got = phone.fill("/feed/keep", batch="strong", **{"price-soya": "430 /t"})
    assert got.status_code == 303
    assert got.headers["location"] == "/code"
    assert phone.desk.draft.is_saved
    phone.cookies.set("ration_page", "guess")
    assert phone.get("/", follow_redirects=False).status_code == 303


def test_this_machine_needs_no_code(farm) -> None:
    here = browser(farm, hosts=("192.168.1.20",), code="1234")
    assert here.get("/").status_code == 200
    assert here.get("/code", follow_redirects=False).headers["location"] == "/"


def test_nobody_else_is_let_in_when_nothing_is_shared(farm) -> None:
    phone = browser(farm, client=PHONE)
    assert phone.get("/", follow_redirects=False).headers["location"] == "/code"
    assert phone.post("/code", data={"code": ""}).status_code == 403
    assert phone.post("/code", data={"code": "None"}).status_code == 403


def test_too_many_wrong_codes_must_wait() -> None:
    now, clock = ticking()
    gate = Gate("t", "1234", clock)
    assert [gate.opens(str(i)) for i in range(5)] == [False] * 5
    assert not gate.opens("1234"), "not even the right one"
    now[0] += 59
    assert not gate.opens("1234")
    now[0] += 2
    assert gate.opens("1234")
    assert not gate.opens("1234")

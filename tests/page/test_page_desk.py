"""What is kept, taken back and saved; two windows at once; the file changed elsewhere."""

from __future__ import annotations

import threading

import pytest
from page_browser import browser, words

from ration.errors import InputError
from ration.farm.write import digest_of
from ration.page.desk import Desk, Edit, Stale

HAY = {"hay": "bottom-ings", "batch": "strong", "protein": "6.9"}
SOYA = ("feeds", "soya", "price")


def lines_that_differ(a: str, b: str) -> list[str]:
    return [line for line in b.splitlines() if line not in a.splitlines()]


def test_keep_writes_one_line_and_shows_it(client, farm) -> None:
    before = farm.read_text(encoding="utf-8")
    got = client.fill("/hay/keep", **HAY)
    assert got.status_code == 303
    after = client.get(got.headers["location"])
    assert "is new: protein: 6.9 % ." in words(after.text)
    assert "changes not saved yet" in words(after.text)
    assert lines_that_differ(before, client.desk.draft.text) == ["    protein: 6.9 %"]
    assert farm.read_text(encoding="utf-8") == before, "nothing on disk before it is saved"


def test_the_line_told_is_where_it_stands_when_two_are_added(client) -> None:
    client.fill("/hay/keep", **HAY, energy="8.2")
    lines = client.desk.draft.text.splitlines()
    for change in client.desk.last[1]:
        assert lines[change.line - 1] == change.line_after.rstrip("\n")


def test_undo_and_redo(client, farm) -> None:
    before = client.desk.draft.text
    client.fill("/hay/keep", **HAY)
    kept = client.desk.draft.text
    assert client.fill("/undo", back="/hay").headers["location"] == "/hay"
    assert client.desk.draft.text == before
    client.fill("/redo")
    assert client.desk.draft.text == kept
    for _ in range(3):
        client.fill("/undo")
    assert client.desk.draft.text == before


def test_save_keeps_every_remark_and_all_else(client, farm) -> None:
    before = farm.read_text(encoding="utf-8")
    client.fill("/feed/keep", batch="strong", **{"price-soya": "430 /t"})
    client.fill("/save")
    after = farm.read_text(encoding="utf-8")
    assert after == before.replace("price: 398 /t", "price: 430 /t")
    assert after.count("#") == before.count("#")
    assert client.desk.draft.is_saved
    assert "all saved" in words(client.get("/").text)
    client.fill("/undo")
    client.fill("/save")
    assert farm.read_text(encoding="utf-8") == before


def test_a_target_gives_way_to_a_gain_in_the_file(client) -> None:
    client.fill("/feed/keep", batch="strong", target="", gain="40 g")
    batch = client.desk.read().sheet.group(("batches", "strong"))
    assert batch["gain"] == "40 g"
    assert "target" not in batch


def test_nothing_with_a_fault_is_written(client) -> None:
    before = client.desk.draft
    got = client.fill("/feed/keep", batch="strong", **{"price-soya": "cheap"})
    assert got.status_code == 422
    assert "price must start with a number" in words(got.text)
    assert client.desk.draft == before


@pytest.mark.parametrize(
    "value", ["430 /t # gone", "430 /t: x", '"430 /t', "- 430", "no", "~", "#"]
)
def test_a_value_stays_a_value(client, value) -> None:
    before = client.desk.draft.text
    client.fill("/feed/keep", batch="strong", **{"price-soya": value})
    assert client.desk.draft.text == before, "the reader knows no such price"


@pytest.mark.parametrize(
    "back", ["//evil.example/", "https://evil.example", "/\\evil.example", "x"]
)
def test_the_way_back_is_ours(client, back) -> None:
    assert client.fill("/undo", back=back).headers["location"] == "/"


# ---------------------------------------------------------------- two windows


def test_two_windows_lose_nothing(client) -> None:
    first = client.desk.draft.digest
    client.fill("/feed/keep", batch="strong", made_from=first, **{"price-soya": "430 /t"})
    late = client.fill("/feed/keep", batch="strong", made_from=first, **{"price-soya": "450 /t"})
    assert late.status_code == 409
    told = words(late.text)
    assert "Nothing of yours was written" in told
    assert "450 /t 430 /t" in told, "both values side by side"
    assert client.desk.read().written(SOYA) == "430 /t"
    again = client.fill("/feed/keep", batch="strong", **{"price-soya": "450 /t"})
    assert again.status_code == 303, "put mine in"
    assert client.desk.read().written(SOYA) == "450 /t"


def test_an_old_form_asks_only_for_what_was_typed_in_it(client) -> None:
    first = client.desk.draft.digest
    client.fill("/feed/keep", batch="strong", **{"price-soya": "430 /t"})
    late = client.fill(
        "/feed/keep", batch="strong", made_from=first,
        **{"price-soya": "398 /t", "price-barley-straw": "95 /t"},
    )  # fmt: skip
    assert late.status_code == 409
    rows = late.text.partition("<tbody>")[2]
    assert "soya" not in rows, "its box was not touched"
    assert "95 /t 92 /t" in words(late.text)


def test_looking_from_an_old_window_says_so(client) -> None:
    first = client.desk.draft.digest
    client.fill("/feed/keep", batch="strong", **{"price-soya": "430 /t"})
    got = client.part(
        f"/?batch=strong&made_from={first}&price-soya=398+/t&price-barley-straw=92+/t"
    )
    assert got.status_code == 200
    assert "changed in another window" in words(got.text)
    assert "What changed" not in got.text


@pytest.mark.parametrize("path", ["/undo", "/redo", "/save"])
def test_an_old_window_neither_takes_back_nor_saves(client, farm, path) -> None:
    first, on_disk = client.desk.draft.digest, farm.read_bytes()
    client.fill("/feed/keep", batch="strong", **{"price-soya": "430 /t"})
    kept = client.desk.draft.text
    assert client.fill(path, made_from=first).status_code == 409
    assert client.desk.draft.text == kept
    assert farm.read_bytes() == on_disk


def test_many_hands_at_once_lose_nothing(farm) -> None:
    desk, refused, done = Desk(farm), [], []

    def change(i: int) -> None:
        for n in range(6):
            try:
                desk.change([Edit(SOYA, f"{400 + 10 * i + n} /t")], desk.draft.digest)
                done.append((i, n))
            except Stale:
                refused.append((i, n))

    hands = [threading.Thread(target=change, args=(i,)) for i in range(4)]
    for hand in hands:
        hand.start()
    for hand in hands:
        hand.join()
    assert len(done) + len(refused) == 24
    steps = 0
    while desk.step("undo", desk.draft.digest):
        steps += 1
    assert steps == len(done), "each change that was taken can be taken back"
    assert desk.draft.text == farm.read_text(encoding="utf-8")


# ---------------------------------------------------------------- the file changed elsewhere


def test_a_file_changed_elsewhere_is_read_again_when_nothing_is_lost(client, farm) -> None:
    client.get("/")
    text = farm.read_text(encoding="utf-8").replace("398 /t", "401.5 /t")
    farm.write_text(text, encoding="utf-8")
    assert 'value="401.5 /t"' in client.get("/").text


def test_a_file_changed_elsewhere_is_not_written_over(client, farm) -> None:
    client.fill("/feed/keep", batch="strong", **{"price-soya": "430 /t"})
    text = farm.read_text(encoding="utf-8").replace("178 /t", "180 /t")
    farm.write_text(text, encoding="utf-8")
    assert "changed by something else" in words(client.get("/").text)
    got = client.fill("/save")
    assert got.status_code == 409
    assert "180 /t" in words(got.text)
    assert farm.read_text(encoding="utf-8") == text
    assert "430 /t" in client.get("/draft.txt").text, "mine is still there"
    client.fill("/read-again")
    assert client.desk.draft.text == text


def test_a_file_that_is_gone(client, farm) -> None:
    client.fill("/feed/keep", batch="strong", **{"price-soya": "430 /t"})
    farm.unlink()
    assert client.get("/").status_code == 200
    assert client.fill("/save").status_code == 409
    assert "430 /t" in client.get("/draft.txt").text


def test_a_sheet_changed_on_disk_changes_the_answer(client, farm) -> None:
    client.desk.change(
        [Edit(("feeds", "bottom ings", "analysis"), "bottom-ings-2026-11-16.csv")],
        client.desk.draft.digest,
    )
    first = client.desk.read()
    protein = {o.id: o for o in first.farm.offers}["bottom-ings"].feed["cp_g_per_kg_dm"]
    sheet = farm.parent / "bottom-ings-2026-11-16.csv"
    sheet.write_text(sheet.read_text(encoding="utf-8").replace("6.9", "7.4"), encoding="utf-8")
    then = {o.id: o for o in client.desk.read().farm.offers}["bottom-ings"].feed["cp_g_per_kg_dm"]
    assert (round(protein), round(then)) == (69, 74)


# ---------------------------------------------------------------- the desk itself


def test_work_is_done_once(client) -> None:
    read, count = client.desk.read(), []
    for _ in range(3):
        assert client.desk.once(read, "x", lambda: count.append(1) or 7) == 7
    assert len(count) == 1


def test_work_that_fails_is_tried_again(client) -> None:
    read, count = client.desk.read(), []

    def fails() -> None:
        count.append(1)
        raise InputError("no")

    for _ in range(2):
        with pytest.raises(InputError):
            client.desk.once(read, "y", fails)
    assert len(count) == 2


def test_long_work_keeps_nobody_waiting(client) -> None:
    read, gate = client.desk.read(), threading.Event()
    long = threading.Thread(
        target=lambda: client.desk.once(read, "long", lambda: gate.wait(10), is_long=True)
    )
    long.start()
    try:
        assert client.desk.once(read, "short", lambda: 1) == 1
        assert not gate.is_set()
    finally:
        gate.set()
        long.join()


def test_a_mark_at_the_start_and_line_ends_stay(farm) -> None:
    text = farm.read_text(encoding="utf-8")
    raw = b"\xef\xbb\xbf" + text.replace("\n", "\r\n").encode()
    farm.write_bytes(raw)
    page = browser(farm)
    page.fill("/feed/keep", batch="strong", **{"price-soya": "430 /t"})
    assert page.fill("/save").status_code == 303
    assert farm.read_bytes() == raw.replace(b"398 /t", b"430 /t")


def test_a_draft_is_known_by_the_digest_of_the_saved_file(client, farm) -> None:
    assert client.desk.draft.digest == digest_of(farm.read_bytes().decode())

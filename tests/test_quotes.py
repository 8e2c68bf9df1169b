"""Merchants' quotes read: the demo's four merchants from a tidy and from messy sheets, and each rule.

The merchants, prices and animals are invented. Expected numbers are arithmetic on them, facts of
the trade (common practice, no source) or laws named where they stand.
"""

from __future__ import annotations

import io
import struct
import subprocess
import sys
from dataclasses import replace
from datetime import date
from pathlib import Path
from typing import Any

import pandas as pd
import pytest
from test_quotes_hostile import HEAD, ROW, ROW2, F, N, book, ods, ods_table, put, text

from ration import quotes
from ration.errors import InputError
from ration.quotes import books, child, headings, phrases
from ration.quotes.records import BAG, BALE, BULK, TONNE_BAG, Quote

DEMO = Path(__file__).parent / "data" / "quotes" / "orrowmoss-september.csv"
FIRST = date(2026, 9, 1)


def only(*rows: list[Any]) -> Quote:
    """The only quote of a CSV text of these rows."""
    (found,) = quotes.read_text(text(*rows), "q.csv").quotes
    return found


def with_column(heading: str, cell: Any, **changes: Any) -> Quote:
    row = [changes.get(h, c) for h, c in zip(HEAD, ROW, strict=True)]
    return only([*HEAD, heading], [*row, cell])


# ---------------------------------------------------------------- the demo's sheet


@pytest.fixture(scope="module")
def demo() -> quotes.QuoteSheet:
    return quotes.read(DEMO)


def test_a_tidy_sheet_leaves_no_questions(demo: quotes.QuoteSheet) -> None:
    assert demo.questions == () and demo.not_read == ()
    assert all(words != "not read" for _, words in demo.columns)
    assert demo.file == DEMO.name


def test_heron(demo: quotes.QuoteSheet) -> None:
    """296/t; 287 from 15 t; 280 from 29 t; 95 a drop; min 3 t; 28 days; valid 21 days."""
    bulk, bagged = demo.quotes[:2]
    assert [(t.from_t, t.price_gbp_per_t_fresh) for t in bulk.tiers] == [
        (0, 296),
        (15, 287),
        (29, 280),
    ]
    assert (bulk.pack, bulk.least_drop_t, bulk.drop_charge_gbp, bulk.payment_days) == (
        BULK,
        3,
        95,
        28,
    )
    assert (bulk.valid_from, bulk.valid_until) == (FIRST, date(2026, 9, 22))
    assert not bulk.is_collected and bagged.is_collected
    assert bagged.tiers[0].price_gbp_per_t_fresh == 338 and bagged.pack_kg == 25


def test_plover_dipper_and_snipe(demo: quotes.QuoteSheet) -> None:
    plover, dipper, snipe = demo.quotes[2:]
    # an artic is 44 t laden: Road Vehicles (Authorised Weight) Regulations 1998, from memory
    assert (plover.least_drop_t, plover.lorry_t, plover.cash_off_gbp_per_t) == (10, 44, 4)
    # 7.35 a 25 kg bag is 40 x 7.35 a tonne
    assert dipper.tiers[0].price_gbp_per_t_fresh == pytest.approx(40 * 7.35) == 294
    assert (dipper.pack, dipper.packs_per_pallet, dipper.copper_mg_per_kg_fresh) == (BAG, 22, 18)
    assert (snipe.rise_gbp_per_t_month, snipe.rise_from) == (6, date(2026, 12, 1))
    assert snipe.declared["cp_g_per_kg_fresh"].value == 200
    assert snipe.declared["cp_g_per_kg_fresh"].mark == "label"


def bare(quote: Quote) -> Quote:
    """A quote without its place and the origin of its figures."""
    declared = {k: replace(f, place="", source="") for k, f in quote.declared.items()}
    return replace(quote, place="", note="", declared=declared)


HERON_SHEET: list[list[Any]] = [
    ["HERON FEEDS", None, None],
    ["Date: 1 September 2026", None, "Valid for: 21 days"],
    ["Payment terms", "28 days"],
    [],
    ["Product", "Pack", "Our price\n£/t", "£/t 15t+", "£/t (29 t and over)", "Min. drop (t)",
     "Charge per drop", "Del or collect", "C.P. %", "For", "Like"],
    ["18 % hogg cubes", "blown", N(296, "[$£-809]#,##0.00"), 287, "£280.00", 3, N(95, '"£"0'),
     "delivered", N(0.18, "0.0%"), "sheep", "cubes-18"],
    [],
    ["18 % hogg cubes", "25kg bags", F("=2*169", 338), None, "n/a", "none", "nil", "ex-store", 18,
     "sheep", "cubes-18"],
    ["Total", None, 634],
    ["Prices exclude VAT"],
    ["* E & OE"],
]  # fmt: skip
OTHERS: list[list[Any]] = [
    ["Quotes of 1/9/2026, all ex VAT and delivered"],
    ["Supplier", "Product", "Quote", "Sold by", "Bags/pallet", "Minimum load (t)", "Drop charge £",
     "Lorry", "Cash with order (£/t)", "Quote date", "Monthly rise", "VAT", "Delivery", "Protein",
     "Cu (mg/kg)", "Species", "Like feed", "Pack"],
    ["Plover", "18 % hogg cubes", "£283", "tonne", None, "10 t", None, "artic only", "£4", "1/9/2026",
     None, "ex", "delivered", "18%", None, "sheep", "cubes-18", "tipped"],
    ["Dipper", "18 % hogg cubes", "£7.35", "25 kg bag", "22 per pallet", "no minimum", None, None, None,
     "2026-09-01", None, "ex", "del", "18 %", 18, "Sheep", "cubes-18", None],
    ["Snipe", "20 % hogg cubes", "309.00", "t", None, "3", "60", None, None, "1 Sept 2026",
     "+6/t a month from December", "ex VAT", "delivered", "200 g/kg", None, "sheep", "cubes-18", "bulk"],
]  # fmt: skip


def test_the_same_quotes_from_a_messy_workbook(demo: quotes.QuoteSheet, tmp_path: Path) -> None:
    made = book(("Heron", HERON_SHEET), ("Others", OTHERS), ("Terms", [["Our terms"], ["28 days"]]),
                merges=())  # fmt: skip
    sheet = quotes.read(put(tmp_path, "xlsx", made))
    assert [bare(q) for q in sheet.quotes] == [bare(q) for q in demo.quotes]
    assert sheet.questions == ()
    for words in ("HERON FEEDS", "a total", "E & OE", "Terms", "Quotes of 1/9/2026"):
        assert any(words in line for line in sheet.not_read), words
    assert ('sheet "Heron"', "merchant, by the name of the sheet") in sheet.columns


def test_the_same_quotes_from_an_opendocument_sheet(
    demo: quotes.QuoteSheet, tmp_path: Path
) -> None:
    made = ods(ods_table(plain_values(OTHERS), "Others"))
    sheet = quotes.read(put(tmp_path, "ods", made))
    assert [bare(q) for q in sheet.quotes] == [bare(q) for q in demo.quotes[2:]]


def plain_values(rows: list[list[Any]]) -> list[list[Any]]:
    return [[v.value if isinstance(v, F | N) else v for v in r] for r in rows]


def test_prices_of_a_workbook_agree_with_another_reader(tmp_path: Path) -> None:
    """pandas reads the same cells of the same file."""
    path = put(tmp_path, "xlsx", book(("Prices", [HEAD, ROW, ROW2])))
    other = pd.read_excel(path, sheet_name="Prices", engine="openpyxl")
    ours = quotes.frame(quotes.read(path))
    assert list(ours["price_gbp_per_t_fresh"]) == list(other["price (GBP/t)"])
    assert list(ours["least_drop_t"]) == list(other["least drop (t)"])
    assert list(ours["merchant"]) == list(other["merchant"])


def test_the_demo_agrees_with_another_reader(demo: quotes.QuoteSheet) -> None:
    other = pd.read_csv(DEMO, dtype=str, keep_default_na=False)
    assert list(other["merchant"]) == [q.merchant for q in demo.quotes]
    assert list(other["feed"]) == [q.feed for q in demo.quotes]
    assert [p.split()[0].rstrip(";") for p in other["price (GBP/t)"]] == [
        "296",
        "338",
        "283",
        "7.35",
        "309",
    ]


def test_frame_has_a_row_a_tier(demo: quotes.QuoteSheet) -> None:
    made = quotes.frame(demo)
    assert len(made) == 7
    assert list(made["from_t"][:3]) == [0, 15, 29]
    assert made["cp_g_per_kg_fresh"].tolist()[-1] == 200
    assert quotes.frame(quotes.QuoteSheet("none", ())).empty


# ---------------------------------------------------------------- prices, packs and tiers


@pytest.mark.parametrize(
    ("cell", "gbp_per_t", "pack", "kg"),
    [
        ("8.35 per 20 kg bag", 417.5, BAG, 20.0),
        ("5.60 per 18 kg bale", 5600 / 18, BALE, 18.0),
        ("0.74/kg", 740.0, BULK, None),
        ("74 p/kg", 740.0, BULK, None),
        ("318/t in tonne bags", 318.0, TONNE_BAG, 1000.0),
        ("£160 per 500 kg bag", 320.0, TONNE_BAG, 500.0),
        ("29.11 per 100 kg", 291.1, BULK, None),
        ("291/t blown", 291.0, BULK, None),
    ],
)
def test_prices_with_their_unit(cell: str, gbp_per_t: float, pack: str, kg: float | None) -> None:
    found = only(["merchant", "feed", "price"], ["A", "b", cell])
    assert found.tiers[0].price_gbp_per_t_fresh == pytest.approx(gbp_per_t)
    assert (found.pack, found.pack_kg) == (pack, kg)


def test_a_hundredweight_is_112_lb_of_0_45359237_kg() -> None:
    """Weights and Measures Act 1985, schedule 1."""
    found = only(["merchant", "feed", "price"], ["A", "b", "15 per cwt"])
    assert found.tiers[0].price_gbp_per_t_fresh == pytest.approx(15_000 / (112 * 0.45359237))


@pytest.mark.parametrize(
    ("cell", "pack", "kg"),
    [("bulk", BULK, None), ("tipped", BULK, None), ("tonne bag", TONNE_BAG, 1000.0), ("25kg", BAG, 25.0),
     ("20 kg sacks", BAG, 20.0), ("bags of 25 kg", BAG, 25.0), ("18 kg bale", BALE, 18.0),
     ("600 kg bags", TONNE_BAG, 600.0), ("20 kg buckets", BAG, 20.0)],
)  # fmt: skip
def test_packs(cell: str, pack: str, kg: float | None) -> None:
    found = with_column("note", "", pack=cell)
    assert (found.pack, found.pack_kg) == (pack, kg)


def test_tiers_take_their_conditions_from_the_first_row() -> None:
    rows = [[*HEAD, "from (t)", "drop charge (GBP)"], [*ROW, "", 95],
            ["Heron", "18 % hogg cubes", 287, "", "", "", "", 15, ""],
            ["heron ", "18 % Hogg cubes", 280, 3, "ex", "delivered", "bulk", 29, 95]]  # fmt: skip
    found = only(*rows)
    assert [t.from_t for t in found.tiers] == [0, 15, 29]
    assert found.drop_charge_gbp == 95 and found.place == "q.csv rows 2, 3, 4"


def test_a_first_tier_at_the_least_drop_is_no_gap() -> None:
    found = only([*HEAD, "from (t)"], [*ROW, 3], [*ROW[:2], 287, *ROW[3:], 15])
    assert [t.from_t for t in found.tiers] == [0, 15]


def test_vat_is_taken_off_only_at_a_rate_that_is_said() -> None:
    found = only(HEAD, [*ROW[:2], 240, 3, "inc 20 %", *ROW[5:]])
    assert found.tiers[0].price_gbp_per_t_fresh == pytest.approx(200) and found.is_ex_vat
    assert "VAT at 20 %" in found.note


# ---------------------------------------------------------------- conditions


@pytest.mark.parametrize(
    ("heading", "cell", "name", "value"),
    [
        ("least load (t)", "", "least_drop_t", 3),
        ("most drop (t)", "20", "most_drop_t", 20),
        ("drop charge (GBP)", "£95", "drop_charge_gbp", 95),
        ("charge per drop", "95 a drop", "drop_charge_gbp", 95),
        ("lorry", "18 t rigid", "lorry_t", 18),
        ("lorry", "artic", "lorry_t", 44),
        ("all there is (t)", "6 t only", "most_t", 6),
        ("haulage (GBP/t)", "12.50", "haulage_gbp_per_t", 12.5),
        ("haulage", "£12.50 per tonne", "haulage_gbp_per_t", 12.5),
        ("cash off (GBP/t)", 4, "cash_off_gbp_per_t", 4),
        ("payment (days)", 28, "payment_days", 28),
        ("payment terms", "28 days net", "payment_days", 28),
        ("payment", "cash with order", "payment_days", 0),
        ("valid from", "1/9/2026", "valid_from", FIRST),
        ("valid until", "30 Sept 2026", "valid_until", date(2026, 9, 30)),
        ("expiry date", "2026-09-30", "valid_until", date(2026, 9, 30)),
        ("delivered until", "30 November 2026", "delivered_until", date(2026, 11, 30)),
        ("made for", "cattle", "made_for", "cattle"),
        ("made for", "cattle and sheep", "made_for", ""),
        ("species", "Dairy cows", "made_for", "cattle"),
        ("like", "cubes-18", "like", "cubes-18"),
        ("note", "ring first", "note", "ring first"),
        ("Depot", "North", "note", "Depot: North"),
    ],
)
def test_conditions(heading: str, cell: Any, name: str, value: Any) -> None:
    assert (
        getattr(
            with_column(heading, cell) if heading != "least load (t)" else only(HEAD, ROW), name
        )
        == value
    )


def test_a_pallet_as_the_least_drop() -> None:
    """40 bags of 25 kg are a tonne."""
    found = with_column("bags a pallet", 40, **{"least drop (t)": "1 pallet", "pack": "25 kg bag"})
    assert found.least_drop_t == pytest.approx(1.0) and found.packs_per_pallet == 40


@pytest.mark.parametrize(("dated", "first"), [("1 September 2026", 2026), ("1 December 2026", 2026), ("5 January 2027", 2027)])  # fmt: skip
def test_a_month_is_the_next_one_from_the_date_of_the_quote(dated: str, first: int) -> None:
    found = only([*HEAD, "dated", "rise (GBP/t/month)", "rise from"], [*ROW, dated, 6, "December"])
    assert found.rise_from == date(first, 12, 1)


def test_dates_of_a_workbook(tmp_path: Path) -> None:
    made = book([[*HEAD, "valid until"], [*ROW, N(46295, "dd/mm/yyyy")]])  # counted from 30.12.1899
    (found,) = quotes.read(put(tmp_path, "xlsx", made)).quotes
    assert found.valid_until == date(1899, 12, 30) + pd.Timedelta(days=46295).to_pytimedelta()


def test_one_sheet_of_a_workbook(tmp_path: Path) -> None:
    path = put(tmp_path, "xlsx", book(("Now", [HEAD, ROW]), ("Old", [HEAD, ROW2]), hide="Old"))
    assert [q.feed for q in quotes.read(path).quotes] == [ROW[1]]
    old = quotes.read(path, sheet="old")
    assert [q.feed for q in old.quotes] == [ROW2[1]] and "not asked for" in old.not_read[0]
    with pytest.raises(InputError, match='there is no sheet "Next"'):
        quotes.read(path, sheet="Next")


# ---------------------------------------------------------------- declared figures


def test_label_figures_are_as_fed_until_the_dry_matter_is_known() -> None:
    found = with_column("protein (%)", 18)
    assert found.declared["cp_g_per_kg_fresh"].value == 180
    assert "cp_g_per_kg_dm" not in found.declared


def test_label_figures_over_the_declared_dry_matter() -> None:
    found = only(
        [*HEAD, "dry matter (%)", "CP %", "Copper (mg/kg)", "Ca g/kg DM"], [*ROW, 87, 18, 12, 9]
    )
    assert found.declared["dm_g_per_kg_fresh"].value == 870
    assert found.declared["cp_g_per_kg_dm"].value == pytest.approx(180 / 0.87)
    assert found.declared["cu_mg_per_kg_dm"].value == pytest.approx(12 / 0.87)
    assert found.declared["ca_g_per_kg_dm"].value == 9
    assert found.copper_mg_per_kg_fresh == 12


def test_moisture_is_what_is_not_dry_matter() -> None:
    found = only([*HEAD, "moisture (%)", "CP % DM"], [*ROW, 14, 20])
    assert found.declared["dm_g_per_kg_fresh"].value == pytest.approx(860)
    assert found.declared["cp_g_per_kg_dm"].value == 200


def test_copper_of_the_dry_matter_needs_the_dry_matter_to_be_as_fed() -> None:
    """15 mg/kg at 12 % moisture is 17.05 mg/kg DM; Regulation (EU) 2018/1039, from memory."""
    found = only([*HEAD, "DM %", "Cu mg/kg DM"], [*ROW, 88, 17.05])
    assert found.copper_mg_per_kg_fresh == pytest.approx(15, abs=0.01)
    alone = with_column("Cu mg/kg DM", 17)
    assert alone.copper_mg_per_kg_fresh is None and alone.declared["cu_mg_per_kg_dm"].value == 17


def test_all_named_figures_are_known() -> None:
    cells = {
        "dry matter (%)": "87", "energy": "12.5 MJ/kg DM", "oil (%)": "4", "fibre (NDF) (%)": "25",
        "ash (%)": "8", "calcium (%)": "0.9", "phosphorus (%)": "0.5", "magnesium (%)": "0.3",
        "copper (mg/kg)": "12",
    }  # fmt: skip
    found = only([*HEAD, *cells], [*ROW, *cells.values()])
    assert set(found.declared) == {
        "dm_g_per_kg_fresh", "me_mj_per_kg_dm", "oil_g_per_kg_dm", "ndf_g_per_kg_dm",
        "ash_g_per_kg_dm", "ca_g_per_kg_dm", "p_g_per_kg_dm", "mg_g_per_kg_dm", "cu_mg_per_kg_dm",
    }  # fmt: skip
    assert found.declared["me_mj_per_kg_dm"].value == 12.5


# ---------------------------------------------------------------- headings


@pytest.mark.parametrize(
    ("written", "words"),
    [
        ("Price £/t", "price per tonne"),
        ("GBP per bag (20kg)", "price per bag of 20 kg"),
        ("Delivered £/t ex VAT", "price per tonne, delivered, ex VAT"),
        ("Ex-farm £/t", "price per tonne, collected"),
        ("p/kg", "price per 1 kg"),
        ("£/t 15t+", "price per tonne, from 15 t"),
        ("CP %", "protein, % as fed"),
        ("Crude protein (% DM)", "protein, % in DM"),
        ("Min drop (t)", "least drop [t]"),
        ("Rise (GBP/t/month)", "rise a month [gbp/t/month]"),
        ("Delivery £/t", "not read"),
        ("Fibre %", "not read"),
        ("Sum", "not read"),
        ("t", "not read"),
    ],
)
def test_headings(written: str, words: str) -> None:
    assert headings.read_heading(written).words == words


def test_every_meaning_has_words_and_a_reader() -> None:
    from ration.quotes.cells import READERS

    assert set(headings.NAMES.values()) == set(headings.WORDS) == set(READERS)


def test_every_column_of_the_description_is_known() -> None:
    """The headings that the package's own words promise."""
    described = quotes.__doc__.split("====\n")[1].splitlines()  # type: ignore[union-attr]
    names = [line[:20].strip() for line in described if line[:1] not in (" ", "=", "")]
    names = [
        "delivered or collected" if n == "delivered or" else n for n in names if n != "collected"
    ]
    names = [n.removesuffix(" ...") for n in names]
    assert len(names) > 20
    for name in names:
        assert headings.read_heading(name).meaning, name


@pytest.mark.parametrize(
    ("written", "comma", "read"),
    [("248,00", True, "248.00"), ("1.010,50", True, "1010.50"), ("1,010", False, "1010"),
     ("1,010.50", True, "1010.50"), ("0,680", False, "0.680"), ("13,2", False, "13.2"), ("296", True, "296")],
)  # fmt: skip
def test_numbers_with_commas(written: str, comma: bool, read: str) -> None:
    assert phrases.pointed(written, comma=comma) == read


# ---------------------------------------------------------------- the child process


def test_the_child_is_not_led_astray_by_the_folder_it_runs_in(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    for name in ("json.py", "python_calamine.py", "datetime.py"):
        (tmp_path / name).write_text("raise SystemExit('led astray')")
    monkeypatch.chdir(tmp_path)
    path = put(tmp_path, "ods", ods(ods_table([HEAD, ROW])))
    assert len(quotes.read(path.name).quotes) == 1


@pytest.mark.parametrize(
    ("script", "words"),
    [
        ("import os; os.abort()", "damaged, or far too large"),
        ("raise SystemExit(3)", "damaged, or far too large"),
        ("import sys; sys.stdout.write('{')", "damaged, or far too large"),
        ("x = bytearray(1 << 34)", "damaged, or far too large"),
        ("import time; time.sleep(30)", "took more than 1 s"),
    ],
)
def test_a_child_that_dies_is_one_line(
    script: str, words: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    made = tmp_path / "child.py"
    lines = Path(child.__file__).read_text().split('if __name__ == "__main__":')[0]
    made.write_text(f"{lines}\nhold_back(1, 1 << 28)\n{script}\n")
    monkeypatch.setattr(child, "__file__", str(made))
    monkeypatch.setattr(books, "CHILD_SECONDS", 1)
    path = put(tmp_path, "ods", ods(ods_table([HEAD, ROW])))
    with pytest.raises(InputError, match=words) as caught:
        quotes.read(path)
    assert len(caught.value.problems) == 1


@pytest.mark.skipif(sys.platform == "win32", reason="Windows has no limits on a process's memory")
def test_the_child_is_held_back() -> None:
    script = "from ration.quotes import child; child.hold_back(20, 1 << 30); bytearray(3 << 29)"
    done = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True)
    assert "MemoryError" in done.stderr


def old_workbook(rows: list[list[str | float]]) -> bytes:
    """A .xls of one sheet, by the published layouts of Microsoft: [MS-XLS] and [MS-CFB], from memory."""

    def record(kind: int, body: bytes) -> bytes:
        return struct.pack("<HH", kind, len(body)) + body

    def start(kind: int) -> bytes:
        return record(0x0809, struct.pack("<HHHHII", 0x0600, kind, 0, 1997, 0, 6))

    cells = b""
    for r, row in enumerate(rows):
        for c, value in enumerate(row):
            at = struct.pack("<HHH", r, c, 0)
            if isinstance(value, str):
                cells += record(
                    0x0204, at + struct.pack("<HB", len(value), 0) + value.encode("latin-1")
                )
            else:
                cells += record(0x0203, at + struct.pack("<d", value))
    sheet = start(0x0010) + record(0x0200, struct.pack("<IIHHH", 0, len(rows), 0, 9, 0)) + cells
    sheet += record(0x000A, b"")
    name = b"\x06\0Prices"
    size = len(start(5)) + len(record(0x0085, b"\0" * 6 + name)) + 4
    book = start(5) + record(0x0085, struct.pack("<IBB", size, 0, 0) + name) + record(0x000A, b"")
    stream = (book + sheet).ljust(4096, b"\0")
    stream += b"\0" * (-len(stream) % 512)
    n = len(stream) // 512
    fat = [0xFFFFFFFD, 0xFFFFFFFE, *range(3, n + 2), 0xFFFFFFFE]
    fat += [0xFFFFFFFF] * (128 - len(fat))

    def entry(title: str, kind: int, below: int, first: int, length: int) -> bytes:
        wide = title.encode("utf-16-le") + b"\0\0"
        return (
            wide.ljust(64, b"\0")
            + struct.pack(
                "<HBBIII", len(wide) if title else 0, kind, 1, 0xFFFFFFFF, 0xFFFFFFFF, below
            )
            + b"\0" * 36
            + struct.pack("<IQ", first, length)
        )

    folder = entry("Root Entry", 5, 1, 0xFFFFFFFE, 0) + entry(
        "Workbook", 2, 0xFFFFFFFF, 2, len(stream)
    )
    folder += entry("", 0, 0xFFFFFFFF, 0, 0) * 2
    head = b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + b"\0" * 16
    head += struct.pack(
        "<HHHHH6xIIIIIIIII", 0x3E, 3, 0xFFFE, 9, 6, 0, 1, 1, 0, 4096, 0xFFFFFFFE, 0, 0xFFFFFFFE, 0
    )
    head += struct.pack("<109I", 0, *[0xFFFFFFFF] * 108)
    return head + struct.pack("<128I", *fat) + folder + stream


def test_an_old_workbook(tmp_path: Path) -> None:
    path = put(tmp_path, "xls", old_workbook([list(HEAD), list(ROW), list(ROW2)]))
    sheet = quotes.read(path)
    assert [q.tiers[0].price_gbp_per_t_fresh for q in sheet.quotes] == [296, 211]
    assert sheet.quotes[0].place == 'quotes.xls sheet "Prices" row 2'


def test_reading_twice_gives_the_same(demo: quotes.QuoteSheet) -> None:
    assert quotes.read(DEMO) == demo
    assert quotes.read_text(DEMO.read_text(encoding="utf-8"), DEMO.name) == demo


def test_one_more_row_changes_no_other() -> None:
    few = quotes.read_text(text(HEAD, ROW), "q.csv").quotes
    more = quotes.read_text(text(HEAD, ROW, ROW2), "q.csv").quotes
    assert more[:1] == few


def test_a_stream_of_rows_reads_in_order() -> None:
    out = io.StringIO()
    out.write(text(HEAD))
    for i in range(200):
        out.write(text([*ROW[:1], f"feed {i}", 200 + i, *ROW[3:]]))
    sheet = quotes.read_text(out.getvalue(), "q.csv")
    assert [t.price_gbp_per_t_fresh for q in sheet.quotes for t in q.tiers] == [
        200 + i for i in range(200)
    ]

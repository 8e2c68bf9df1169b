"""Broken, odd and malicious sheets of quotes: one line each fault, nothing lost, nothing guessed."""

from __future__ import annotations

import io
import re
import zipfile
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest
import xlsxwriter
from hypothesis import given
from hypothesis import strategies as st

from ration import quotes
from ration.errors import InputError
from ration.quotes import grid
from ration.quotes.found import looks_like_a_price_list
from ration.quotes.records import QuoteSheet

# ---------------------------------------------------------------- makers of files


@dataclass
class F:
    """A formula of a workbook, with the value stored beside it ("" when never calculated)."""

    formula: str
    value: Any = ""


@dataclass
class N:
    """A number of a workbook with its format."""

    value: float
    shape: str


def book(*sheets: Any, merges: tuple[str, ...] = (), far: dict[str, Any] | None = None, hide: str = "",
         dates: bool = False) -> bytes:  # fmt: skip
    """A workbook: each sheet a list of rows, or (name, rows)."""
    out = io.BytesIO()
    made = xlsxwriter.Workbook(out, {"in_memory": True})
    shapes: dict[str, Any] = {}
    for i, sheet in enumerate(sheets, 1):
        name, rows = sheet if isinstance(sheet, tuple) else (f"Sheet{i}", sheet)
        page = made.add_worksheet(name)
        if name == hide:
            page.hide()
        for r, row in enumerate(rows):
            for c, value in enumerate(row):
                if isinstance(value, F):
                    page.write_formula(r, c, value.formula, None, value.value)
                elif isinstance(value, N):
                    shape = shapes.setdefault(
                        value.shape, made.add_format({"num_format": value.shape})
                    )
                    page.write_number(r, c, value.value, shape)
                elif isinstance(value, str):
                    page.write_string(r, c, value)
                elif value is not None:
                    page.write(r, c, value)
        for span in merges:
            first = span.split(":")[0]
            old = rows[int(re.sub(r"\D", "", first)) - 1][ord(first[0]) - 65]
            page.merge_range(span, old)
        for cell, value in (far or {}).items():
            page.write(cell, value)
    made.close()
    return out.getvalue()


def spoiled(data: bytes, part: str, change: Callable[[bytes], bytes | None]) -> bytes:
    """A workbook with one part changed, or taken out when the change gives None."""
    out = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(data)) as old, zipfile.ZipFile(out, "w", 8) as new:
        for item in old.infolist():
            raw: bytes | None = old.read(item)
            if item.filename == part:
                raw = change(raw or b"")
            if raw is not None:
                new.writestr(item.filename, raw)
    return out.getvalue()


ODS_TYPE = b"application/vnd.oasis.opendocument.spreadsheet"
ODS_START = (
    '<?xml version="1.0" encoding="UTF-8"?><office:document-content '
    'xmlns:office="urn:oasis:names:tc:opendocument:xmlns:office:1.0" '
    'xmlns:table="urn:oasis:names:tc:opendocument:xmlns:table:1.0" '
    'xmlns:text="urn:oasis:names:tc:opendocument:xmlns:text:1.0" office:version="1.2">'
    "<office:body><office:spreadsheet>"
)
ODS_END = "</office:spreadsheet></office:body></office:document-content>"


def ods_cell(value: Any) -> str:
    if value is None:
        return "<table:table-cell/>"
    if isinstance(value, N) and "%" in value.shape:
        kind, value = "percentage", value.value
    elif isinstance(value, str):
        text = value.replace("&", "&amp;").replace("<", "&lt;")
        return f'<table:table-cell office:value-type="string"><text:p>{text}</text:p></table:table-cell>'
    else:
        kind = "float"
    return f'<table:table-cell office:value-type="{kind}" office:value="{value}"><text:p>{value}</text:p></table:table-cell>'


def ods_table(rows: list[list[Any]], name: str = "Prices", tail: str = "") -> str:
    body = "".join(f"<table:table-row>{''.join(map(ods_cell, r))}</table:table-row>" for r in rows)
    return f'<table:table table:name="{name}">{body}{tail}</table:table>'


def ods(*tables: str) -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as z:
        z.writestr("mimetype", ODS_TYPE)
        z.writestr(
            "META-INF/manifest.xml",
            '<?xml version="1.0"?><manifest:manifest '
            'xmlns:manifest="urn:oasis:names:tc:opendocument:xmlns:manifest:1.0"/>',
        )
        z.writestr("content.xml", ODS_START + "".join(tables) + ODS_END)
    return out.getvalue()


HEAD = [
    "merchant",
    "feed",
    "price (GBP/t)",
    "least drop (t)",
    "VAT",
    "delivered or collected",
    "pack",
]
ROW = ["Heron", "18 % hogg cubes", 296, 3, "ex", "delivered", "bulk"]
ROW2 = ["Plover", "rolled barley", 211, 5, "ex", "delivered", "bulk"]


def row(**changes: Any) -> list[Any]:
    names = {"merchant": 0, "feed": 1, "price": 2, "least": 3, "vat": 4, "delivery": 5, "pack": 6}
    made: list[Any] = list(ROW)
    for key, value in changes.items():
        made[names[key]] = value
    return made


def text(*rows: list[Any], by: str = ",") -> str:
    lines = []
    for r in rows:
        cells = ["" if c is None else str(c) for c in r]
        lines.append(by.join(f'"{c}"' if by in c or '"' in c else c for c in cells))
    return "\n".join(lines) + "\n"


def one(column: str, cell: Any, **changes: Any) -> str:
    """A tidy sheet of one row with one more column."""
    return text([*HEAD, column], [*row(**changes), cell])


def priced(cell: Any) -> str:
    return text(HEAD, row(price=cell), ROW2)


def loose(heading: str, *cells: Any) -> str:
    """Merchant, feed and a price under this heading."""
    return text(["merchant", "feed", heading], *[["Heron", f"feed {i}", c] for i, c in
                                                 enumerate(map(str, cells))])  # fmt: skip


def names(*letters: str) -> list[str]:
    return [f"{x} cubes" for x in letters]


SMALL = [HEAD, ROW, ROW2]
ZIP = book(SMALL)
SHEET_XML = "xl/worksheets/sheet1.xml"
BILLION = (
    b'<?xml version="1.0"?><!DOCTYPE l [<!ENTITY a "aaaaaaaaaa">'
    + b"".join(
        f'<!ENTITY {n} "{f"&{m};" * 10}">'.encode()
        for m, n in zip("abcdefgh", "bcdefghi", strict=True)
    )
    + b"]><worksheet><sheetData>&i;</sheetData></worksheet>"
)


def bomb(size: int, part: str = "xl/worksheets/sheet1.xml", spread: bool = False) -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as z:
        z.writestr("[Content_Types].xml", b"<Types/>")
        for i in range(3000 if spread else 1):
            z.writestr(part + ("" if i == 0 else str(i)), b"0" * size)
    return out.getvalue()


def locked() -> bytes:
    """A workbook whose parts are marked as encrypted."""
    return ZIP.replace(b"PK\x03\x04\x14\x00\x00\x00", b"PK\x03\x04\x14\x00\x01\x00").replace(
        b"PK\x01\x02\x14\x03\x14\x00\x00\x00", b"PK\x01\x02\x14\x03\x14\x00\x01\x00"
    )


FAR_ROW = (
    '<table:table-row table:number-rows-repeated="1048000"><table:table-cell/></table:table-row>'
)
REPEATED = (
    '<table:table-row table:number-rows-repeated="1000000"><table:table-cell '
    'office:value-type="float" office:value="5"><text:p>5</text:p></table:table-cell></table:table-row>'
)
WIDE = (
    '<table:table-row><table:table-cell table:number-columns-repeated="16000" '
    'office:value-type="float" office:value="5"><text:p>5</text:p></table:table-cell></table:table-row>'
)

# ---------------------------------------------------------------- sheets that are refused

# name: (file ending, content, words of the fault)
REFUSED: dict[str, tuple[str, str | bytes, str]] = {
    # the file itself
    "empty": ("csv", b"", "the file is empty"),
    "only blanks": ("csv", " \n\t\n  \n", "the file is empty"),
    "only a byte-order mark": ("csv", b"\xef\xbb\xbf", "the file is empty"),
    "only commas": ("csv", ",,,\n,,\n", "no price list was found"),
    "only headings": ("csv", text(HEAD), "no row has a feed and a price"),
    "prose": ("csv", "Dear sir\nour cubes are good\n", "no price list was found"),
    "binary": ("csv", bytes(range(256)) * 4, "this is not text"),
    "half a UTF-16": ("csv", text(*SMALL).encode("utf-16")[:-1], "this is not text"),
    "too large": ("csv", text(HEAD) + text(ROW) * 20_000, "the file is too large"),
    "too many rows": ("csv", text(HEAD) + "A,b,300\n" * 6_000, "larger than 5,000 rows"),
    "huge number of columns": ("csv", text(HEAD) + ("x," * 300 + "\n") * 30, "by 60 columns"),
    "quote left open": ("csv", text(HEAD) + '"Heron,cubes,296\nPlover,x,3\n', "quotation mark"),
    "quote astray": ("csv", text(HEAD) + 'He"ron,"cu"bes,296\n', "quotation mark is open or astray"),
    "very long cell": ("csv", text(HEAD) + '"' + "9" * 140_000 + '"\n', "a cell is far too long"),
    "a .csv renamed .xlsx": ("xlsx", text(*SMALL), "plain text (.csv), not what its name says"),
    "a .csv renamed .ods": ("ods", text(*SMALL), "plain text (.csv), not what its name says"),
    "a .csv renamed .xls": ("xls", text(*SMALL), "plain text (.csv), not what its name says"),
    "an .xlsx renamed .csv": ("csv", ZIP, "a workbook (.xlsx), not what its name says"),
    "an .xlsx renamed .ods": ("ods", ZIP, "a workbook (.xlsx), not what its name says"),
    "an .ods renamed .xlsx": ("xlsx", ods(ods_table(SMALL)), "a .ods file, not what its name says"),
    "a PDF": ("csv", b"%PDF-1.7\n%\xe2\xe3", "this is a PDF"),
    "a web page called .xls": ("xls", "<html><table><tr><td>3</td></tr></table>", "this is a web page"),
    "a programme": ("py", "import os", "is not read here"),
    "no ending": ("", text(*SMALL), "is not read here"),
    "a binary workbook": ("xlsx", bomb(5, "xl/workbook.bin"), "a binary workbook is not read"),
    "an archive of something else": ("xlsx", bomb(5, "photo.jpg"), "an archive, not a workbook"),
    "an old workbook called .xlsx": ("xlsx", b"\xd0\xcf\x11\xe0" + b"\0" * 600, "locked with a password"),
    "an old workbook of rubbish": ("xls", b"\xd0\xcf\x11\xe0" + b"\0" * 600, "the file is damaged"),
    "a locked workbook": ("xlsx", locked(), "locked with a password"),
    "a truncated zip": ("xlsx", ZIP[: len(ZIP) // 2], "damaged or cut short"),
    "two bytes of a zip": ("xlsx", b"PK", "damaged or cut short"),
    "a zip bomb": ("xlsx", bomb(60_000_000), "the workbook would unpack to 60 MB"),
    "a small dense zip bomb": ("xlsx", bomb(3_000_000), "the workbook would unpack to 3 MB"),
    "a zip bomb as .ods": ("ods", bomb(60_000_000, "content.xml"), "would unpack to 60 MB"),
    "a zip of thousands of parts": ("xlsx", bomb(1, spread=True), "the workbook would unpack"),
    "an XML bomb": ("xlsx", spoiled(ZIP, SHEET_XML, lambda raw: BILLION), "the workbook is damaged"),
    "a workbook without its sheet": ("xlsx", spoiled(ZIP, SHEET_XML, lambda raw: None), "there are no rows"),
    "a workbook with half a sheet": ("xlsx", spoiled(ZIP, SHEET_XML, lambda raw: raw[:400]), "damaged"),
    "a workbook without its words": ("xlsx", spoiled(ZIP, "xl/sharedStrings.xml", lambda raw: b""), "damaged"),
    "a workbook without its list": ("xlsx", spoiled(ZIP, "xl/workbook.xml", lambda raw: b"<x/>"), "there are no rows"),
    "an .ods without content": ("ods", spoiled(ods(ods_table(SMALL)), "content.xml", lambda raw: b"<a>"), "there are no rows"),
    "a million repeated rows of .ods": ("ods", ods(ods_table([], tail=REPEATED)), "larger than 5,000 rows"),
    "a stray far cell of .ods": ("ods", ods(ods_table([*SMALL], tail=FAR_ROW + WIDE)), "far too large"),
    "an empty .ods": ("ods", ods(ods_table([])), "there are no rows"),
    "an empty workbook": ("xlsx", book([]), "there are no rows"),
    "too many rows of a workbook": ("xlsx", book([HEAD] + [ROW] * 5_100), "larger than 5,000 rows"),
    "too many sheets": ("xlsx", book(*[[HEAD]] * 45), "at most 40 are read"),
    "only a hidden sheet": ("xlsx", book(("Cover", []), ("Old", SMALL), hide="Old"), "the sheet is hidden"),
    # headings
    "no price heading": ("csv", text(["merchant", "feed", "sum"], ["A", "b", 3]), "no price list"),
    "no feed heading": ("csv", text(["merchant", "price £/t"], ["A", 300]), "no price list"),
    "headings below row 30": ("csv", "x\n" * 31 + text(*SMALL), "no price list"),
    "two headings for the feed": (
        "csv", text(["merchant", "feed", "product", "price £/t"], ["A", "b", "b", 3]), "means the same as"),
    "two prices": (
        "csv", text(["merchant", "feed", "price £/t", "cost £/t"], ["A", "b", 300, 310]), "means the same as"),
    "two tables side by side": (
        "csv", text(["merchant", "feed", "price £/t", "", "feed", "price £/t"],
                    ["A", "b", 300, "", "c", 310]), "not side by side"),
    "price without its unit": ("csv", loose("price", 248, 300), "does not say what weight it is for (rows 2, 3)"),
    "price in pounds of what": ("csv", loose("£", 248), "does not say what weight it is for"),
    "bag price without weight": ("csv", loose("£ per bag", 8.35), "what a bag weighs is not said"),
    "bale price without weight": ("csv", loose("price per bale", 5.60), "what a bale weighs is not said"),
    "price each": ("csv", loose("price £/t", "5.60 each"), "what a pack weighs is not said"),
    "price a ton": ("csv", loose("£/ton", 248), 'a "ton" is 1,000 kg or 1,016 kg'),
    "price a ton in the cell": ("csv", loose("price", "248 per ton"), 'a "ton" is 1,000 kg or 1,016 kg'),
    "euros in the heading": ("csv", loose("Price €/t", 248), "not in pounds"),
    "EUR in the heading": ("csv", loose("Price EUR/t", 248), "not in pounds"),
    "euros in the cell": ("csv", priced("€248"), "not in pounds"),
    "dollars in the cell": ("csv", priced("$248"), "not in pounds"),
    "euros by the format of the cell": ("xlsx", book([HEAD, row(price=N(248, "[$€-2] #,##0.00"))]), "not in pounds"),
    "dollars by the format of the cell": ("xlsx", book([HEAD, row(price=N(248, '"$"#,##0'))]), "not in pounds"),
    "price inc VAT": ("csv", loose("price £/t inc VAT", 248), "the rate is not said"),
    "VAT column says inc": ("csv", text(HEAD, row(vat="inc")), "the rate is not said"),
    "line says inc VAT": ("csv", "Merchant: A\nAll prices include VAT\nfeed,price £/t\nb,248\n", "the rate is not said"),
    "VAT in two ways": ("csv", text(HEAD, row(price="296 inc VAT at 20 %")), "VAT is said in two ways"),
    "VAT not understood": ("csv", text(HEAD, row(vat="standard")), "ex or inc VAT is wanted"),
    # prices
    "negative price": ("csv", priced(-248), "below zero"),
    "negative price, long minus": ("csv", priced("\u2212248"), "below zero"),
    "negative price in brackets": ("csv", priced("(248.00)"), "in brackets as books write it"),
    "negative price, minus behind": ("csv", priced("248-"), "below zero"),
    "negative price of a workbook": ("xlsx", book([HEAD, row(price=-5)]), "below zero"),
    "zero price": ("csv", priced(0), "a price of nothing"),
    "price of 1e9": ("csv", priced(1_000_000_000), "not a believable price"),
    "price of 1e9 in a workbook": ("xlsx", book([HEAD, row(price=1e9)]), "not a believable price"),
    "commas that do not fit": ("csv", priced("1,0,10"), "its commas and points do not fit"),
    "thousands or decimal comma": (
        "csv", text(["merchant", "feed", "price £/t"], ["A", "b", "248,50"], ["A", "c", "1,010"], by=";"),
        "it may be thousands or a decimal comma"),
    "unquoted decimal comma": ("csv", "merchant,feed,price £/t\nA,b,248,50\n", "beyond the last heading"),
    "formula never calculated": ("xlsx", book([HEAD, row(price=F("=1+1"))]), "a formula that was never calculated"),
    "condition never calculated": ("xlsx", book([HEAD, row(least=F("=1+1"))]), "a formula that was never calculated"),
    "digits turned round": ("csv", priced("2\u202e84"), "turns the direction of writing"),
    "bag weight said twice": ("csv", text(HEAD, row(price="8.35 per 20 kg bag", pack="25 kg bag")), "two packs are said"),
    "bulk price per bag": ("csv", text(HEAD, row(price="8.35 per 20 kg bag")), "two packs are said"),
    "delivered and collected": ("csv", text(HEAD, row(price="296 collected")), "delivered in one place"),
    "pounds under pence": ("csv", loose("p/kg", "£0.74"), "pounds in the cell, pence in the heading"),
    # who, what
    "no merchant": ("csv", "feed,price £/t\nb,248\nc,250\n", "row 3: no merchant is said"),
    "merchant missing in a row": ("csv", text(HEAD, ROW, row(merchant="")), "row 3: no merchant is said"),
    "merchant that is a number": ("csv", text(HEAD, row(merchant="4711")), "a name is wanted here"),
    "feed that is a number": ("csv", text(HEAD, row(feed="18")), "a name is wanted here"),
    "merged merchant": ("xlsx", book([HEAD, ROW, row(merchant=None, feed="barley")], merges=("A2:A3",)), "merged"),
    "merged feed": ("xlsx", book([HEAD, ROW, row(feed=None)], merges=("B2:B3",)), "the cell is merged with row 2"),
    "price without a feed": ("csv", text(HEAD, ROW, row(feed="")), "a price without a feed"),
    "a feed priced twice": ("csv", text(HEAD, ROW, row(price=300)), "is priced a second time"),
    "made for dragons": ("csv", one("made for", "dragons"), "the animals are not known"),
    # packs and loads
    "pack not known": ("csv", text(HEAD, row(pack="tote")), "the pack is not known"),
    "bag without weight": ("csv", text(HEAD, row(pack="bag")), "what a bag weighs is not said"),
    "bale without weight": ("csv", text(HEAD, row(pack="bale")), "what a bale weighs is not said"),
    "big bag without weight": ("csv", text(HEAD, row(pack="big bag")), "weighs is not said"),
    "bag of no weight": ("csv", text(HEAD, row(pack="0 kg bag")), "a pack weighs 0.5 to 2,000 kg"),
    "pallets without a count": (
        "csv", text(HEAD, row(pack="25 kg bag", least="1 pallet")), "what a pallet holds is not said"),
    "half a bag a pallet": ("csv", one("bags a pallet", "22.5"), "a whole number of bags"),
    "least drop without unit": (
        "csv", text(["merchant", "feed", "price £/t", "least drop"], ["A", "b", 300, 3]), "no unit is said"),
    "least drop in tons": ("csv", text(HEAD, row(least="3 tons")), 'a "ton" is 1,000 kg or 1,016 kg'),
    "least drop above all there is": ("csv", one("all there is (t)", 2), "is more than all there is"),
    "least drop above the most": ("csv", one("most drop (t)", 2), "is more than the most"),
    "least drop below zero": ("csv", text(HEAD, row(least=-3)), "below zero"),
    "drop charge in euros": ("csv", one("drop charge", "€95"), "not in pounds"),
    "haulage without unit": ("csv", one("haulage", 12), "no unit is said"),
    "cash off as a share": ("csv", one("cash off (GBP/t)", "2 %"), "a share of the price"),
    "rigid of unsaid weight": ("csv", one("lorry", "rigid"), "a rigid is 18, 26 or 32 t"),
    "lorry of 90 t": ("csv", one("lorry (t)", 90), "not a lorry's laden weight"),
    "delivery not understood": ("csv", text(HEAD, row(delivery="perhaps")), "delivered or collected is wanted"),
    # tiers
    "tiers not rising": (
        "csv", text([*HEAD, "from (t)"], [*ROW, 0], [*row(price=280), 29], [*row(price=287), 15]),
        "does not follow that from 29 t"),
    "tier given twice": ("csv", text([*HEAD, "from (t)"], [*ROW, 0], [*row(price=280), 15], [*row(price=287), 15]),
        "does not follow that from 15 t"),
    "tiers in one cell not rising": ("csv", priced("296; 280 from 29 t; 287 from 15 t"), "does not follow"),
    "tier gap": ("csv", text([*HEAD, "band (t)"], [*ROW, "3-10"], [*row(price=287), "15-29"]),
        "no price is said between 10 and 15 t"),
    "tiers that overlap": ("csv", text([*HEAD, "band (t)"], [*ROW, "3-16"], [*row(price=287), "15-29"]), "overlap"),
    "no price for less than the tier": ("csv", text([*HEAD, "from (t)"], [*ROW, 15]), "none is said for less"),
    "tiers without unit": ("csv", text([*HEAD, "from"], [*ROW, 0], [*row(price=287), 15]), "no unit is said"),
    "tiers whose conditions differ": ("csv", text([*HEAD, "from (t)"], [*ROW, 0], [*row(price=287, least=4), 15]),
        "least drop differs from row 2"),
    "tonnes said twice": ("csv", text([*HEAD, "from (t)"], [*row(price="287 from 15 t"), 20]), "said twice"),
    # dates
    "31/02/2026": ("csv", one("valid until", "31/02/2026"), "not in the calendar"),
    "month before day": ("csv", one("valid until", "04/13/2026"), "puts the month first"),
    "year of two figures": ("csv", one("valid until", "03/04/26"), "all four figures of the year"),
    "date as a bare number": ("xlsx", book([[*HEAD, "valid until"], [*ROW, 46266]]), "valid until"),
    "date in the year 9999": ("csv", one("valid until", "31/12/9999"), "in the year 9999"),
    "valid 21 days of what": ("csv", one("valid until", "21 days"), "the date of the quote is not said"),
    "valid for a bare number": ("csv", one("valid until", "21"), "no unit is said"),
    "valid until before valid from": ("csv", text([*HEAD, "valid from", "valid until"],
        [*ROW, "1 October 2026", "1 September 2026"]), "is before 1 October 2026"),
    "valid until before the quote": ("csv", text([*HEAD, "dated", "valid until"],
        [*ROW, "1 October 2026", "1 September 2026"]), "is before 1 October 2026"),
    "rise without its month": ("csv", one("rise (GBP/t/month)", 6), "from which month the price rises"),
    "rise of a month without its year": ("csv", text([*HEAD, "rise (GBP/t/month)", "rise from"], [*ROW, 6, "December"]),
        "of which year is not said"),
    "rise without a month in its unit": ("csv", one("rise", "6/t"), "does not say a month"),
    "rise from, and no rise": ("csv", one("rise from", "December 2026"), "its size is not said"),
    # the label
    "protein without unit": ("csv", one("protein", 18), "no unit is said"),
    "copper without unit": ("csv", one("copper", 18), "no unit is said"),
    "protein of 0.18 under %": ("csv", one("protein (%)", "0.18"), "may be 0.18 % or 18 %"),
    "protein of 0.18 under % of .ods": ("ods", ods(ods_table([[*HEAD, "CP %"], [*ROW, N(0.18, "0%")]])), "may be 0.18 % or 18 %"),
    "calcium of 0.009 under % of .ods": ("ods", ods(ods_table([[*HEAD, "calcium %"], [*ROW, 0.009]])), "does not say which"),
    "protein of 180 under %": ("csv", one("protein (%)", 180), "Did you mean 180 g/kg?"),
    "protein below zero": ("csv", one("protein (%)", -18), "below zero"),
    "protein in words": ("csv", one("protein (%)", "high"), "must start with a number"),
    "dry matter of 3 g/kg": ("csv", one("dry matter", "3 g/kg"), "is too low"),
    "protein over the whole dry matter": ("csv", text([*HEAD, "dry matter (%)", "protein (%)"], [*ROW, 20, 40]),
        "more than the whole dry matter"),
    "copper of a million": ("csv", one("copper (mg/kg)", 1_000_000), "too high"),
    "NaN in a condition": ("csv", text(HEAD, row(least="NaN")), "must start with a number"),
    "inf in a condition": ("csv", text(HEAD, row(least="inf")), "must start with a number"),
    "1e3 in a condition": ("csv", text(HEAD, row(least="1e3")), "power of ten"),
}  # fmt: skip

# ---------------------------------------------------------------- sheets that are read

# name: (file ending, content, prices a tonne in order, words of not_read, words of questions)
READ: dict[str, tuple[str, str | bytes, list[float], list[str], list[str]]] = {
    "tidy": ("csv", text(*SMALL), [296, 211], [], []),
    "semicolons": ("csv", text(*SMALL, by=";"), [296, 211], [], []),
    "tabs": ("tsv", text(*SMALL, by="\t"), [296, 211], [], []),
    "bars": ("txt", text(*SMALL, by="|"), [296, 211], [], []),
    "a sep= line": ("csv", "sep=;\n" + text(*SMALL, by=";"), [296, 211], [], []),
    "cp1252": ("csv", loose("Price £/t", 248, "£ 312").encode("cp1252"), [248, 312], [], ["VAT"]),
    "UTF-8 with its mark": ("csv", text(*SMALL).encode("utf-8-sig"), [296, 211], [], []),
    "UTF-16": ("csv", text(*SMALL).encode("utf-16"), [296, 211], [], []),
    "UTF-16 without its mark": ("csv", text(*SMALL).encode("utf-16-le"), [296, 211], [], []),
    "old line ends": ("csv", text(*SMALL).replace("\n", "\r"), [296, 211], [], []),
    "decimal commas": ("csv", text(HEAD, row(price="248,50"), row(feed="b", price="1.010,25"), by=";"),
        [248.5, 1010.25], [], []),
    "quoted decimal comma": ("csv", priced("248,50"), [248.5, 211], [], []),
    "text numbers": ("csv", loose("price £/t", "£248.00", "£ 312", "1,010", " 295 ", "GBP 300"),
        [248, 312, 1010, 295, 300], [], ["VAT", "delivered", "least load", "pack"]),
    "pence": ("csv", loose("price", "74 p/kg", "£0.74/kg", "74p per kg"), [740, 740, 740], [], []),
    "unit in the cell": ("csv", loose("price", "211/t", "£211 per tonne", "8.35 per 20 kg bag", "5.60 per 18 kg bale",
        "7.35 per bag (25kg)"), [211, 211, 417.5, 5600 / 18, 294], [], []),
    "unit in the heading": ("csv", loose("GBP per bag (20kg)", 8.35), [417.5], [], []),
    "unit in its own column": ("csv", text(["merchant", "feed", "price", "unit"], ["A", "b", 300, "t"],
        ["A", "c", 8.35, "20 kg bag"], ["A", "d", 0.74, "kg"]), [300, 417.5, 740], [], []),
    "unit in the row below": ("csv", text(["merchant", "product", "price", "CP"], ["", "", "£/t", "%"],
        ["A", "b", 300, 18]), [300], [], []),
    "unit in a line above": ("csv", "Merchant: A\nAll prices per tonne\nfeed,price\nb,300\n", [300], [], []),
    "unit in a line below": ("csv", "Merchant: A\nfeed,price\nb,300\n\nAll prices per tonne ex VAT\n", [300], [], []),
    "price each, bale in its column": ("csv", text(["merchant", "feed", "price", "pack"], ["A", "hay", "5.60 each", "18 kg bale"]),
        [5600 / 18], [], []),
    "price per 25 kg": ("csv", loose("price", "7.35 per 25kg"), [294], [], ["read as bags of 25 kg"]),
    "tote": ("csv", priced("1,010 (tote)"), [211], ['"1,010 (tote)" is not wholly understood'], []),
    "POA, TBC, n/a, call": ("csv", text(HEAD, *[row(feed=f"{x} cubes", price=x) for x in
        ("POA", "TBC", "n/a", "call", "-", "sold out")], ROW2), [211],
        ["POA", "TBC", "n/a", "call", '("-")', "sold out"], []),
    "words for a price": ("csv", priced("as agreed"), [211], ['"as agreed" is not a price'], []),
    "NaN and inf": ("csv", text(HEAD, row(price="NaN"), row(price="inf"), ROW2), [211], ["NaN", "inf"], []),
    "power of ten": ("csv", priced("1e9"), [211], ["not wholly understood"], []),
    "a range": ("csv", priced("248-255"), [211], ["not wholly understood"], []),
    "about": ("csv", priced("c. 248"), [211], ["is not a price"], []),
    "a star": ("csv", priced("248*"), [211], ["not wholly understood"], []),
    "a telephone number": ("csv", priced("01234 567890"), [211], ["not wholly understood"], []),
    "full-width digits": ("csv", priced("２４８"), [211], ["is not a price"], []),
    "a spreadsheet's error": ("xlsx", book([HEAD, row(price=F("=1/0", "#DIV/0!")), ROW2]), [211], ["#DIV/0!"], []),
    "a date for a price": ("csv", priced("1/9/2026"), [211], ["not wholly understood"], []),
    "a percentage for a price": ("xlsx", book([HEAD, row(price=N(2.48, "0%")), ROW2]), [211], ["is a percent, not a price"], []),
    "hidden unicode spaces": ("csv", text(["\u200bmerchant", "feed\u00a0", "price\u2009(GBP/t)"],
        ["Heron\u200b", "cubes\u202f18", "\ufeff2\u200b96\u00a0"]), [296], [], []),
    "blank rows between": ("csv", text(HEAD, [], ROW, [None] * 7, [], ROW2, []), [296, 211], [], []),
    "totals row": ("csv", text(HEAD, ROW, ROW2, ["Total", None, 507]), [296, 211], ["a total, not an offer"], []),
    "average row": ("csv", text(HEAD, ROW, ["", "Average", 296]), [296], ["a total, not an offer"], []),
    "footnotes": ("csv", text(HEAD, ROW, ["* subject to change"], ["E & OE", "", ""]), [296],
        ["subject to change", "E & OE"], []),
    "letterhead": ("csv", text(["Heron Feeds Ltd"], ["Tel", "01234"], [], HEAD, ROW), [296],
        ["Heron Feeds Ltd", "01234"], []),
    "section rows": ("csv", text(HEAD, ["BULK FEEDS"], ROW, ["", "BAGGED"], ROW2), [296, 211],
        ["BULK FEEDS", "BAGGED"], []),
    "two tables on a page": ("csv", text(HEAD, ROW, [], ["merchant", "product", "Price £/t"], ["Snipe", "oats", 178]),
        [296, 178], [], ["VAT"]),
    "headings again": ("csv", text(HEAD, ROW, HEAD, ROW2), [296, 211], [], []),
    "merchant in a line above": ("csv", "Merchant: Heron\n" + "feed,price £/t\nb,248\n", [248], [], []),
    "merchant in two cells above": ("csv", "Merchant,Heron\n" + "feed,price £/t\nb,248\n", [248], [], []),
    "a merchant above each table": ("csv", "Merchant: A\nfeed,price £/t\nb,248\nMerchant: B\nfeed,price £/t\nb,250\n",
        [248, 250], [], []),
    "merchant by the name of the sheet": ("xlsx", book(("Heron", [["feed", "price £/t"], ["b", 248]])), [248], [], []),
    "two sheets and terms": ("xlsx", book(("Bulk", SMALL), ("Terms", [["28 days"], ["E & OE"]]),
        ("Bags", [HEAD, row(price=8.35, pack="25 kg bag", feed="x")])), [296, 211, 8.35], ['sheet "Terms" rows 1 to 2: no price list'],
        ["very little"]),
    "a hidden sheet": ("xlsx", book(("Now", SMALL), ("Last year", SMALL), hide="Last year"), [296, 211],
        ['sheet "Last year": the sheet is hidden'], []),
    "unknown heading": ("csv", one("wonders", "many"), [296], ['"wonders": the heading is not known'], []),
    "fibre of unsaid kind": ("csv", one("fibre (%)", 9), [296], ["NDF or crude fibre is not said"], []),
    "cells under no heading": ("csv", text(HEAD, [*ROW], by=";") + "Plover;barley;211;5;ex;delivered;bulk;why\n",
        [296, 211], ['"why" stands under no heading'], []),
    "wide: a price a pack": ("csv", text(["merchant", "product", "bulk £/t", "tonne bag £/t", "£ per 25kg bag"],
        ["A", "b", 240, 260, 7.35], ["A", "c", 250, "", "POA"]), [240, 260, 294, 250], ["POA"], []),
    "wide: a price a tier": ("csv", text(["merchant", "product", "£/t", "£/t from 15 t", "£/t 29t+"],
        ["A", "b", 296, 287, 280]), [296, 287, 280], [], []),
    "delivered price in the heading": ("csv", loose("Delivered £/t", 240), [240], [], ["VAT"]),
    "tiers in rows": ("csv", text([*HEAD, "from (t)"], [*ROW, ""], [*row(price=287), 15], [*row(price=280), 29]),
        [296, 287, 280], [], []),
    "tiers in one cell": ("csv", priced("296; 287 from 15 t; 280 from 29 t"), [296, 287, 280, 211], [], []),
    "tiers as bands": ("csv", text([*HEAD, "band (t)"], [*ROW, "3-15"], [*row(price=287), "15+"]), [296, 287], [], []),
    "tiers with whole-tonne bands": ("csv", text([*HEAD, "band (t)"], [*ROW, "3-14"], [*row(price=287), "15-29"]),
        [296, 287], [], ["between 14 and 15 t", "from 29 t"]),
    "a dearer tier": ("csv", priced("296; 300 from 15 t"), [296, 300, 211], [], ["higher than that for less"]),
    "inc VAT with its rate": ("csv", text(HEAD, row(vat="inc 20 %", price=240)), [200], [], []),
    "VAT said below": ("csv", text(["merchant", "feed", "price £/t"], ["A", "b", 300], ["All prices exclude VAT"]),
        [300], [], ["delivered", "least", "pack"]),
    "conditions said below": ("csv", text(["merchant", "feed", "price £/t"], ["A", "b", 300], ["Valid until: 30 September 2026"],
        ["Prices delivered, ex VAT"], ["Min drop: 3 t"]), [300], [], ["pack"]),
    "ambiguous date, day first": ("csv", one("valid until", "03/04/2026"), [296], [], []),
    "payment in words": ("csv", one("payment", "net monthly"), [296], [], ["is not read as days"]),
    "energy without basis": ("csv", one("ME (MJ/kg)", 12.5), [296], [], ["does not say whether it is of the dry matter"]),
    "cattle by its name": ("csv", text(HEAD, row(feed="18 % cattle nuts")), [296], [], ["sounds made for cattle"]),
    "a price far too low": ("csv", priced("8.35"), [8.35, 211], [], ["is it the price of a bag"]),
    "currency by the format of the cell": ("xlsx", book([HEAD, row(price=N(248, "[$£-809]#,##0.00"))]), [248], [], []),
    "unit by the format of the cell": ("xlsx", book([HEAD, row(price=N(8.35, '0.00" per 20 kg bag"'), pack=None)]), [417.5], [], []),
    "percent cells": ("xlsx", book([[*HEAD, "CP"], [*ROW, N(0.18, "0.0%")]]), [296], [], []),
    "formula calculated": ("xlsx", book([HEAD, row(price=F("=2*148", 296))]), [296], [], []),
    "formula never calculated under no heading": ("xlsx", book([[*HEAD], [*ROW, F("=1+1")]]), [296], ["formula"], []),
    "stray far cell": ("xlsx", book(SMALL, far={"XFD1048576": "x", "A900000": "y"}), [296, 211],
        ["row 900000: 1 cell stands beyond row 5,000", "row 1048576"], []),
    "stray wide cell": ("xlsx", book(SMALL, far={"CZ2": "x"}), [296, 211], ["beyond column 60"], []),
    "a false size written in the file": ("xlsx", spoiled(ZIP, SHEET_XML, lambda raw: re.sub(
        rb'<dimension ref="[^"]*"', b'<dimension ref="A1:A1"', raw)), [296, 211], [], []),
    "numbers kept as text": ("xlsx", book([HEAD, row(price="296.00", least="3")]), [296], [], []),
    "merged title": ("xlsx", book([["Heron price list", None, None], HEAD, ROW], merges=("A1:C1",)), [296], ["Heron price list"], []),
    "an .ods": ("ods", ods(ods_table(SMALL)), [296, 211], [], []),
    "an .ods that starts low and right": ("ods", ods(ods_table([[], [], [None, *HEAD], [None, *ROW]])), [296], [], []),
    "an .ods of two sheets": ("ods", ods(ods_table(SMALL, "A"), ods_table([["28 days"]], "Terms")), [296, 211], ["Terms"], []),
    "a formula to run a programme": ("csv", one("note", "=cmd|' /C calc'!A0"), [296], [], []),
    "tags in the words": ("csv", text(HEAD, row(feed="<b>cubes</b>")), [296], [], []),
}  # fmt: skip


def put(folder: Path, ending: str, content: str | bytes) -> Path:
    path = folder / ("quotes" + (f".{ending}" if ending else ""))
    path.write_bytes(content.encode() if isinstance(content, str) else content)
    return path


def test_there_are_a_hundred_hostile_sheets() -> None:
    assert len(REFUSED) + len(READ) >= 200 and len(REFUSED) >= 100


# Faults of the file as a whole have no row to name.
FILE_FAULTS = re.compile(
    r"the file|no rows in it|not text|is a PDF|web page|not read here|archive|workbook|no price list|"
    r"no row has a feed|larger than|at most 40 are read|hidden"
)


@pytest.mark.parametrize("name", REFUSED)
def test_a_sheet_is_refused_in_lines(name: str, tmp_path: Path) -> None:
    ending, content, words = REFUSED[name]
    path = put(tmp_path, ending, content)
    with pytest.raises(InputError) as caught:
        quotes.read(path)
    lines = [str(p) for p in caught.value.problems]
    assert any(words in line for line in lines), lines
    for line in lines:
        assert "\n" not in line and path.name in line, line
        assert re.search(r" row \d", line) or FILE_FAULTS.search(line), line


@pytest.mark.parametrize("name", READ)
def test_a_sheet_is_read_and_nothing_lost(name: str, tmp_path: Path) -> None:
    ending, content, prices, not_read, questions = READ[name]
    path = put(tmp_path, ending, content)
    sheet = quotes.read(path)
    assert [t.price_gbp_per_t_fresh for q in sheet.quotes for t in q.tiers] == pytest.approx(prices)
    for words in not_read:
        assert any(words in line for line in sheet.not_read), (words, sheet.not_read)
    for words in questions:
        assert any(words in line for line in sheet.questions), (words, sheet.questions)
    if not not_read:
        assert sheet.not_read == ()
    nothing_lost(sheet, grid.pages_of(path, looks_like_a_price_list))
    for line in (*sheet.questions, *sheet.not_read):
        assert path.name in line and "\n" not in line


def nothing_lost(sheet: QuoteSheet, pages: list[grid.Page]) -> None:
    """Every filled row is in a quote, among the things not read, or one of headings or conditions."""
    headings = {heading for heading, _ in sheet.columns}
    told = "\n".join((*(q.place + ":" for q in sheet.quotes), *sheet.not_read))
    for page in pages:
        where = re.escape(page.where())
        rows: set[int] = set()
        for span in re.findall(rf"{where} rows (\d+) to (\d+)", told):
            rows |= set(range(int(span[0]), int(span[1]) + 1))
        for listed in re.findall(rf"{where} rows? ([\d, ]+)", told):
            rows |= {int(n) for n in re.findall(r"\d+", listed)}
        rows |= {int(n) for h in headings for n in re.findall(r"^row (\d+): ", h)}
        is_whole = re.search(rf"{where}: the sheet is hidden|{where}: not asked for", told)
        for filled in page.rows:
            cells = [c.text for c in filled.cells if c.kind != "blank"]
            is_heading = all(
                any(h == c or h.startswith(f"{c} ") or h.endswith(f" {c}") for h in headings)
                for c in cells
            )
            assert is_whole or is_heading or filled.number in rows, (filled.number, cells, told)


def test_a_file_that_is_not_there(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="there is no such file"):
        quotes.read(tmp_path / "none.csv")
    with pytest.raises(InputError, match="this is a folder"):
        quotes.read(tmp_path)


def test_all_faults_are_told_at_once() -> None:
    bad = text(
        [*HEAD, "valid until"],
        [*row(price=-5), "31/02/2026"],
        [*row(least="x"), ""],
        [*row(price=0), ""],
    )
    with pytest.raises(InputError) as caught:
        quotes.read_text(bad, "q.csv")
    told = caught.value.lines().splitlines()
    assert [re.search(r"row (\d)", line).group(1) for line in told] == ["2", "2", "3", "4"]  # type: ignore[union-attr]


# ---------------------------------------------------------------- noise

NOISE = st.one_of(
    st.text(max_size=12),
    st.text(alphabet="0123456789.,;£€$%()-+/ tkgpbaeVATincex\u00a0\u200b\n\"'", max_size=14),
    st.integers(-(10**12), 10**12).map(str),
    st.floats().map(str),
    st.sampled_from(
        ["POA", "8.35 per 20 kg bag", "296; 287 from 15 t", "£248", "n/a", "Total", "Merchant: X",
         "All prices ex VAT", "feed", "price £/t", "20 kg", "bulk", "inc 20 %", "1 pallet", "£/t", "12,5",
         "valid until", "10-20 t", "per bag", "74 p/kg"]
    ),
)  # fmt: skip
COLUMN = st.sampled_from(
    [*HEAD, "from (t)", "price", "CP %", "unit", "£ per 25kg bag", "valid until", "x", ""]
)


@given(
    head=st.lists(COLUMN, max_size=4),
    rows=st.lists(st.lists(NOISE, max_size=9), max_size=6),
    by=st.sampled_from([",", ";", "\t"]),
)
def test_noise_never_crashes_and_never_makes_a_price(
    head: list[str], rows: list[list[str]], by: str
) -> None:
    made = [
        ["merchant", "feed", "price (GBP/t)", *head],
        *[["Heron", "cubes", *r] for r in rows],
        *rows,
    ]
    out = "\n".join(by.join('"' + c.replace('"', '""') + '"' for c in r) for r in made)
    try:
        sheet = quotes.read_text(out, "q.csv")
    except InputError as e:
        assert all("q.csv" in str(p) for p in e.problems)
        return
    figures = set(numbers_in(out))
    weights = {1.0, *figures}
    for quote in sheet.quotes:
        for tier in quote.tiers:
            price = tier.price_gbp_per_t_fresh
            ways = {price, price * 1.2} | {price * w / 1000 for w in weights}
            ways |= {100 * w for w in ways}
            assert any(w == pytest.approx(f, rel=1e-9) for w in ways for f in figures), (price, out)
    nothing_lost(sheet, [grid.text_page(out, "q.csv", looks_like_a_price_list)])


def numbers_in(sheet: str) -> list[float]:
    """Every number written in a sheet, in each way that its commas may be read."""
    found = []
    for token in re.findall(r"[0-9]+(?:[.,][0-9]+)*", re.sub("[\u200b\u00ad]", "", sheet)):
        for way in (
            token.replace(",", ""),
            token.replace(",", "."),
            token.replace(".", "").replace(",", "."),
        ):
            if re.fullmatch(r"[0-9]+(\.[0-9]+)?", way) and len(way) < 20:
                found.append(float(way))
    return found


@given(data=st.binary(max_size=400), ending=st.sampled_from(["csv", "xlsx", "txt"]))
def test_rubbish_is_refused_in_words(
    data: bytes, ending: str, tmp_path_factory: pytest.TempPathFactory
) -> None:
    path = put(tmp_path_factory.mktemp("q"), ending, data)
    with pytest.raises(InputError) as caught:
        quotes.read(path)
    assert all(path.name in str(p) for p in caught.value.problems)


@given(at=st.integers(0, len(ZIP) - 1), byte=st.integers(0, 255))
def test_a_workbook_with_one_byte_wrong(
    at: int, byte: int, tmp_path_factory: pytest.TempPathFactory
) -> None:
    spoilt = ZIP[:at] + bytes([byte]) + ZIP[at + 1 :]
    path = put(tmp_path_factory.mktemp("q"), "xlsx", spoilt)
    try:
        sheet = quotes.read(path)
    except InputError:
        return
    assert [t.price_gbp_per_t_fresh for q in sheet.quotes for t in q.tiers] == [296, 211]


@pytest.mark.parametrize(
    "cell",
    ["1," * 1000, "9" * 2000, "( " * 900, "big " * 500, "1 t " * 500, "/ " * 900, "per " * 500, "£" * 2000],
)  # fmt: skip
@pytest.mark.parametrize("column", [2, 3, 6, 1])
def test_a_long_cell_does_not_hold_the_reader_up(cell: str, column: int) -> None:
    """Two hundred such rows; a pattern that tried every way would take hours, not a moment."""
    made = [*ROW[:column], cell, *ROW[column + 1 :]]
    out = text(HEAD, *[[*made[:1], f"{made[1]} {i}"[:400], *made[2:]] for i in range(200)], [cell])
    try:
        sheet = quotes.read_text(out, "q.csv")
    except InputError as e:
        assert "q.csv" in str(e.problems[0])
    else:
        assert len(sheet.quotes) in (0, 200)

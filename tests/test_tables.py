"""The reader of the feed tables: overlays, copies, and broken tables told in plain lines."""

from __future__ import annotations

import csv
import io
import random
import re
import subprocess
import sys
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ration import tables
from ration.errors import FileError, InputError, TableError, UnknownName
from ration.feeds import Feed
from ration.tables import Doubt
from ration.tables.csvfile import Field, Row, Schema, cut, read_rows, read_text, rows

BROKEN = Path(__file__).parent / "data" / "tables_broken"
SHIPPED = tables.load()


def written(folder: Path, content: str | bytes, name: str = "mine.csv") -> Path:
    path = folder / name
    path.write_bytes(content.encode() if isinstance(content, str) else content)
    return path


def faults(path: Path) -> list[str]:
    """The problems of an overlay, which `load` must refuse and `check` must list alike."""
    with pytest.raises(InputError) as caught:
        tables.load(overlays=[path])
    lines = [str(p) for p in caught.value.problems]
    assert lines
    for line in lines:
        assert "\n" not in line and len(line) < 500 and line.endswith("."), line
    listed = [str(p) for p in tables.check(path) if not isinstance(p, Doubt)]
    assert listed == lines
    return lines


# ---- finding and loading ------------------------------------------------------------------------
def test_folder_is_found_and_a_wrong_one_is_told(tmp_path: Path) -> None:
    assert (tables.tables_folder() / "analyses.csv").is_file()
    assert tables.tables_folder(tables.tables_folder()) == tables.tables_folder()
    with pytest.raises(FileError, match=r"no datapackage\.json is there"):
        tables.tables_folder(tmp_path)


def test_a_figure_knows_its_line() -> None:
    figure = SHIPPED.feeds["barley"].figure("cp_g_per_kg_dm")
    number = int(figure.place.removeprefix("analyses.csv line "))
    lines = (tables.tables_folder() / "analyses.csv").read_text(encoding="utf-8").splitlines()
    assert lines[number - 1].startswith("barley,cp_g_per_kg_dm,123,")


def test_limits_cautions_and_texts_are_loaded() -> None:
    assert any(x.limit == "share_of_dm_most" and x.match == "straw" for x in SHIPPED.limits)
    assert {c.caution for c in SHIPPED.cautions} >= {"copper-stop", "listeria"}
    assert SHIPPED.confidence["barley"] == "A"
    assert "[F-S24]" in SHIPPED.disagreements["barley"]
    assert SHIPPED.nutrients["cp_g_per_kg_dm"].unit == "g/kg DM"
    assert SHIPPED.sources["F-S38"].what.startswith("Givens")


def test_range_falls_back_to_any() -> None:
    assert SHIPPED.range_of("cp_g_per_kg_dm", "hay") == (20, 300)
    assert SHIPPED.range_of("ge_mj_per_kg_dm", "hay") == SHIPPED.range_of("ge_mj_per_kg_dm", "any")
    with pytest.raises(UnknownName, match="nearest: .*cp_g_per_kg_dm"):
        SHIPPED.range_of("cp_g_per_kg", "hay")


def test_frame_has_a_row_a_figure() -> None:
    frame = SHIPPED.frame()
    assert len(frame) == 889
    row = frame[(frame.feed_id == "barley") & (frame.nutrient == "me_mj_per_kg_dm")].iloc[0]
    assert (row.value, row.unit, row["mark"]) == (13.2, "MJ/kg DM", "print")


def test_digest_follows_the_content_not_the_line_ends(tmp_path: Path) -> None:
    folder = tmp_path / "t"
    tables.copy(folder)
    assert tables.load(folder).digest == SHIPPED.digest
    path = folder / "analyses.csv"
    raw = path.read_bytes()
    path.write_bytes(b"\xef\xbb\xbf" + raw.replace(b"\n", b"\r\n"))
    assert tables.load(folder).digest == SHIPPED.digest
    path.write_bytes(raw.replace(b"barley,cp_g_per_kg_dm,123", b"barley,cp_g_per_kg_dm,124"))
    assert tables.load(folder).digest != SHIPPED.digest
    assert re.fullmatch("[0-9a-f]{12}", SHIPPED.digest)


def test_reading_needs_no_pandas_or_numpy() -> None:
    code = (
        "import sys; from ration import tables; tables.load();"
        "sys.exit(any(m in sys.modules for m in ('pandas', 'numpy', 'pulp')))"
    )
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0


# ---- overlays -----------------------------------------------------------------------------------
def test_long_overlay_takes_the_place_by_key(tmp_path: Path) -> None:
    path = written(
        tmp_path,
        "feed_id,nutrient,value,mark,source,spread,note\n"
        "hay-good,ca_g_per_kg_dm,3.4,lab,sheet 12,0.2,wet\n",
    )
    made = tables.load(overlays=[path])
    g = made.feeds["hay-good"].figure("ca_g_per_kg_dm")
    assert (g.value, g.mark, g.source, g.spread, g.note) == (3.4, "lab", "sheet 12", 0.2, "wet")
    assert g.place == "mine.csv line 2"
    assert made.feeds["hay-good"]["p_g_per_kg_dm"] == 2.5
    assert SHIPPED.feeds["hay-good"]["ca_g_per_kg_dm"] == 5.0
    assert made.digest != SHIPPED.digest


def test_value_without_mark_is_the_users(tmp_path: Path) -> None:
    path = written(tmp_path, "feed_id,ca_g_per_kg_dm,p_g_per_kg_dm\nhay-good,3.4,\n")
    made = tables.load(overlays=[path]).feeds["hay-good"]
    assert (made.figure("ca_g_per_kg_dm").mark, made.figure("ca_g_per_kg_dm").source) == (
        "user",
        "mine.csv",
    )
    assert made.figure("p_g_per_kg_dm").mark == "memory"


def test_wide_overlay_brings_a_new_feed(tmp_path: Path) -> None:
    path = written(
        tmp_path,
        "feed_id,name,group,mark,dm_g_per_kg_fresh,cp_g_per_kg_dm\n"
        "bottom-hay,Bottom hay,hay,lab,851,86\n",
    )
    feed = tables.load(overlays=[path]).feeds["bottom-hay"]
    assert (feed.name, feed.group, feed["cp_g_per_kg_dm"]) == ("Bottom hay", "hay", 86)
    assert feed.get("ca_g_per_kg_dm") is None


def test_new_feed_may_be_named_in_a_file_of_its_own(tmp_path: Path) -> None:
    figures = written(tmp_path, "feed_id,nutrient,value\nbottom-hay,cp_g_per_kg_dm,86\n")
    feeds = written(
        tmp_path, "feed_id,name,group\nbottom-hay,Bottom hay,hay\n", "feeds-of-mine.csv"
    )
    for order in ([figures, feeds], [feeds, figures]):
        assert tables.load(overlays=order).feeds["bottom-hay"]["cp_g_per_kg_dm"] == 86


def test_later_overlay_wins(tmp_path: Path) -> None:
    one = written(tmp_path, "feed_id,ca_g_per_kg_dm\nhay-good,3.4\n", "one.csv")
    two = written(tmp_path, "feed_id,ca_g_per_kg_dm\nhay-good,3.6\n", "two.csv")
    assert tables.load(overlays=[one, two]).feeds["hay-good"]["ca_g_per_kg_dm"] == 3.6
    assert tables.load(overlays=[two, one]).feeds["hay-good"]["ca_g_per_kg_dm"] == 3.4


def test_edited_copy_overlays_and_a_changed_book_figure_is_the_users(tmp_path: Path) -> None:
    folder = tmp_path / "mine"
    tables.copy(folder)
    path = folder / "analyses.csv"
    text = path.read_text(encoding="utf-8")
    assert "barley,cp_g_per_kg_dm,123,g/kg DM,dry matter,F-S3,print" in text
    path.write_text(
        text.replace("barley,cp_g_per_kg_dm,123,", "barley,cp_g_per_kg_dm,111,"), encoding="utf-8"
    )
    g = tables.load(overlays=[folder]).feeds["barley"].figure("cp_g_per_kg_dm")
    assert (g.value, g.mark, g.source) == (111, "user", "mine/analyses.csv")
    assert g.note == "was 123, book, read in print (F-S3)"
    same = tables.load(overlays=[folder]).feeds["barley"].figure("me_mj_per_kg_dm")
    assert (same.mark, same.source) == ("print", "F-S3")


def test_folder_with_a_few_rows_overlays_them_only(tmp_path: Path) -> None:
    written(
        tmp_path,
        "nutrient,group,lowest,highest,source,mark\ncp_g_per_kg_dm,hay,10,320,,practice\n",
        "ranges.csv",
    )
    written(
        tmp_path, "feed_id,nutrient,value,mark\nhay-poor,cp_g_per_kg_dm,15,lab\n", "analyses.csv"
    )
    made = tables.load(overlays=[tmp_path])
    assert made.feeds["hay-poor"]["cp_g_per_kg_dm"] == 15
    assert made.range_of("cp_g_per_kg_dm", "hay") == (10, 320)
    assert made.range_of("cp_g_per_kg_dm", "straw") == SHIPPED.range_of("cp_g_per_kg_dm", "straw")
    assert len(made.feeds) == 70


def test_checked_lets_a_strange_figure_in(tmp_path: Path) -> None:
    path = written(
        tmp_path, "feed_id,nutrient,value,note\nhay-poor,cp_g_per_kg_dm,15,checked twice\n"
    )
    assert tables.load(overlays=[path]).feeds["hay-poor"]["cp_g_per_kg_dm"] == 15


@pytest.mark.parametrize(
    "content",
    [
        "feed_id;nutrient;value\nhay-good;ca_g_per_kg_dm;3,4\n",
        "\ufefffeed_id;nutrient;value\r\nhay-good;ca_g_per_kg_dm;3,4\r\n",
        "sep=;\nfeed_id;nutrient;value\nhay-good;ca_g_per_kg_dm;3,4\n",
        "feed_id;nutrient;value\nhay-good;ca_g_per_kg_dm;3.4\n",
        "feed_id,nutrient,value,,\n\nhay-good,ca_g_per_kg_dm, 3.4 ,,\n,,,,\n",
        "feed_id,nutrient,value\rhay-good,ca_g_per_kg_dm,3.4\r",
        '"feed_id","value","nutrient"\n"hay-good","+3.4e0","ca_g_per_kg_dm"\n',
        "feed_id,nutrient,value\nhay-good,ca_g_per_kg_dm,3.4",
    ],
)
def test_what_spreadsheets_save_is_read(tmp_path: Path, content: str) -> None:
    made = tables.load(overlays=[written(tmp_path, content)])
    assert made.feeds["hay-good"]["ca_g_per_kg_dm"] == 3.4


def test_lines_are_those_of_the_file(tmp_path: Path) -> None:
    text = '\n\nfeed_id,nutrient,value,note\n\nhay-good,ca_g_per_kg_dm,3.4,"a\nb"\nhay-good,p_g_per_kg_dm,x,\n'
    lines = faults(written(tmp_path, text))
    assert lines[0].startswith("mine.csv line 5, column note")
    assert lines[1].startswith("mine.csv line 7, column value")


# ---- assumptions --------------------------------------------------------------------------------
def test_feed_wins_over_group() -> None:
    own = Feed("bottom-hay", "Bottom hay", "hay")
    of_group = tables.assumed(own, "adin_g_n_per_kg_dm", SHIPPED)
    of_feed = tables.assumed(SHIPPED.feeds["hay-good"], "adin_g_n_per_kg_dm", SHIPPED)
    assert of_group is not None and (of_group.value, of_group.mark) == (1.1, "memory")
    assert of_feed is not None and of_feed.value == 1.0
    assert of_group.place.startswith("assumptions.csv line ")


def test_share_rule_needs_the_protein() -> None:
    assert tables.assumed(Feed("x", "X", "straw"), "adin_g_n_per_kg_dm", SHIPPED) is None
    assert tables.assumed(Feed("x", "X", "straw"), "ge_mj_per_kg_dm", SHIPPED) is None


# ---- copying ------------------------------------------------------------------------------------
def test_copy_is_whole_and_never_overwrites(tmp_path: Path) -> None:
    folder = tmp_path / "deep" / "mine"
    done = tables.copy(folder)
    assert {p.name for p in done} == {p.name for p in folder.iterdir()}
    assert {"analyses.csv", "datapackage.json", "README.md", "limits.csv"} <= {p.name for p in done}
    (folder / "feeds.csv").write_text("mine", encoding="utf-8")
    with pytest.raises(FileError, match=r"feeds\.csv: the file is already there"):
        tables.copy(folder)
    assert (folder / "feeds.csv").read_text(encoding="utf-8") == "mine"


def test_copy_into_a_folder_that_holds_other_things(tmp_path: Path) -> None:
    (tmp_path / "farm.yaml").write_text("x", encoding="utf-8")
    tables.copy(tmp_path)
    assert (tmp_path / "farm.yaml").read_text(encoding="utf-8") == "x"
    assert tables.load(tmp_path).digest == SHIPPED.digest


def test_copy_that_fails_leaves_nothing(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    import shutil

    real, count = shutil.copyfile, 0

    def full(*args: Path) -> object:
        nonlocal count
        count += 1
        if count == 4:
            raise OSError(28, "No space left on device")
        return real(*args)

    monkeypatch.setattr(shutil, "copyfile", full)
    with pytest.raises(FileError, match="no space left on device.*nothing was written"):
        tables.copy(tmp_path / "mine")
    assert list(tmp_path.iterdir()) == []


def test_copy_onto_a_file(tmp_path: Path) -> None:
    path = written(tmp_path, "x", "mine")
    with pytest.raises(FileError, match="cannot be written to"):
        tables.copy(path)
    assert path.read_text(encoding="utf-8") == "x" and list(tmp_path.iterdir()) == [path]


# ---- broken overlays ----------------------------------------------------------------------------
LONG = "feed_id,nutrient,value\n"
FULL = "feed_id,nutrient,value,unit,basis,source,mark,spread,note\n"
WIDE = "feed_id,name,group,dm_g_per_kg_fresh,cp_g_per_kg_dm\n"
CASES: list[tuple[str, str | bytes, str]] = [
    ("empty", "", "the file is empty"),
    ("only blank lines", "\n\n\n", "the file is empty"),
    ("only commas", ",,,\n", "the file is empty"),
    ("not a table", "dear farmer\nplease find\n", "column feed_id is missing"),
    ("markup", "<!DOCTYPE html>\n<p>x</p>\n", "column feed_id is missing"),
    ("feed id heading in capitals", "Feed_id,cp_g_per_kg_dm\nhay-good,90\n", "Rename Feed_id to"),
    ("no value column", "feed_id,nutrient\nhay-good,cp_g_per_kg_dm\n", "column value is missing"),
    ("no nutrient column", "feed_id,value\nhay-good,3\n", "column nutrient is missing"),
    ("unknown column, near", "feed_id,cp_g_per_kg\nhay-good,90\n", "nearest: .*cp_g_per_kg_dm"),
    ("unknown column, far", "feed_id,zzz\nhay-good,90\n", 'column "zzz" is not known'),
    ("column twice", "feed_id,value,nutrient,value\nx,1,y,2\n", 'heading "value" stands twice'),
    (
        "column without heading",
        "feed_id,,nutrient,value\nhay-good,1,ca_g_per_kg_dm,3\n",
        "column 2: the column has no heading",
    ),
    ("short row", LONG + "hay-good,ca_g_per_kg_dm\n", "line 2: 2 cells; 3 are wanted"),
    ("long row", LONG + "hay-good,ca_g_per_kg_dm,3,1\n", "4 cells; 3 are wanted.*3.1, not 3,1"),
    ("heading repeated", LONG + LONG, "the headings stand here again"),
    ("tabs", LONG.replace(",", "\t") + "a\tb\tc\n", "columns are parted by tabs"),
    ("zero byte", b"feed_id,cp_g_per_kg_dm\nhay-good,9\x000\n", "line 2 holds a zero byte"),
    (
        "cp1252",
        "feed_id,name\nhay-good,Foin coup\xe9\n".encode("cp1252"),
        r"not UTF-8 \(byte 0xe9\)",
    ),
    ("utf-16", "feed_id,cp_g_per_kg_dm\n".encode("utf-16"), "the text is UTF-16"),
    ("workbook", b"PK\x03\x04aaaa", "spreadsheet workbook"),
    ("old workbook", b"\xd0\xcf\x11\xe0aaaa", "spreadsheet workbook"),
    ("over 2 MB", b"a" * 2_000_001, r"the file is 2\.0 MB"),
    ("open quote", LONG + 'hay-good,ca_g_per_kg_dm,"3\n', "quotation mark is open or astray"),
    ("stray quote", LONG + 'hay-good,"ca"x,3\n', "quotation mark is open or astray"),
    ("cell without end", LONG + "hay-good,ca_g_per_kg_dm," + "3" * 140_000, "far too long"),
    ("decimal comma", LONG + 'hay-good,ca_g_per_kg_dm,"3,1"\n', r'read "3,1".*Write 3\.1\.'),
    ("NA", LONG + "hay-good,ca_g_per_kg_dm,NA\n", "left empty when the figure is not known"),
    ("nan", LONG + "hay-good,ca_g_per_kg_dm,NaN\n", "left empty"),
    ("none", LONG + "hay-good,ca_g_per_kg_dm,None\n", "left empty"),
    ("dash", LONG + "hay-good,ca_g_per_kg_dm,-\n", "left empty"),
    ("inf", LONG + "hay-good,ca_g_per_kg_dm,inf\n", "a number is wanted"),
    ("huge exponent", LONG + "hay-good,ca_g_per_kg_dm,1e999\n", "a number is wanted"),
    ("large exponent", LONG + "hay-good,ca_g_per_kg_dm,1e99\n", "is plausible for hay"),
    ("hexadecimal", LONG + "hay-good,ca_g_per_kg_dm,0x1F\n", "a bare number|a number is wanted"),
    ("underscore", LONG + "hay-good,cp_g_per_kg_dm,1_00\n", "a number is wanted"),
    ("other digits", LONG + "hay-good,cp_g_per_kg_dm,٩٠\n", "a number is wanted"),
    ("thousands", LONG + 'urea,cp_g_per_kg_dm,"2,875"\n', "Write 2875"),
    ("unit in the cell", LONG + "hay-good,cp_g_per_kg_dm,9.5 %\n", 'Take "%" out'),
    ("less than", LONG + "hay-good,cp_g_per_kg_dm,<90\n", "a number is wanted"),
    ("range", LONG + "hay-good,cp_g_per_kg_dm,80-90\n", "a number is wanted"),
    ("formula in a number", LONG + "hay-good,cp_g_per_kg_dm,=85/0.87\n", "looks like a formula"),
    (
        "formula in a text",
        LONG.strip() + ",note\nhay-good,cp_g_per_kg_dm,90,=cmd|' /C calc'!A0\n",
        "looks like a formula",
    ),
    ("at formula", LONG.strip() + ",note\nhay-good,cp_g_per_kg_dm,90,@SUM(A1)\n", "formula"),
    ("spreadsheet error", LONG + "hay-good,cp_g_per_kg_dm,#DIV/0!\n", "a spreadsheet's error"),
    ("spreadsheet error in text", WIDE + "hay-good,#REF!,hay,850,90\n", "a spreadsheet's error"),
    ("negative", LONG + "hay-good,cp_g_per_kg_dm,-90\n", "at least 0 is wanted"),
    (
        "negative spread",
        "feed_id,nutrient,value,spread\nhay-good,cp_g_per_kg_dm,90,-1\n",
        "column spread: read -1",
    ),
    ("empty value", LONG + "hay-good,cp_g_per_kg_dm,\n", "the cell is empty"),
    ("empty feed", LONG + ",cp_g_per_kg_dm,90\n", "column feed_id: the cell is empty"),
    ("feed id with a space", LONG + "hay good,cp_g_per_kg_dm,90\n", "joined by hyphens"),
    ("feed id in capitals", LONG + "Hay-Good,cp_g_per_kg_dm,90\n", "lower-case words"),
    ("feed id like a path", WIDE + "../etc,Etc,hay,850,90\n", "lower-case words"),
    ("unknown feed", LONG + "hay-goood,cp_g_per_kg_dm,90\n", "nearest: hay-good"),
    ("new feed without group", "feed_id,name,cp_g_per_kg_dm\nbottom,Bottom,90\n", "no group"),
    ("new feed without name", "feed_id,group,cp_g_per_kg_dm\nbottom,hay,90\n", "no name"),
    ("unknown group", WIDE + "bottom,Bottom,grass,850,90\n", "allowed: hay, silage.*Did you mean"),
    ("unknown nutrient", LONG + "hay-good,cp_g_per_kg,90\n", "nearest: .*cp_g_per_kg_dm"),
    ("nutrient with a dash", LONG + "hay-good,cp-g,90\n", "column nutrient"),
    ("figure twice, long", LONG + 2 * "hay-good,cp_g_per_kg_dm,90\n", "stands on line 2 too"),
    ("feed twice, wide", WIDE + 2 * "hay-good,Hay,hay,850,90\n", "stands on line 2 too"),
    ("per cent as unit", FULL + "hay-good,cp_g_per_kg_dm,9.5,%,,,,,\n", r"9\.5 % is 95 g/kg"),
    ("wrong unit", FULL + "hay-good,ca_g_per_kg_dm,3,mg/kg,,,,,\n", "ca_g_per_kg_dm is in g/kg DM"),
    ("wrong basis", FULL + "hay-good,cp_g_per_kg_dm,86,,fresh,,,,\n", "on the basis dry matter"),
    ("unknown basis", FULL + "hay-good,cp_g_per_kg_dm,86,,wet,,,,\n", "allowed: fresh, dry matter"),
    ("unknown mark", FULL + "hay-good,cp_g_per_kg_dm,86,,,,printed,,\n", "Did you mean print"),
    ("protein in per cent", LONG + "hay-good,cp_g_per_kg_dm,9.5\n", r"95 would fit if it was %"),
    ("calcium in mg", LONG + "hay-good,ca_g_per_kg_dm,4800\n", r"4\.8 would fit if it was mg/kg"),
    (
        "moisture as dry matter",
        LONG + "hay-good,dm_g_per_kg_fresh,140\n",
        "750 to 950 is plausible",
    ),
    ("energy in Mcal or nonsense", LONG + "hay-good,me_mj_per_kg_dm,2.1\n", "5 to 12 is plausible"),
    ("share over one", LONG + "hay-good,n_a_share,22\n", "0 to 1 is plausible"),
    ("a and b over one", "feed_id,n_a_share,n_b_share\nhay-good,0.6,0.5\n", "a and b add to 1.1"),
    (
        "parts over 1100",
        (
            "feed_id,cp_g_per_kg_dm,ndf_g_per_kg_dm,ash_g_per_kg_dm,sugar_g_per_kg_dm\n"
            "hay-good,250,750,100,200\n"
        ),
        "add to 1316 g/kg DM",
    ),
    (
        "more bound nitrogen than nitrogen",
        ("feed_id,cp_g_per_kg_dm,adin_g_n_per_kg_dm\nstraw-oat,20,3.9\n"),
        "a part of all nitrogen",
    ),
    ("D-value and ash", "feed_id,domd_g_per_kg_dm\nkale,900\n", "ash are at most 1000"),
    ("line break in a name", 'feed_id,name,group\nbottom,"Bot\ntom",hay\n', "a line break"),
    ("unseen letter", "feed_id,name,group\nbottom,Bot\u200btom,hay\n", "unseen character"),
    ("right-to-left letter", "feed_id,name,group\nbottom,Bot\u202etom,hay\n", "unseen character"),
    ("endless name", f"feed_id,name,group\nbottom,{'b' * 2001},hay\n", "at most 2000 letters"),
    (
        "semicolons, thousands or decimals",
        "feed_id;nutrient;value\nurea;cp_g_per_kg_dm;2,875\n",
        "may part thousands or decimals.*2875",
    ),
    (
        "semicolons, a point for thousands",
        ("feed_id;ca_g_per_kg_dm;cp_g_per_kg_dm\nhay-good;4,5;1.060\n"),
        "a point may part thousands",
    ),
    ("mixed delimiters", "feed_id;nutrient,value\nhay-good;ca_g_per_kg_dm,3\n", "is missing"),
]


def test_there_are_enough_broken_tables() -> None:
    assert len(CASES) + len(list(BROKEN.iterdir())) >= 60


@pytest.mark.parametrize(("content", "match"), [c[1:] for c in CASES], ids=[c[0] for c in CASES])
def test_broken_overlay(tmp_path: Path, content: str | bytes, match: str) -> None:
    lines = faults(written(tmp_path, content))
    assert any(re.search(match, line) for line in lines), lines
    assert lines[0].startswith("mine.csv")


@pytest.mark.parametrize(
    ("name", "matches"),
    [
        ("decimal_comma_and_na.csv", [r"line 2, column value.*Write 3\.1", "line 3.*left empty"]),
        ("unquoted_decimal_comma.csv", ["line 2: 4 cells; 3 are wanted"]),
        ("tabs.csv", ["parted by tabs"]),
        ("cp1252.csv", ["line 2 holds a letter that is not UTF-8"]),
        ("zero_byte.csv", ["line 2 holds a zero byte"]),
        ("utf16.csv", ["UTF-16"]),
        ("workbook.csv", ["workbook"]),
        ("open_quote.csv", ["quotation mark"]),
        ("headings_again.csv", ["line 3: the headings stand here again"]),
        ("two_kinds_of_point.csv", ["line 2.*may part thousands", "line 4.*thousands or decimals"]),
    ],
)
def test_broken_file(name: str, matches: list[str]) -> None:
    lines = faults(BROKEN / name)
    assert len(lines) == len(matches)
    for line, match in zip(lines, matches, strict=True):
        assert re.search(match, line), line


def test_every_broken_file_is_used() -> None:
    source = Path(__file__).read_text(encoding="utf-8")
    assert all(f'"{p.name}"' in source for p in BROKEN.iterdir())


def test_all_faults_of_all_files_at_once(tmp_path: Path) -> None:
    one = written(
        tmp_path, LONG + "hay-good,cp_g_per_kg_dm,x\nhay good,cp_g_per_kg_dm,1e\n", "1.csv"
    )
    two = written(tmp_path, "feed_id,zzz\nhay-good,1\n", "2.csv")
    with pytest.raises(InputError) as caught:
        tables.load(overlays=[one, two])
    text = str(caught.value)
    assert [
        w
        for w in (
            "1.csv line 2",
            "1.csv line 3, column feed_id",
            "1.csv line 3, column value",
            "2.csv line 1",
        )
        if w not in text
    ] == []


@pytest.mark.parametrize("name", ["nothing.csv", "a\0b.csv", "x" * 300 + ".csv", "two\nlines.csv"])
def test_no_such_file(tmp_path: Path, name: str) -> None:
    faults(tmp_path / name)


def test_empty_folder_and_stray_file(tmp_path: Path) -> None:
    assert "no feed table is in this folder" in faults(tmp_path)[0]
    written(tmp_path, LONG, "hay.csv")
    assert re.search("hay.csv: this is not one of the feed tables", faults(tmp_path)[0])


# ---- broken shipped-like folders ------------------------------------------------------------------
@pytest.mark.parametrize(
    ("file", "old", "new", "match"),
    [
        (
            "analyses.csv",
            "barley,cp_g_per_kg_dm,123",
            "barly,cp_g_per_kg_dm,123",
            'column feed_id: read "barly"; it is not in feeds.csv; nearest: barley',
        ),
        ("analyses.csv", ",F-S35,", ",F-S99,", "not in sources.csv"),
        ("analyses.csv", "barley,cp_g_per_kg_dm,", "barley,cp_g_per_kg_d,", "not in nutrients.csv"),
        (
            "analyses.csv",
            "barley,cp_g_per_kg_dm,123,g/kg DM",
            "barley,cp_g_per_kg_dm,123,%",
            "column unit",
        ),
        ("analyses.csv", ",print,", ",,", "column mark: the cell is empty"),
        ("feeds.csv", "barley,Barley grain,cereal", "barley,Barley grain,corn", "column group"),
        ("feeds.csv", "confidence", "trust", 'column "trust" is not known'),
        ("feeds.csv", "\noats,", "\nbarley,", "feed_id barley stands on line"),
        (
            "nutrients.csv",
            "cp_g_per_kg_dm,Crude protein (CP),g/kg DM,dry matter,0",
            "cp_g_per_kg_dm,Crude protein (CP),g/kg DM,dry matter,0.5",
            "a whole number is wanted",
        ),
        (
            "ranges.csv",
            "cp_g_per_kg_dm,hay,20,300",
            "cp_g_per_kg_dm,hay,300,20",
            "lowest is over highest",
        ),
        ("ranges.csv", "cp_g_per_kg_dm,hay,20,300", "cp_g_per_kg_dm,hay,20,90", "is plausible"),
        ("assumptions.csv", "\nhay,", "\nhays,", 'column match: read "hays"'),
        ("assumptions.csv", "share_of_n", "share_of_cp", "Did you mean share_of_n"),
        ("sources.csv", "\nF-S35,", "\nF-S34,", "source F-S34 stands on line"),
        ("datapackage.json", '"primaryKey"', '"primaryKey', "it cannot be understood"),
        ("datapackage.json", '"name": "ranges"', '"name": "rangers"', "it cannot be understood"),
        ("datapackage.json", "[a-z][a-z0-9_]*", "[a-z", "it cannot be understood"),
        ("datapackage.json", '"resource": "feeds"', '"resource": "food"', "cannot be understood"),
        ("datapackage.json", '"resources"', '"recources"', "it cannot be understood"),
    ],
)
def test_broken_folder(tmp_path: Path, file: str, old: str, new: str, match: str) -> None:
    folder = tmp_path / "t"
    tables.copy(folder)
    path = folder / file
    text = path.read_text(encoding="utf-8")
    assert old in text
    path.write_text(text.replace(old, new), encoding="utf-8")
    with pytest.raises(InputError) as caught:
        tables.load(folder)
    lines = [str(p) for p in caught.value.problems]
    assert any(re.search(match, line) for line in lines), lines[:5]
    assert all("\n" not in line for line in lines)


def test_folder_without_a_table(tmp_path: Path) -> None:
    folder = tmp_path / "t"
    tables.copy(folder)
    (folder / "ranges.csv").unlink()
    with pytest.raises(FileError, match=r"ranges\.csv: the file is missing"):
        tables.load(folder)


# ---- doubts -------------------------------------------------------------------------------------
@pytest.mark.parametrize(
    ("header", "cells", "match"),
    [
        ("adf_g_per_kg_dm,ndf_g_per_kg_dm", "450,400", "ADF is a part of NDF"),
        ("me_mj_per_kg_dm", "7.0", "goes with that D-value"),
        ("cp_g_per_kg_dm,ndf_g_per_kg_dm", "200,750", "add to 1041 g/kg DM.*doubtful"),
    ],
)
def test_doubts_are_told_by_check_and_let_in_by_load(
    tmp_path: Path, header: str, cells: str, match: str
) -> None:
    path = written(tmp_path, f"feed_id,{header}\nhay-good,{cells}\n")
    found = tables.check(path)
    assert found and all(isinstance(p, Doubt) for p in found)
    assert any(re.search(match, str(p)) for p in found), found
    assert tables.load(overlays=[path]).feeds["hay-good"]


def test_check_over_other_overlays(tmp_path: Path) -> None:
    one = written(tmp_path, WIDE + "bottom,Bottom,hay,850,90\n", "one.csv")
    two = written(tmp_path, LONG + "bottom,ca_g_per_kg_dm,3\n", "two.csv")
    assert tables.check(two)
    assert tables.check(two, tables.load(overlays=[one])) == []


# ---- the reader by itself -----------------------------------------------------------------------
NUMBERS = Schema(
    "t", (Field("name", required=True), Field("value", "number"), Field("n", "integer"))
)


@given(
    st.lists(
        st.tuples(
            st.from_regex(r"[a-z][a-z,;\"' ]{0,8}[a-z]", fullmatch=True),
            st.one_of(st.none(), st.floats(-1e6, 1e6, allow_nan=False).map(lambda x: round(x, 3))),
            st.one_of(st.none(), st.integers(-999, 999)),
        ),
        min_size=1,
        max_size=6,
    ),
    st.sampled_from(["\n", "\r\n"]),
    st.booleans(),
)
def test_written_table_is_read_back(
    items: list[tuple[str, float | None, int | None]], end: str, mark: bool
) -> None:
    out = io.StringIO(newline="")
    writer = csv.writer(out, lineterminator=end)
    writer.writerow(["name", "value", "n"])
    for name, value, n in items:
        writer.writerow([name, "" if value is None else f"{value:.3f}", "" if n is None else n])
    text = ("\ufeff" if mark else "") + out.getvalue()
    plain = text.replace("\ufeff", "").replace("\r\n", "\n")
    got = rows(cut("t.csv", plain), NUMBERS)
    assert [(r.text("name"), r.number("value"), r.cells["n"]) for r in got] == items
    assert [r.line for r in got] == list(range(2, 2 + len(items)))


def test_row_reads_its_cells() -> None:
    row = Row("t.csv", 3, {"a": "x", "b": None, "c": 2})
    assert (row.text("a"), row.text("b"), row.text("z"), row.number("c")) == ("x", "", "", 2.0)
    assert row.number("a") is None and row.place == "t.csv line 3"


def test_size_is_looked_at_before_reading(tmp_path: Path) -> None:
    path = tmp_path / "big.csv"
    with path.open("wb") as f:
        f.truncate(3_000_000_000)  # sparse: takes no room, would take 3 GB of memory if read
    with pytest.raises(FileError, match="3000.0 MB"):
        read_text(path)


def test_thousands_of_mutations_never_end_in_a_traceback() -> None:
    schema = tables.schemas()["analyses"]
    lines = (tables.tables_folder() / "analyses.csv").read_text(encoding="utf-8").splitlines()[:40]
    text = "\n".join(lines)
    rng = random.Random(19930)
    alphabet = ',;"\n\t=-+#%.0123456789eExNA\u200b\u00a0é'
    refused = 0
    for _ in range(2000):
        chars = list(text)
        for _ in range(rng.randint(1, 4)):
            i = rng.randrange(len(chars))
            match rng.randrange(3):
                case 0:
                    chars[i] = rng.choice(alphabet)
                case 1:
                    del chars[i : i + rng.randint(1, 30)]
                case 2:
                    chars.insert(i, rng.choice(alphabet) * rng.randint(1, 3))
        try:
            rows(cut("t.csv", "".join(chars)), schema)
        except (FileError, TableError) as e:
            refused += 1
            assert all("\n" not in str(p) and p.where.startswith("t.csv") for p in e.problems)
    assert refused > 500


def test_bytes_at_random_never_end_in_a_traceback(tmp_path: Path) -> None:
    raw = (tables.tables_folder() / "feeds.csv").read_bytes()[:3000]
    rng = random.Random(1991)
    schema = tables.schemas()["feeds"]
    for _ in range(200):
        data = bytearray(raw)
        for _ in range(rng.randint(1, 3)):
            data[rng.randrange(len(data))] = rng.randrange(256)
        path = written(tmp_path, bytes(data))
        try:
            read_rows(path, schema)
        except InputError as e:
            assert all("\n" not in str(p) for p in e.problems)


@pytest.mark.parametrize("seed", range(40))
def test_mutated_overlays_load_or_are_refused_in_words(tmp_path: Path, seed: int) -> None:
    rng = random.Random(seed)
    fresh = [
        "feed_id;name;group;mark;note;dm_g_per_kg_fresh;cp_g_per_kg_dm;n_a_share",
        "hay-good;Hay;hay;lab;;851,5;86,2;0,31",
        "new-hay;New hay;hay;;checked;851;8,6;0,2",
    ]
    sheet = [
        "feed_id,nutrient,value,unit,basis,source,mark,spread,note,name,group",
        "hay-good,cp_g_per_kg_dm,86,g/kg DM,dry matter,sheet,lab,2,,,",
        "new-hay,ca_g_per_kg_dm,3.1,,,,,,,New hay,hay",
    ]
    chars = list("\n".join(rng.choice((fresh, sheet))) + "\n")
    for _ in range(rng.randint(1, 3)):
        i = rng.randrange(len(chars))
        if rng.random() < 0.5:
            chars[i] = rng.choice(',;"\n=-9.ax ')
        else:
            del chars[i : i + rng.randint(1, 12)]
    path = written(tmp_path, "".join(chars))
    try:
        made = tables.load(overlays=[path])
    except InputError as e:
        assert e.problems and all("\n" not in str(p) for p in e.problems)
    else:
        assert 70 <= len(made.feeds) <= 72

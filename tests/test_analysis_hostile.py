"""Broken, odd and malicious sheets: one line each problem, never another error, never a guess."""

from __future__ import annotations

import random
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ration import analysis, tables
from ration.analysis import reader as lab_reader
from ration.errors import InputError

TABLES = tables.load()
HAY = TABLES.feeds["hay-good"]
HEAD = "field,value,unit,basis\n"
DEEP = "a: " + "[" * 500 + "]" * 500
BOMB = "a: &a [x,x,x,x,x,x,x,x,x]\nb: &b [*a,*a,*a,*a,*a,*a,*a,*a]\nc: [*b,*b,*b,*b,*b,*b]\n"

# name: (file ending, content, words of the message)
BROKEN: dict[str, tuple[str, str | bytes, str]] = {
    "empty": ("csv", "", "the file is empty"),
    "only blanks": ("csv", " \n\t\n  \n", "the file is empty"),
    "only a heading": ("csv", HEAD, "no figure of a feed was found"),
    "only a byte-order mark": ("csv", b"\xef\xbb\xbf", "the file is empty"),
    "prose": ("csv", "Dear sir\nthe hay is good\n", "only one column"),
    "one column of names": ("csv", "protein\nenergy\nash\n", "only one column"),
    "one column with figures": ("csv", "protein 6.9 %\nME 8.1\n", "only one column"),
    "no figure known": ("csv", HEAD + "moonstuff,3,%,DM\nstardust,4,%,DM\n", "no figure of a feed"),
    "spreadsheet": ("csv", b"PK\x03\x04\x14\x00\x06\x00" + b"\0" * 50, "this is a spreadsheet"),
    "old spreadsheet": ("csv", b"\xd0\xcf\x11\xe0\xa1\xb1" + b"\0" * 50, "old spreadsheet"),
    "pdf": ("csv", b"%PDF-1.7\n%\xe2\xe3", "this is a PDF"),
    "binary": ("csv", bytes(range(256)) * 4, "this is not text"),
    "zero bytes inside": ("csv", b"protein,6.9,%\n\0\0\0\nME,8,MJ/kg\n", "this is not text"),
    "bell": ("csv", "protein,6.9,%\x07,DM\n", "line 1: this is not text"),
    "escape codes": ("csv", "protein,\x1b[31m6.9,%\n", "this is not text"),
    "half a UTF-16": ("csv", "field,value\nprotein,6".encode("utf-16")[:-1], "this is not text"),
    "wrong ending": ("xlsx", "protein,6.9,%,DM", 'ending in ".xlsx" is not read'),
    "no ending": ("", "protein,6.9,%,DM", "is not read here"),
    "program": ("py", "import os", "is not read here"),
    "too large": ("csv", "protein,6.9,%,DM\n" * 40_000, "the file is too large"),
    "too many rows": ("csv", "protein,6.9,%,DM\n" * 2100, "more than 2000 rows"),
    "too many columns": ("csv", HEAD + "x," * 300 + "\n", "more than 200 columns"),
    "very long cell": ("csv", HEAD + "protein," + "9" * 5000 + ",%,DM\n", "a cell is too long"),
    "quote left open": (
        "csv",
        HEAD + '"protein,6.9,%,DM\nME,8.1,MJ/kg,DM\n',
        "cannot be told apart",
    ),
    "quote closed early": ("csv", HEAD + '"pro"tein,6.9,%,DM\n', "cannot be told apart"),
    "more than all": ("csv", HEAD + "protein,106,%,DM\n", "Did you mean 106 g/kg?"),
    "dry matter over all": ("csv", HEAD + "dry matter,860,%,\n", "Did you mean 860 g/kg?"),
    "grams over a kilogram": ("csv", HEAD + "NDF,6200,g/kg,DM\n", "more than the whole feed"),
    "below zero": ("csv", HEAD + "protein,-6.9,%,DM\n", "cannot be below zero"),
    "long minus sign": ("csv", HEAD + "protein,\u22126.9,%,DM\n", "cannot be below zero"),
    "infinite": ("csv", HEAD + "protein,inf,%,DM\n", "a number is wanted"),
    "not a number": ("csv", HEAD + "protein,nan,%,DM\n", "a number is wanted"),
    "words for a figure": ("csv", HEAD + "protein,low,%,DM\n", "a number is wanted"),
    "two figures": ("csv", HEAD + "protein,6.9-7.2,%,DM\n", "one figure is wanted, not two"),
    "two points": ("csv", HEAD + "protein,6.9.1,%,DM\n", "cannot be made out"),
    "two commas": ("csv", HEAD + 'protein,"6,9,1",%,DM\n', "cannot be made out"),
    "power of ten": ("csv", HEAD + "protein,6.9e1,g/kg,DM\n", "powers of ten"),
    "hexadecimal": ("csv", HEAD + "protein,0x45,g/kg,DM\n", "is not a unit read here"),
    "other digits": ("csv", HEAD + "protein,\u0666.\u0669,%,DM\n", "a number is wanted"),
    "very many digits": ("csv", HEAD + "protein," + "6" * 60 + ",%,DM\n", "too many digits"),
    "formula": ("csv", HEAD + "protein,=1+1,%,DM\n", "a number is wanted"),
    "spreadsheet error": ("csv", HEAD + "protein,#DIV/0!,%,DM\n", "a number is wanted"),
    "date for a figure": ("csv", HEAD + "protein,06/09/2026,%,DM\n", "one figure is wanted"),
    "clock for a figure": ("csv", HEAD + "protein,12:30,%,DM\n", "is not a unit read here"),
    "unit of a shop": ("csv", HEAD + "protein,12,oz,DM\n", '"oz" is not a unit read here'),
    "unit of another kind": ("csv", HEAD + "protein,8.1,MJ/kg,DM\n", "is not given in mj/kg"),
    "energy in grams": ("csv", HEAD + "ME,8.1,g/kg,DM\n", "is not given in g/kg"),
    "acidity in per cent": ("csv", HEAD + "pH,5.6,%,\n", "pH is not given in %"),
    "unit said twice": ("csv", HEAD + "protein (g/kg),6.9,%,DM\n", "unit is given as"),
    "basis said twice": ("csv", HEAD + "protein (% fresh),6.9,,DM\n", "basis is given as"),
    "basis unknown": ("csv", HEAD + "protein,6.9,%,moon\n", "it is fresh or dry matter"),
    "no unit, two meanings": ("csv", HEAD + "protein,30,,DM\n", "it may be in % or g/kg"),
    "no unit, no meaning": ("csv", HEAD + "protein,0.07,,DM\n", "it may be in % or g/kg"),
    "decimal comma not in quotes": (
        "csv",
        HEAD + "protein,6,9,%,DM\n",
        "more cells than there are",
    ),
    "decimal commas in a row": (
        "csv",
        "Sample,DM %,CP % DM\nHay,86,0,6,9\n",
        "more cells than there",
    ),
    "comma with three digits": (
        "csv",
        HEAD + 'iron,"1,234",mg/kg,DM\n',
        "it could be 1234 or 1.234",
    ),
    "protein twice": ("csv", HEAD + "protein,6.9,%,DM\nCP,7.4,%,DM\n", "stand in one sample"),
    "two figures in a loose row": ("csv", "protein,6.9,7.4,%\n", "one figure is wanted in a row"),
    "samples side by side": (
        "csv",
        "Analysis,Hay A,Hay B\nprotein,6.9,7.4\n",
        "no column of figures",
    ),
    "OMD of dry matter": ("csv", HEAD + "OMD,66,%,DM\n", "Ask the laboratory"),
    "slip for any feed": ("csv", HEAD + "protein,12,g/kg,DM\n", "Did you mean 12 %?"),
    "impossible energy": ("csv", HEAD + "ME,81,MJ/kg,DM\n", "cannot be"),
    "fresh without dry matter": ("csv", HEAD + "protein,6,%,fresh\n", "gives no dry matter"),
    "wide with words": ("csv", "Sample,DM %,CP % DM\nHay,86,low\n", "a number is wanted"),
    "yaml bomb": ("yaml", BOMB, "is not allowed here"),
    "yaml reference": ("yaml", "protein: &p 6.9 % DM\nash: *p\n", "is not allowed here"),
    "yaml object": ("yaml", "protein: !!python/object/apply:os.system ['true']\n", "tag"),
    "yaml tag": ("yaml", "protein: !!float 6.9\n", "tag"),
    "yaml key twice": ("yaml", "protein: 6.9 % DM\nprotein: 7.4 % DM\n", "a second time"),
    "yaml figure twice": ("yaml", "protein: 6.9 % DM\nCP: 7.4 % DM\n", "stand in one sample"),
    "yaml second document": (
        "yaml",
        "protein: 6.9 % DM\n---\nprotein: 7 % DM\n",
        "second document",
    ),
    "yaml deep": ("yaml", DEEP, "nested too deep"),
    "yaml tab": ("yaml", "protein:\n\t- 6.9\n", "tab"),
    "yaml list of words": ("yaml", "- protein\n- energy\n", "a group of names with values"),
    "yaml one word": ("yaml", "protein\n", "no names with values"),
    "yaml open bracket": ("yaml", "protein: [6.9\n", "bracket"),
    "yaml quote open": ("yaml", 'protein: "6.9 % DM\n', "quote"),
    "yaml only a comment": ("yaml", "# protein: 6.9\n", "empty"),
    "yaml nothing known": ("yaml", "moonstuff: 3 % DM\n", "no figure of a feed"),
    "yaml long value": ("yaml", "note: " + "x" * 3000 + "\n", "a value is too long"),
    "yaml bare number": ("yaml", "protein: 30\n", "it may be in % or g/kg"),
    "yaml yes": ("yaml", "protein: yes\n", "a number is wanted"),
    "yaml too large": ("yaml", "a: 1\n" * 200_000, "too large"),
    "yaml zero byte": ("yaml", b"protein: 6.9\0 % DM\n", "not text"),
}


def one_line_each(error: InputError) -> None:
    assert error.exit_code == 1
    assert error.problems
    for problem in error.problems:
        line = str(problem)
        assert "\n" not in line
        assert line == line.strip()
        assert line.endswith((".", "?"))
        assert len(line) < 700
        assert "Traceback" not in line
        assert "Error" not in line


@pytest.mark.parametrize(("ending", "content", "text"), BROKEN.values(), ids=BROKEN)
def test_broken_sheet_is_refused_in_a_line(
    ending: str, content: str | bytes, text: str, tmp_path: Path
) -> None:
    path = tmp_path / ("sheet." + ending if ending else "sheet")
    path.write_bytes(content if isinstance(content, bytes) else content.encode())
    with pytest.raises(InputError) as caught:
        analysis.feed_from(analysis.read_sheet(path, TABLES), HAY, TABLES)
    one_line_each(caught.value)
    assert text in str(caught.value)
    assert all(p.where.startswith("sheet") for p in caught.value.problems)
    assert str(tmp_path) not in str(caught.value)


def test_there_are_enough_of_them() -> None:
    assert len(BROKEN) >= 60


def test_missing_file_and_folder_are_refused_in_a_line(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="there is no such file") as caught:
        analysis.read_sheet(tmp_path / "nothing.csv")
    one_line_each(caught.value)
    (tmp_path / "folder.csv").mkdir()
    with pytest.raises(InputError, match="cannot be read") as caught:
        analysis.read_sheet(tmp_path / "folder.csv")
    one_line_each(caught.value)
    with pytest.raises(InputError) as caught:
        analysis.read_sheet("a\0b.csv")
    one_line_each(caught.value)


def test_all_problems_of_a_sheet_are_told_at_once(tmp_path: Path) -> None:
    path = tmp_path / "sheet.csv"
    path.write_text(HEAD + "protein,106,%,DM\nME,low,MJ/kg,DM\nash,7,oz,DM\noil,5,,DM\n")
    with pytest.raises(InputError) as caught:
        analysis.read_sheet(path, TABLES)
    assert [p.where for p in caught.value.problems] == [
        "sheet.csv line 2, protein", "sheet.csv line 3, energy", "sheet.csv line 4, ash",
        "sheet.csv line 5, oil",
    ]  # fmt: skip


GOOD = (
    HEAD + "sample,Hay,,\nlaboratory,Laboratory 1,,\ndry matter,86,%,fresh\nprotein,6.9,%,DM\n"
    "ME,8.1,MJ/kg,DM\nCa,5.2,g/kg,DM\nCu,9.8,mg/kg,DM\n",
    "Sample;DM %;CP (% DM);ME (MJ/kg DM)\nHay;86,0;6,9;8,1\nOther;85,1;7,2;8,4\n",
    "sample: Hay\nprotein: 6.9 % DM\nME: 8.1 MJ/kg DM\nsamples:\n- sample: B\n  ash: 7 % DM\n",
)
PIECES = ('"', ",", ";", "\t", "\n", ":", "-", "%", "<", "1e9", "{", "[", "&a", "*a", "!!x",
          "\u00b5", "0", "999999", "DM", "fresh", "protein", "'", "#", "|",
          "\ufeff", "n/a")  # fmt: skip


def read_or_refuse(text: str, is_yaml: bool) -> bool:
    """True when it was read; a refusal must be in one-liners; any other error fails the test."""
    try:
        read = lab_reader.sheets_of_text(text, "sheet.csv", is_yaml=is_yaml)
        for sheet in read:
            analysis.checks(sheet, "hay", TABLES)
        analysis.words(analysis.feed_from(read, HAY, TABLES))
    except InputError as error:
        one_line_each(error)
        return False
    return True


def test_a_thousand_spoilt_sheets_are_read_or_refused() -> None:
    chance = random.Random(20261116)
    outcomes = []
    for _ in range(1000):
        which = chance.randrange(len(GOOD))
        text = GOOD[which]
        for _ in range(chance.randint(1, 4)):
            at = chance.randrange(len(text) + 1)
            cut = chance.choice((0, 0, 1, 3, 10))
            text = text[:at] + chance.choice(PIECES) * chance.choice((1, 1, 2)) + text[at + cut :]
        outcomes.append(read_or_refuse(text, is_yaml=which == 2))
    assert 50 < sum(outcomes) < 950  # both outcomes are met often


@given(st.text(max_size=200), st.booleans())
def test_any_text_is_read_or_refused(text: str, is_yaml: bool) -> None:
    read_or_refuse(text, is_yaml)


@given(st.binary(max_size=300))
def test_any_bytes_are_text_or_refused(data: bytes) -> None:
    try:
        lab_reader.text_of(data, "sheet.csv")
    except InputError as error:
        one_line_each(error)

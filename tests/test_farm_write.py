"""Exact write-back of farm files and feed tables, undo, and saving.

What a text means is asked of PyYAML (another reader than ours) and of the csv module of Python's
library; that a save is whole is tried by killing the saver. The farms are invented.
"""

from __future__ import annotations

import csv
import io
import os
import re
import stat
import subprocess
import sys
import tempfile
import textwrap
import threading
from collections.abc import Callable
from functools import cache
from pathlib import Path
from typing import Any

import pytest
import yaml
from hypothesis import example, given
from hypothesis import strategies as st

from ration import farm, strict_yaml, tables
from ration.errors import FileError, InputError, UnknownName
from ration.farm import write
from ration.strict_yaml import Keys
from ration.tables import Tables, overlay_write

DEMO = Path(farm.__file__).parent.parent / "demo"
FARMS = ("quernhope.yaml", "hafod-wrynach.yaml")
HOSTILE = (
    "a: b", "a:\n  b: c", "- a", "-", "#", " # x", "x # y", "x #y", "x#y", '"', "'", '"a" b',
    "'a' b", "it's \"so\"", "\\", "a\\nb", "a\nb", "\n", "a\n", "  a", "a  ", "", " ", "\t", "a\tb",
    "{", "}", "{a: b}", "[", "]", "a, b", "a], b", "a}, b: c", "*a", "&a b", "!tag x", "!!int 3",
    "%x", "@x", "`x", "|", "> x", "|\n  x", "? a", "?", ":", ": x", "x:", "::", "---", "--- x",
    "...", "yes", "no", "true", "null", "~", "on", "Off", "y", "2026-11-16", "16:30", "0x1f", "010",
    "1e5", ".5", ".nan", ".inf", "1_000", "<<", "=", "-5", "42.0", "3,1", "£8.35", "½ bale",
    "Cae'r Môr", "草", "🐑 ewes", "\u2028x", "\x85", "\xa0x", "a\r\nb", "x" * 10_000, "a: #" * 2_500,
)  # fmt: skip


def text_of(name: str) -> str:
    return (DEMO / name).read_bytes().decode()


def read(text: str) -> Any:
    sheet = strict_yaml.parse(text, "farm.yaml")
    assert not sheet.problems
    return sheet.data


def at(data: Any, keys: Keys) -> Any:
    for key in keys:
        data = data[key]
    return data


def pruned(data: Any, keys: Keys) -> Any:
    """Plain data as text, in order and with its kinds, one path left out."""
    if not keys:
        return "..."
    if isinstance(data, dict):
        return [(k, pruned(v, keys[1:]) if k == keys[0] else repr(v)) for k, v in data.items()]
    return [pruned(v, keys[1:]) if i == keys[0] else repr(v) for i, v in enumerate(data)]


def scalars(text: str) -> list[Keys]:
    spans = strict_yaml.parse(text, "farm.yaml").spans
    return [k for k, s in spans.items() if s.kind not in ("flow", "block")]


def remarks_of(text: str) -> list[str]:
    """Remarks of the demo farms, whose values hold no "#"."""
    return [r.rstrip() for r in re.findall("#.*", text)]


# ---------------------------------------------------------------- every value of the demo farms


@pytest.mark.parametrize(("name", "ending"), [(FARMS[0], "\n"), (FARMS[1], "\r\n")])
def test_every_scalar_of_the_demo_farms_changed_one_by_one(name: str, ending: str) -> None:
    text = text_of(name).replace("\n", ending)
    before, lines = read(text), text.split(ending)
    paths = scalars(text)
    assert len(paths) > 60
    for keys in paths:
        made = write.set_value(text, keys, "new: #1")
        after = read(made.text)
        assert at(after, keys) == "new: #1"
        assert pruned(after, keys) == pruned(before, keys)
        assert remarks_of(made.text.replace('"new: #1"', "")) == remarks_of(text)
        now = made.text.split(ending)
        differ = [i for i, (a, b) in enumerate(zip(lines, now, strict=True)) if a != b]
        assert differ == [made.line - 1]
        assert made.line_before == lines[differ[0]] and made.line_after == now[differ[0]]
        assert '"new: #1"' in made.line_after
        assert write.set_value(made.text, keys, at(before, keys)).before == "new: #1"


@pytest.mark.parametrize("name", FARMS)
def test_a_remark_keeps_its_column(name: str) -> None:
    text = text_of(name)
    for keys in scalars(text):
        made = write.set_value(text, keys, "9 kg")
        if "#" in made.line_before and len(made.line_before.split("#")[0].rstrip()) > 12:
            assert made.line_after.index("#") == made.line_before.index("#")
    # longer than there is room for: two spaces, as a person would leave
    longer = write.set_value(text, ("mature weight",), "x" * 60).line_after
    assert re.search("x  # what the ewes", longer)


@pytest.mark.parametrize("name", FARMS)
def test_every_scalar_taken_out_leaves_all_else(name: str) -> None:
    text = text_of(name)
    before = read(text)
    for keys in scalars(text):
        made = write.remove_value(text, keys)
        gone = made.keys
        assert gone == keys[: len(gone)]
        assert len(at(before, gone[:-1])) > 1 or re.search(r"[{\[]", made.line_before)
        assert made.text != text and remarks_of(made.text) == remarks_of(text)
        if len(at(before, gone[:-1])) > 1:
            assert [k for k in at(before, gone[:-1]) if k != gone[-1]] == list(
                at(read(made.text), gone[:-1])
            )
        without = write.remove_value(text, keys, keep_remarks=False).text
        assert len(without) <= len(made.text)


@pytest.mark.parametrize("value", HOSTILE, ids=range(len(HOSTILE)))
def test_hostile_values_stay_in_their_place(value: str) -> None:
    text = text_of("quernhope.yaml")
    before = read(text)
    for keys in (
        ("name",),
        ("batches", "strong", "weight"),
        ("wintering", "ways", "away", "visits", "miles"),
        ("stores", "bin", "for", 0),
        ("feeds", "Bottom Ings", "first claim", "ewes"),
        ("feeds", "limestone"),
    ):
        made = write.set_value(text, keys, value)
        found, after = made.keys, read(made.text)
        read_as = at(after, found)
        if re.fullmatch(r"-?\d+(\.\d+)?", value) and value != "010":
            assert isinstance(read_as, int | float) and read_as == float(value)
        else:
            assert read_as == value
            # PyYAML's own loader takes it for the same text: no date, octal or number
            assert at(yaml.safe_load(made.text), _as_written(text, found)) == value
        assert pruned(after, found) == pruned(before, found)
        assert made.text.count("# weighed on 28 October") == 1


def _as_written(text: str, keys: Keys) -> Keys:
    sheet = strict_yaml.parse(text, "farm.yaml")
    return tuple(sheet.written.get(keys[: i + 1], k) for i, k in enumerate(keys))


@pytest.mark.parametrize("value", HOSTILE, ids=range(len(HOSTILE)))
def test_hostile_names_and_values_added(value: str) -> None:
    text = text_of("quernhope.yaml")
    before = read(text)
    for group in (("feeds", "soya"), ("wintering", "ways", "away", "visits"), ("fed",)):
        made = write.add_value(text, group, "note", value)
        assert pruned(read(made.text), (*group, "note")) != pruned(before, (*group, "note"))
        assert (
            list(at(read(made.text), group))[:-1] == list(at(before, group)) or group[0] == "feeds"
        )
        if not strict_yaml.tidy(value) or value.splitlines() != [value] or len(value) > 200:
            with pytest.raises(InputError, match="name"):
                write.add_value(text, group, value, "1 kg")
            continue
        made = write.add_value(text, group, value, "1 kg")
        key = strict_yaml.tidy(value)
        assert at(read(made.text), group)[key] == "1 kg"
        assert write.remove_value(made.text, (*group, value)).text == text


@pytest.mark.parametrize("odd", ["\0", "\x1b[2J", "\x07", "\ud800", "\ufffe"])
def test_characters_that_are_no_text_are_refused(odd: str) -> None:
    with pytest.raises(InputError, match="does not belong in text"):
        write.set_value("a: 1\n", ("a",), f"x{odd}")


# ---------------------------------------------------------------- generated farm files

NAMES = ("Long Meadow", "Tom's oats", "Cae'r Môr", "hay_average", "D-value", "vitamin D", "草地",
         "1 January", "price", "x:y", "feeds", "note!", "Ärmel 3", "🐑 ewes", "9")  # fmt: skip
WORDS = st.sampled_from(
    [
        "8.6 %",
        "211 /t",
        "yes",
        "",
        "92",
        "1.05",
        "a b",
        "28 October 2026",
        "£8",
        "草",
        "it's",
        "x#y",
    ]
)


@st.composite
def farms(draw: Callable[..., Any]) -> str:
    """A farm file's text: groups and lists, indented or in brackets, remarks everywhere."""
    count = iter(range(10_000))
    eol = draw(st.sampled_from(["\n", "\r\n"]))
    step = draw(st.integers(1, 4))

    def remark(least: int = 2) -> str:
        gap = " " * draw(st.integers(least, 9))
        return f"{gap}# r{next(count)}r: - {{x" if draw(st.booleans()) else ""

    def scalar(in_flow: bool) -> str:
        word = draw(WORDS)
        if in_flow and word == "":
            word = "~"
        style = draw(st.sampled_from(["plain", "plain", "double", "single"]))
        if style == "double":
            return f'"{word}"'
        return f"'{word.replace(chr(39), chr(39) * 2)}'" if style == "single" else word

    def names(most: int) -> list[str]:
        return draw(st.lists(st.sampled_from(NAMES), min_size=1, max_size=most, unique=True))

    def flow(depth: int) -> str:
        if depth > 1 or draw(st.booleans()):
            return scalar(True)
        inside = [flow(depth + 1) for _ in range(draw(st.integers(0, 3)))]
        if draw(st.booleans()):
            return "[" + ", ".join(inside) + "]"
        return "{" + ", ".join(f"{n}: {v}" for n, v in zip(NAMES, inside, strict=False)) + "}"

    def lines(indent: int, depth: int) -> list[str]:
        pad, out = " " * indent, []
        for name in names(4 if depth else 6):
            if draw(st.integers(0, 3)) == 0:
                out += [pad + f"# c{next(count)}c", ""][: draw(st.integers(1, 2))]
            kind = draw(st.sampled_from(["scalar", "scalar", "flow", "group", "list", "text"]))
            if kind == "group" and depth < 3:
                out += [f"{pad}{name}:{remark()}", *lines(indent + step, depth + 1)]
            elif kind == "list":
                out.append(f"{pad}{name}:{remark()}")
                out += [f"{pad}{' ' * step}- {scalar(False)}{remark()}" for _ in "ab"]
            elif kind == "text" and depth:
                head = draw(st.sampled_from(["|", ">", "|-", "|+"]))
                out += [f"{pad}{name}: {head}{remark()}", f"{pad}  t # no remark", ""]
            else:
                value = flow(0) if kind == "flow" else scalar(False)
                out.append(f"{pad}{name}: {value}".rstrip() + remark())
        return out

    text = eol.join(lines(0, 0)) + draw(st.sampled_from(["", eol, eol * 2]))
    return draw(st.sampled_from(["", "\ufeff"])) + text


def tokens(text: str) -> list[str]:
    return sorted(re.findall(r"# (?:r\d+r: - \{x|c\d+c)", text))


def paths(text: str) -> list[Keys]:
    return [k for k in strict_yaml.parse(text, "farm.yaml").spans if k]


VALUES = st.one_of(
    st.sampled_from(HOSTILE), st.booleans(), st.integers(-9, 99_999), st.text(max_size=20)
)


def squeezed(text: str) -> str:
    """A text with one space before each remark: a pair in brackets may push its remark on."""
    return re.sub(" +# r", " # r", text)


@given(farms(), VALUES, st.data())
@example("a: |+\n  t\n\n\nb: 1", "x", None)
@example("a: {b: 1, # r0r: - {x\n  c: 2} # r1r: - {x\n", "x", None)
@example("a:\n- b # r0r: - {x\n- c\nd: 1\n", "x", None)
def test_set_changes_only_its_path(text: str, value: Any, data: Any) -> None:
    every = paths(text)
    for keys in [data.draw(st.sampled_from(every))] if data else every:
        before = read(text)
        try:
            made = write.set_value(text, keys, value)
        except InputError as error:
            assert strict_yaml.NOT_TEXT.search(str(value)), error
            continue
        after, found = read(made.text), at(read(made.text), keys)
        assert str(found) == str(value) or found == float(value)
        assert pruned(after, keys) == pruned(before, keys)
        assert tokens(made.text) == tokens(text)
        assert made.text.startswith("\ufeff") == text.startswith("\ufeff")
        assert ("\r\n" in text) >= ("\r" in made.text)
        head = text.splitlines()[: made.line - 1]
        assert made.text.splitlines()[: made.line - 1] == head


@given(farms(), st.sampled_from(HOSTILE[:60]), st.data())
def test_add_then_remove_gives_the_text_back(text: str, value: str, data: Any) -> None:
    groups = [k for k in ((), *paths(text)) if isinstance(at(read(text), k), dict)]
    group = data.draw(st.sampled_from(groups))
    made = write.add_value(text, group, "new name", value)
    after = at(read(made.text), group)
    assert {k: v for k, v in after.items() if k != "new name"} == at(read(text), group)
    assert str(after["new name"]) == value
    assert tokens(made.text) == tokens(text)
    back = write.remove_value(made.text, (*group, "new name")).text
    ended = text.endswith(("\n", "\r")) or text[-1:] == ""
    assert squeezed(back) == squeezed(text) or (not ended and back.rstrip("\r\n") == text)


@given(farms(), st.data())
def test_remove_leaves_all_else(text: str, data: Any) -> None:
    keys = data.draw(st.sampled_from(paths(text)))
    before = read(text)
    try:
        made = write.remove_value(text, keys)
    except InputError as error:
        # under "|+" the blank lines below count: refused rather than guessed
        assert "nothing would be left" in str(error) or "|+" in text
        return
    gone = made.keys
    group, left = at(before, gone[:-1]), at(read(made.text), gone[:-1])
    if isinstance(group, dict):
        assert {k: v for k, v in group.items() if k != gone[-1]} == left
    else:
        assert group[: gone[-1]] + group[gone[-1] + 1 :] == left
    assert tokens(made.text) == tokens(text)


@given(farms(), st.data())
def test_set_and_set_back_gives_the_text_back(text: str, data: Any) -> None:
    sheet = strict_yaml.parse(text, "farm.yaml")
    plain = [
        k
        for k, s in sheet.spans.items()
        if s.kind == "plain" and not s.in_flow and k and at(sheet.data, k) is not None
    ]  # in brackets a remark may have had no room
    if plain:
        keys = data.draw(st.sampled_from(plain))
        made = write.set_value(text, keys, "z")
        assert made.before == " ".join(made.before.split())
        back = write.set_value(made.text, keys, at(sheet.data, keys))
        assert back.text == text
        history = write.History.of(text).push(made).push(back)
        assert history.undo().text == made.text and history.undo().undo().text == text


def test_a_broken_file_is_not_changed() -> None:
    for text in ("a: 1\na: 2\n", "a: &x 1\nb: *x\n", "a:\n\t- b\n", "a: [1\n", "", "- a\n", "a"):
        with pytest.raises(InputError):
            write.set_value(text, ("a",), "1")
    with pytest.raises(InputError, match="a tab is used"):
        write.set_value("a:\n\tb: 1\n", ("a", "b"), "1")
    with pytest.raises(FileError, match="too large"):
        write.set_value("a: 1\n", ("a",), "x" * 199_999)
    with pytest.raises(FileError, match="too large"):
        write.set_value("a: 1\n", ("a",), "草" * 70_000)


# ---------------------------------------------------------------- names, groups, lists

SMALL = """\
# head
feeds:   # what there is
  Tom's oats:   # his
    price: 178 /t
  beans: {price: 258 /t}
  lime:
    # nothing yet
note: |  # long
  one
  two
signs:
- dusty   # a bit
- brown
last: x"""


def test_names_may_be_written_tidied_or_ids() -> None:
    for name in ("Tom's oats", "tom's_OATS", "toms-oats"):
        made = write.set_value(SMALL, ("feeds", name, "PRICE"), "9 /t")
        assert made.words == "Tom's oats price 178 /t to 9 /t"
    with pytest.raises(UnknownName, match=r'Did you mean "Tom\'s oats"'):
        write.set_value(SMALL, ("feeds", "toms oat", "price"), "9 /t")
    with pytest.raises(UnknownName):
        write.set_value(SMALL, ("feeds", "beans", "price", "x"), "9 /t")
    with pytest.raises(InputError):
        write.set_value(SMALL, (), "x")


def test_lines_added() -> None:
    made = write.add_value(SMALL, ("feeds", "toms-oats"), "haulage", "5 /t", note="his lorry")
    assert "    price: 178 /t\n    haulage: 5 /t  # his lorry\n  beans" in made.text
    assert (made.line, made.before, made.after) == (5, "", "5 /t")
    made = write.add_value(SMALL, ("feeds", "beans"), "like", "beans")
    assert "beans: {price: 258 /t, like: beans}\n" in made.text
    made = write.add_value(SMALL, ("feeds", "lime"), "price", "9 /t")
    assert "  lime:\n    price: 9 /t\n    # nothing yet\n" in made.text
    made = write.add_value(SMALL, (), "z", "1")
    assert made.text == SMALL + "\nz: 1"
    made = write.add_value(SMALL, ("limits", "deep"), "a b", ["x, y", "z"], note="n")
    # where the reader lists limits: behind the note, not at the end
    assert '\n  two\nlimits:\n  deep:\n    a b: ["x, y", z]  # n\nsigns:' in made.text
    made = write.add_value(SMALL, ("feeds",), "hay", {"like": "hay", "price": None}, after="beans")
    assert "}\n  hay: {like: hay, price: ~}\n  lime:" in made.text
    for group, name, fault in (
        (("feeds",), "BEANS", "there already"),
        (("last",), "a", "no group"),
        (("signs",), "a", "no group"),
    ):
        with pytest.raises(InputError, match=fault):
            write.add_value(SMALL, group, name, "1")


def test_whole_values_replaced_keep_their_remarks() -> None:
    made = write.set_value(SMALL, ("signs",), ["dusty"])
    assert made.text.endswith("signs: [dusty]\n# a bit\nlast: x")
    made = write.set_value(SMALL, ("note",), "short")
    assert "note: short  # long\nsigns:" in made.text
    made = write.set_value(SMALL, ("feeds", "toms-oats"), None)
    assert "  Tom's oats:   # his\n  beans" in made.text


def test_lists() -> None:
    assert write.add_item(SMALL, ("signs",), "x: y").text.endswith('- brown\n- "x: y"\nlast: x')
    assert "last: [x, y]" in write.add_item(SMALL, ("last",), "y").text
    assert write.remove_value(SMALL, ("signs", 0)).text.endswith(
        "signs:\n# a bit\n- brown\nlast: x"
    )
    assert write.add_item("a: [] # c\n", ("a",), "b").text == "a: [b] # c\n"
    assert write.add_item("a: [b,] # c\n", ("a",), "d").after == "d"
    assert (
        write.set_value(SMALL, ("signs", 1), "punctured").words == "signs item 2 brown to punctured"
    )


def test_yes_stays_an_answer_only_where_one_stood() -> None:
    assert write.set_value("a: no\n", ("a",), "yes").text == "a: yes\n"
    assert write.set_value("a: x\n", ("a",), "yes").text == 'a: "yes"\n'
    assert write.set_value("a: x\n", ("a",), True).text == "a: yes\n"


def test_a_group_left_empty_goes_too_and_the_last_name_stays() -> None:
    assert write.remove_value(SMALL, ("feeds", "toms-oats", "price")).keys == (
        "feeds",
        "tom's oats",
    )
    assert "beans: {}" in write.remove_value(SMALL, ("feeds", "beans", "price")).text
    with pytest.raises(InputError, match="nothing would be left"):
        write.remove_value("a:\n  b: 1\n", ("a", "b"))


def test_many_all_or_none() -> None:
    text, made = write.set_many(SMALL, {("last",): "y", ("feeds", "lime", "price"): "9 /t"})
    assert [m.words for m in made] == ["last x to y", "lime price 9 /t added"]
    assert text == made[-1].text
    with pytest.raises(InputError) as caught:
        write.set_many(SMALL, [(("last",), "y"), (("last", "a"), "1"), (("signs", "b"), "\0")])
    assert len(caught.value.problems) == 2


def test_remarks_noted_once() -> None:
    once = write.set_value("last: x", ("last",), "y", "seen\non Monday")
    assert once.line_after == "last: y  # seen on Monday"
    again = write.set_value(once.text, ("last",), "z", "seen on Monday")
    assert again.line_after == "last: z  # seen on Monday"
    twice = write.set_value(again.text, ("last",), "z", "# and: {Tuesday}")
    assert twice.line_after == "last: z  # seen on Monday; and: {Tuesday}"


# ---------------------------------------------------------------- one press


@cache
def shipped() -> Tables:
    return tables.load()


def of_text(text: str, name: str = "quernhope.yaml") -> farm.Farm:
    return farm.read_text(text, name, DEMO, tables=shipped())


def test_keep_figure() -> None:
    text = text_of("quernhope.yaml")
    made = write.keep_figure(text, "bottom-ings", "protein", " 7.4  %", "laboratory 9 November")
    assert re.fullmatch("    protein: 7.4 % +# laboratory 9 November", made.line_after)
    assert made.words == "Bottom Ings protein 7.4 % added"
    kept = {o.id: o for o in of_text(made.text).offers}["bottom-ings"].feed
    assert kept["cp_g_per_kg_dm"] == 74  # 7.4 % is 74 g in a kilogram
    again = write.keep_figure(made.text, "Bottom Ings", "cp_g_per_kg_dm", "9 %")
    assert again.words == "Bottom Ings protein 7.4 % to 9 %"
    with pytest.raises(InputError, match=r"line 89, feeds > Bottom Ings > protein: .*comma"):
        write.keep_figure(text, "bottom-ings", "protein", "7,4 %")
    with pytest.raises(UnknownName, match="Did you mean"):
        write.keep_figure(text, "bottom-ings", "protien", "7 %")
    with pytest.raises(UnknownName, match="Bottom Ings"):
        write.keep_figure(text, "bottom-rings", "protein", "7 %")
    flow = write.keep_figure(text_of("hafod-wrynach.yaml"), "beans", "protein", "29 %", "label")
    assert flow.line_after == "  beans: {price: 258 /t, protein: 29 %}  # label"


def test_prices_targets_and_gains() -> None:
    text = text_of("quernhope.yaml")
    made = write.set_price(text, "rolled-barley", "219 /t")
    prices = {o.id: o.price_gbp_per_t_fresh for o in of_text(made.text).offers}
    assert prices["rolled-barley"] == 219
    assert write.set_price(text, "long-meadow", "120 /t").keys[-1] == "would fetch"
    with pytest.raises(InputError, match="price"):
        write.set_price(text, "rolled-barley", "0 /t")
    made = write.set_target(text, "middle", "43 kg")
    middle = next(b for b in of_text(made.text).batches if b.name == "middle")
    assert middle.gain_g_per_day == pytest.approx((43 - 34.6) * 1000 / 156)
    made = write.set_gain(text, "middle", "40 g/day")
    assert made.line_after == "    gain: 40 g/day"
    assert made.words == "middle target 42.0 kg to gain 40 g/day"
    assert next(b for b in of_text(made.text).batches if b.name == "middle").gain_g_per_day == 40
    assert write.set_target(made.text, "middle", "42.0 kg").text == text
    with pytest.raises(InputError, match="middle > gain"):
        write.set_gain(text, "middle", "forty")


def test_analyses_laid_over() -> None:
    text, file = text_of("quernhope.yaml"), "bottom-ings-2026-11-16.csv"
    made = write.lay_analysis(text, "bottom-ings", file)
    assert made.line_after == f"    analysis: {file}"
    laid = {o.id: o for o in of_text(made.text).offers}["bottom-ings"]
    assert laid.analysed is not None
    assert write.lay_analysis(made.text, "bottom-ings", file).text == made.text
    two = write.lay_analysis(made.text, "bottom-ings", "b, c.csv")
    assert two.line_after == f'    analysis: [{file}, "b, c.csv"]'
    three = write.lay_analysis(two.text, "bottom-ings", "d.csv")
    assert three.line_after == f'    analysis: [{file}, "b, c.csv", d.csv]'
    for bad in ("../x.csv", "/etc/passwd", "a\\b", "C:x", "x\0", "", "  "):
        with pytest.raises(InputError, match="beside the farm file"):
            write.lay_analysis(text, "bottom-ings", bad)


# ---------------------------------------------------------------- undo


def test_history_is_a_stack_and_never_changes_in_place() -> None:
    start = write.History.of("0")
    one = start.push("1", "first").push("2", "second")
    assert (start.text, one.text, one.can_undo, one.can_redo) == ("0", "2", True, False)
    back = one.undo()
    assert (back.text, back.undo_words, back.redo_words) == ("1", "first", "second")
    assert (back.redo(), back.undo().undo(), one.redo()) == (one, replace_at(one, 0), one)
    other = back.push("3", "third")
    assert other.done == ("first", "third") and not other.can_redo
    assert one.push("2", "nothing") is one
    for i in range(300):
        one = one.push(str(i + 3), "more")
    assert len(one.steps) == 101 and one.text == "302"


def replace_at(history: write.History, where: int) -> write.History:
    return write.History(history.steps, where)


@given(st.lists(st.sampled_from(["undo", "redo", "a", "b", "c"]), max_size=40))
def test_history_against_two_stacks(moves: list[str]) -> None:
    done, undone, history = ["start"], [], write.History.of("start")
    for move in moves:
        if move == "undo":
            if len(done) > 1:
                undone.append(done.pop())
            history = history.undo()
        elif move == "redo":
            if undone:
                done.append(undone.pop())
            history = history.redo()
        else:
            if move != done[-1]:
                done.append(move)
                undone = []
            history = history.push(move)
        assert (history.text, history.can_undo, history.can_redo) == (
            done[-1], len(done) > 1, bool(undone),
        )  # fmt: skip


# ---------------------------------------------------------------- saving


def digest(path: Path) -> str:
    return write.open_text(path)[1]


def test_saved_to_the_letter(tmp_path: Path) -> None:
    path = tmp_path / "farm.yaml"
    for raw in (b"\xef\xbb\xbfa: 1\r\nb: \xc2\xa3\r\n", b"a: 1", "a: 草\n".encode()):
        path.write_bytes(raw)
        text, was = write.open_text(path)
        assert text.encode() == raw and was == write.digest_of(text)
        made = write.set_value(text, ("a",), "2").text
        write.save(path, made, was)
        assert path.read_bytes() == made.encode()
        write.save(path, made, was)  # the same again is no fault
        assert [p.name for p in tmp_path.iterdir()] == ["farm.yaml"]


def test_a_new_file_and_one_that_is_there(tmp_path: Path) -> None:
    path = tmp_path / "own figures.csv"
    write.save(path, "a\n", None)
    assert path.read_text() == "a\n"
    with pytest.raises(write.ChangedSince, match="already a file of that name"):
        write.save(path, "b\n", None)
    path.unlink()
    with pytest.raises(write.ChangedSince, match="gone"):
        write.save(path, "b\n", write.digest_of("a\n"))
    with pytest.raises(FileError, match=r"x.yaml: cannot be saved \(there is no such folder\)"):
        write.save(tmp_path / "none" / "x.yaml", "a", None)
    with pytest.raises(FileError, match="this is not a file"):
        write.save(tmp_path, "a", None)


def test_never_over_what_someone_else_wrote(tmp_path: Path) -> None:
    path = tmp_path / "farm.yaml"
    path.write_text("a: 1\nb: 2\nc: 3\n")
    text, was = write.open_text(path)
    path.write_text("a: 1\nb: 5\nc: 3\nd: 4\n")
    mine = write.set_value(text, ("c",), "9").text
    with pytest.raises(write.ChangedSince) as caught:
        write.save(path, mine, was, text_read=text)
    lines = str(caught.value).splitlines()
    assert lines[0].startswith("farm.yaml: someone else changed the file since it was read")
    assert lines[1] == 'farm.yaml line 2: on disk "b: 5", you had read "b: 2".'
    assert lines[2] == 'farm.yaml line 4: on disk "d: 4" is more than you had read.'
    assert caught.value.theirs == path.read_text() == "a: 1\nb: 5\nc: 3\nd: 4\n"
    with pytest.raises(write.ChangedSince, match='on disk "c: 3", you would save "c: 9"'):
        write.save(path, mine, was)
    path.write_bytes(b"\xff")
    with pytest.raises(write.ChangedSince):
        write.save(path, mine, was)
    assert path.read_bytes() == b"\xff"


def test_differences_are_few_and_quick() -> None:
    told = write.differences("f", "a\n" * 90_000, "b\n" * 90_000)
    assert len(told) == 1 and "90000 lines differ" in str(told[0])
    told = write.differences("f", "\n".join(map(str, range(100))), "\n".join("x" * 100))
    assert len(told) == 12 and str(told[-1]) == "f: 89 more lines differ."
    assert "line ends" in str(write.differences("f", "a\n", "a\r\n")[0])
    assert str(write.differences("f", "a\nb\n", "a\n")[0]).startswith('f line 2: not on disk: "b"')
    assert write.differences("f", "a", "a") == ()


def test_permissions_kept_and_a_link_followed(tmp_path: Path) -> None:
    path = tmp_path / "farm.yaml"
    path.write_text("a: 1\n")
    path.chmod(0o640)
    (tmp_path / "desk").mkdir()
    link = tmp_path / "desk" / "link.yaml"
    link.symlink_to("../farm.yaml")
    write.save(link, "a: 2\n", digest(link))
    assert link.is_symlink() and path.read_text() == "a: 2\n"
    assert stat.S_IMODE(path.stat().st_mode) == 0o640
    assert [p.name for p in link.parent.iterdir()] == ["link.yaml"]


@pytest.mark.parametrize("call", ["write", "fsync", "open", "replace"])
def test_a_full_or_closed_disk_leaves_the_old_file(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, call: str
) -> None:
    path = tmp_path / "farm.yaml"
    path.write_text("a: 1\n")
    was = digest(path)
    real, calls = getattr(os, call, None), []

    def fails(*args: Any) -> Any:
        calls.append(args)
        if call == "write" and len(calls) == 1:
            return real(args[0], bytes(args[1])[:2])  # a part, as a full disk does
        raise OSError(28, "No space left on device")

    if call == "replace":
        monkeypatch.setattr(Path, "replace", fails)
    else:
        monkeypatch.setattr(os, call, fails)
    with pytest.raises(FileError) as caught:
        write.save(path, "a: 2 and more\n", was)
    monkeypatch.undo()
    assert str(caught.value) == (
        "farm.yaml: cannot be saved (no space left on device); it is as it was. "
        "Make room on the disk and save again."
    )
    assert path.read_text() == "a: 1\n"
    assert [p.name for p in tmp_path.iterdir()] == ["farm.yaml"]


def test_short_writes_are_carried_on(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path, real = tmp_path / "farm.yaml", os.write
    monkeypatch.setattr(os, "write", lambda file, raw: real(file, bytes(raw)[:3]))
    write.save(path, "a: 0123456789\n", None)
    assert path.read_text() == "a: 0123456789\n"


def test_two_savers_of_one_reading_never_both_win(tmp_path: Path) -> None:
    path = tmp_path / "farm.yaml"
    for turn in range(20):
        path.write_text(f"a: start {turn}\n")
        was, won, told = digest(path), [], []

        def saver(n: int, was: str = was, won: list = won, told: list = told) -> None:
            try:
                write.save(path, f"a: {n}\n", was)
                won.append(n)
            except write.ChangedSince as error:
                told.append(error)

        threads = [threading.Thread(target=saver, args=(n,)) for n in range(4)]
        for thread in threads:
            thread.start()
        for thread in threads:
            thread.join()
        assert (len(won), len(told)) == (1, 3)
        assert path.read_text() == f"a: {won[0]}\n"


KILLER = """
import os, random, signal, sys, time
from pathlib import Path
from ration.farm.write import digest_of, save
path, naive, turns = Path(sys.argv[1]), sys.argv[2] == "naive", int(sys.argv[3])
texts = ["a: " + "x" * 150_000 + chr(10), "a: " + "y" * 190_000 + chr(10)]
whole = {t.encode() for t in texts}
real = os.write
def slow(file, raw):
    time.sleep(0.001)
    return real(file, bytes(raw)[:20_000])
os.write = slow
def in_place(path, text, digest):
    file = os.open(path, os.O_WRONLY | os.O_TRUNC)
    raw = memoryview(text.encode())
    while raw:
        raw = raw[os.write(file, raw):]
    os.close(file)
put = in_place if naive else save
path.write_text(texts[0])
rng, torn, middle = random.Random(1), 0, 0
for turn in range(turns):
    if naive:
        path.write_text(texts[0])
    started = path.stat().st_mtime_ns
    child = os.fork()
    if child == 0:
        at = texts.index(path.read_text())
        while True:
            put(path, texts[1 - at], digest_of(texts[at]))
            at = 1 - at
    until = time.monotonic() + 5
    while path.stat().st_mtime_ns == started and time.monotonic() < until:
        time.sleep(0.0005)
    time.sleep(rng.uniform(0, 0.02))
    os.kill(child, signal.SIGKILL)
    os.waitpid(child, 0)
    now = path.read_bytes()
    torn += now not in whole
    middle += any(path.parent.glob(".*"))
if not naive:
    os.write = real
    save(path, "a: end" + chr(10), digest_of(path.read_text()))
print(torn, middle, sorted(p.name for p in path.parent.iterdir()))
"""


@pytest.mark.skipif(not hasattr(os, "fork"), reason="this system cannot fork a process")
def test_a_saver_killed_in_the_middle_leaves_a_whole_file(tmp_path: Path) -> None:
    def killed(how: str, turns: int) -> list[str]:
        args = [sys.executable, "-c", textwrap.dedent(KILLER)]
        ran = subprocess.run(
            [*args, str(tmp_path / "farm.yaml"), how, str(turns)],
            capture_output=True, text=True, check=True, timeout=120,
        )  # fmt: skip
        return ran.stdout.split(maxsplit=2)

    torn, middle, left = killed("save", 80)
    assert torn == "0"
    assert int(middle) > 5  # so often a save was killed half-way
    assert left.strip() == "['farm.yaml']"  # the next save sweeps up after a killed one
    torn, _, _ = killed("naive", 40)
    assert int(torn) > 0  # the trial can tell: writing in place leaves half a file


READ_ONLY = """
import os, sys
from pathlib import Path
from ration.errors import FileError
from ration.farm.write import open_text, save
path = Path(sys.argv[1])
was = open_text(path)[1]
if os.geteuid() == 0:
    os.setuid(65534)  # permissions do not bind root
try:
    save(path, "a: 2" + chr(10), was)
except FileError as error:
    print(error)
"""


@pytest.mark.skipif(not hasattr(os, "geteuid"), reason="this system has no such permissions")
@pytest.mark.parametrize("which", ["folder", "file"])
def test_read_only_is_told_in_one_line(which: str) -> None:
    with tempfile.TemporaryDirectory() as made:
        folder = Path(made)
        path = folder / "farm.yaml"
        path.write_text("a: 1\n")
        path.chmod(0o444 if which == "file" else 0o666)
        folder.chmod(0o555 if which == "folder" else 0o777)
        ran = subprocess.run(
            [sys.executable, "-c", READ_ONLY, str(path)], capture_output=True, text=True, check=True
        )
        folder.chmod(0o755)
        assert path.read_text() == "a: 1\n" and len(list(folder.iterdir())) == 1
    why = "permission denied" if which == "folder" else "it is marked read-only"
    assert ran.stdout == (
        f"farm.yaml: cannot be saved ({why}); it is as it was. Save it in a folder of your own.\n"
    )


# ---------------------------------------------------------------- the user's own feed table

OWN = (
    "feed_id,nutrient,value,unit,basis,source,mark,spread,note\r\n"
    'hay-poor,cp_g_per_kg_dm,62,g/kg DM,dry matter,"my lab, 2025",lab,,"said ""dry"""\r\n'
    "\r\n"
    "barley,cp_g_per_kg_dm,110,,,,,,\r\n"
)


def cells(text: str) -> list[list[str]]:
    return [row for row in csv.reader(io.StringIO(text.removeprefix("\ufeff"), newline="")) if row]


def test_a_figure_put_into_a_table(tmp_path: Path) -> None:
    made = overlay_write.set_figure(
        "\ufeff" + OWN, shipped(), "hay-poor", "me_mj_per_kg_dm", 7.4, source="lab, 9 November",
        mark="lab", note="first cut",
    )  # fmt: skip
    assert made.words == "hay-poor Metabolisable energy (ME) 7.4 MJ/kg DM added"
    lines, old = made.text.split("\r\n"), ("\ufeff" + OWN).split("\r\n")
    assert lines[:2] + lines[3:] == old and made.line == 3
    assert (
        lines[2]
        == 'hay-poor,me_mj_per_kg_dm,7.4,MJ/kg DM,dry matter,"lab, 9 November",lab,,first cut'
    )
    path = tmp_path / "own.csv"
    write.save(path, made.text, None)
    figure = tables.load(overlays=(path,)).feeds["hay-poor"].figures["me_mj_per_kg_dm"]
    assert (figure.value, figure.mark, figure.source) == (7.4, "lab", "lab, 9 November")
    back = overlay_write.remove_figure(made.text, shipped(), "hay-poor", "me_mj_per_kg_dm")
    assert back.text == "\ufeff" + OWN
    again = overlay_write.set_figure(OWN, shipped(), "hay-poor", "cp_g_per_kg_dm", "70", note="x")
    assert again.words == "hay-poor Crude protein (CP) 62 g/kg DM to 70 g/kg DM"
    assert cells(again.text)[2:] == cells(OWN)[2:] and again.text.count("\r\n") == 4
    new = overlay_write.set_figure("", shipped(), "barley", "cp_g_per_kg_dm", 105)
    assert cells(new.text)[1][:3] == ["barley", "cp_g_per_kg_dm", "105"]


@pytest.mark.parametrize(
    ("change", "fault"),
    [
        ({"feed_id": "hay-por"}, "nearest: hay-poor"),
        ({"nutrient": "cp"}, "not known"),
        ({"value": "7,4"}, "Write 7.4"),
        ({"value": "=1+1"}, "formula"),
        ({"value": ""}, "empty"),
        ({"value": "7.4"}, "plausible"),
        ({"value": float("nan")}, "cell must be left empty"),
        ({"unit": "%"}, "is in g/kg DM"),
        ({"basis": "fresh"}, "on the basis"),
        ({"note": "=HYPERLINK(1)"}, "formula"),
        ({"note": "a\nbarley,x,1"}, "line break"),
        ({"source": "@x"}, "formula"),
        ({"mark": "lba"}, "allowed"),
        ({"spread": "-1"}, "at least 0"),
    ],
)
def test_figures_refused(change: dict[str, Any], fault: str) -> None:
    asked = {"feed_id": "hay-poor", "nutrient": "cp_g_per_kg_dm", "value": 70, **change}
    with pytest.raises(InputError, match=fault):
        overlay_write.set_figure(OWN, shipped(), **asked)


def test_other_forms_of_table() -> None:
    put = overlay_write.set_figure
    semi = "sep=;\nfeed_id;nutrient;value\nbarley;oil_g_per_kg_dm;21,5"
    made = put(semi, shipped(), "barley", "me_mj_per_kg_dm", 13.25)
    assert made.text == semi + "\nbarley;me_mj_per_kg_dm;13,25\n"
    with pytest.raises(InputError, match="column source is missing"):
        put(semi, shipped(), "barley", "me_mj_per_kg_dm", 13.2, source="x")
    with pytest.raises(InputError, match="one row a feed"):
        put("feed_id,cp_g_per_kg_dm\nbarley,110\n", shipped(), "barley", "cp_g_per_kg_dm", 105)
    checked = put(OWN, shipped(), "hay-poor", "cp_g_per_kg_dm", 300, note="checked: twice")
    assert checked.after == "300 g/kg DM"
    with pytest.raises(UnknownName):
        overlay_write.remove_figure(OWN, shipped(), "barley", "oil_g_per_kg_dm")


@given(
    st.text(max_size=30), st.floats(40, 150), st.sampled_from(["hay-poor", "barley", "hay-good"])
)
def test_any_note_stays_in_its_cell(note: str, value: float, feed: str) -> None:
    try:
        made = overlay_write.set_figure(OWN, shipped(), feed, "cp_g_per_kg_dm", value, note=note)
    except InputError:
        words = note.replace("\xa0", " ").strip()
        assert value < 60 or not words.isprintable() or words[0] in "=+@-#"
        return
    rows = {(r[0], r[1]): r for r in cells(made.text)}
    mine = rows.pop((feed, "cp_g_per_kg_dm"))
    assert mine[8] == note.replace("\xa0", " ").strip() and float(mine[2]) == pytest.approx(value)
    others = {(r[0], r[1]): r for r in cells(OWN)}
    others.pop((feed, "cp_g_per_kg_dm"), None)
    assert rows == others

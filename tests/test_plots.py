"""Plots as pictures and as figures: what is drawn is read back as a person would read it."""

from __future__ import annotations

import math
import re
from dataclasses import replace
from datetime import date, timedelta
from pathlib import Path
from types import MappingProxyType
from xml.etree import ElementTree

import matplotlib
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from ration import animals, demo, farm, mix, needs, plots, tables, weighing
from ration.errors import UnknownName
from ration.gains.records import GainCurve, Point
from ration.jobs import trials as trial_jobs
from ration.jobs import wintering as wintering_jobs
from ration.jobs.hay import HayCurve, HayPoint, Turn
from ration.plots import lettering, style
from ration.stack import lots
from ration.winter.records import Bill, Fed, Period, Plan, StockLine

SVG = "{http://www.w3.org/2000/svg}"
LINK = "{http://www.w3.org/1999/xlink}href"
QUERNHOPE = Path(demo.__file__).parent / "quernhope.yaml"
HOSTILE = (
    "<script>alert('x')</script> & \"hay\" $\\frac{1}{2}$ \x00\u202e\ud800 乾草 🐑 " + "long " * 40
)
ONE_WORD = "W" * 300
SIZES = (plots.PAGE, plots.PAPER)


# ---------------------------------------------------------------- the records drawn


@pytest.fixture(scope="module")
def book():
    return tables.load()


@pytest.fixture(scope="module")
def quernhope(book):
    return farm.read(QUERNHOPE, tables=book)


@pytest.fixture(scope="module")
def mixed(quernhope, book):
    return mix.mix(quernhope, book)


@pytest.fixture(scope="module")
def compared():
    return wintering_jobs.wintering_file(QUERNHOPE, with_mix=False)


@pytest.fixture(scope="module")
def trialled():
    return trial_jobs.run_trials()


def a_plan(whole, kg_by_period, *, names=None):
    """A plan of "middle" made up by hand: what is put out of each feed in each fortnight."""
    batch = next(b for b in whole.batches if b.name == "middle")
    offers = tuple(replace(o, name=(names or {}).get(o.id, o.name)) for o in whole.offers)
    periods = tuple(
        Period(i, whole.start + timedelta(14 * i), whole.start + timedelta(14 * (i + 1)))
        for i in range(len(kg_by_period))
    )
    fed = tuple(
        Fed(replace(batch, weight_kg=35.0 + p.index), p, dict(kg), dict(kg), None)
        for p, kg in zip(periods, kg_by_period, strict=True)
    )
    stocks = tuple(
        StockLine("bottom-ings", p, 3.0 - p.index, 0.0, 0.97, 0.03, 2.0 - p.index) for p in periods
    )
    nothing = MappingProxyType({})
    return Plan(
        farm=whole, periods=periods, offers=offers, supplies=(), fed=fed,
        extra_forage_kg_dm=nothing, deliveries=(), drops=(), stocks=stocks,
        bill=Bill(1.0, 0.0, 0.0, 0.0, 0.0), bound_gbp=1.0, is_cut_short=False, more=(),
        walk_away_gbp_per_t=nothing, why_not="", conflict=None, seconds=nothing, solver="",
    )  # fmt: skip


THREE = (
    {"bottom-ings": 0.5, "soya": 0.05},
    {"bottom-ings": 0.4, "soya": 0.06, "rolled-barley": 0.2},
    {"barley-straw": 0.3, "soya": 0.07, "rolled-barley": 0.3},
)


def a_curve(costs, *, now=8.5, turns=(), names=None, batch="middle"):
    """A curve against the energy of a hay, made up by hand: value to pounds a head a day."""
    points = tuple(
        HayPoint(
            v,
            c,
            {"hay": 0.5} if c is not None else {},
            "" if c else "no mix of these feeds",
            v == now,
        )
        for v, c in costs.items()
    )
    return HayCurve(
        animals.batch(batch, weight_kg=38, gain_g_per_day=47), "hay", (names or {}).get("hay", "Bottom Ings"),
        "me_mj_per_kg_dm", "Metabolisable energy", "MJ/kg DM", now, points, turns,
        names or {"hay": "Bottom Ings", "soya": "soya"},
    )  # fmt: skip


HAY = {7.5: 0.170, 8.0: 0.168, 8.5: 0.165, 9.0: 0.164, 9.5: None}
TURNS = (Turn(8.5, 9.0, ("soya",), ()), Turn(9.0, 9.5, is_lost=True))


def a_gain_curve(costs, target=50.0, batch="middle"):
    """A curve of gains made up by hand: gain to pounds a head a day."""
    points = tuple(
        Point(g, 38.0, 35 + g * 0.156, 0.7, c, None if c is None else c * 9000, 0.3, None, 0.0,
              "" if c else "no mix of these feeds", g == target, True)
        for g, c in costs.items()
    )  # fmt: skip
    here = next(p for p in points if p.is_target)
    sheep = animals.batch(batch, weight_kg=38, gain_g_per_day=target)
    return GainCurve(sheep, 35.0, 156, 156, 25.0, points, here, None, None, None, "")


GAINS = {0.0: 0.133, 25.0: 0.148, 50.0: 0.168, 75.0: 0.20, 100.0: None}
WEIGHED = (
    weighing.weighing(date(2026, 12, 3), 40, 35.9, 3.0, batch="middle", hours_off_feed=6),
    weighing.weighing(date(2027, 1, 14), 40, 37.1, 3.0),
)


@pytest.fixture(scope="module")
def all_of_them(quernhope, mixed, compared, trialled):
    """Every plot of usual records, as a function of its size."""
    plan = a_plan(quernhope, THREE)
    sheep = animals.batch("hoggs", weight_kg=22, gain_g_per_day=47)
    return {
        "weights": lambda s: plots.weights_line(plan, "middle", WEIGHED, size=s),
        "all weights": lambda s: plots.weights_line(quernhope, None, WEIGHED[1:], size=s),
        "ration": lambda s: plots.ration_through_winter(plan, "middle", size=s),
        "stack": lambda s: plots.stack_to_run_out(lots.estimated(quernhope), size=s),
        "planned stack": lambda s: plots.stack_to_run_out(lots.planned(plan), plan, size=s),
        "hay": lambda s: plots.cost_against_hay(a_curve(HAY, turns=TURNS), size=s),
        "worth": lambda s: plots.worth_against_price(mixed, size=s),
        "needs": lambda s: plots.needs_against_supply(mixed.rations[0], size=s),
        "gain": lambda s: plots.cost_of_gain(a_gain_curve(GAINS), size=s),
        "ways": lambda s: plots.ways_of_wintering(compared, size=s),
        "standards": lambda s: plots.standards_beside(needs.side_by_side(sheep, 9.5), size=s),
        "trials": lambda s: plots.trials(trialled, size=s),
    }


# ---------------------------------------------------------------- reading a picture


def words_of(svg):
    """Every text of a picture: (words, x, y, anchor, is bold)."""
    root = ElementTree.fromstring(svg)
    return [
        (
            t.text or "",
            float(t.get("x")),
            float(t.get("y")),
            t.get("text-anchor", "start"),
            t.get("font-weight") == "bold" or t.get("font-weight") == "700",
            float(t.get("font-size").removesuffix("px")),
        )
        for t in root.iter(f"{SVG}text")
    ]


def box_of(svg):
    return [float(v) for v in ElementTree.fromstring(svg).get("viewBox").split()]


def edges(one):
    words, x, _, anchor, is_bold, size = one
    wide = lettering.width(words, size) * (1.12 if is_bold else 1.0)
    left = x - wide * {"start": 0.0, "middle": 0.5, "end": 1.0}[anchor]
    return left, left + wide


def marks_of(svg, series):
    """Middles of the marks of a series, from the left."""
    root = ElementTree.fromstring(svg)
    return sorted(
        (float(u.get("x")), float(u.get("y")))
        for u in root.iter(f"{SVG}use")
        if f"plot-stroke-series-{series}" in u.get("class", "")
    )


def boxes_of(svg):
    """Left, top, right, bottom of every bar."""
    found = []
    for path in ElementTree.fromstring(svg).iter(f"{SVG}path"):
        if "plot-stroke-paper" not in path.get("class", "") or path.get("d", "").count("L") != 3:
            continue
        n = [float(v) for v in re.findall(r"-?[\d.]+", path.get("d"))]
        found.append((min(n[0::2]), min(n[1::2]), max(n[0::2]), max(n[1::2])))
    return found


def scale(svg, anchor):
    """The scale along one side, read off two of its labels as a person would."""
    found = [
        (float(w), y - 0.36 * size if anchor == "end" else x)  # the middle of the words
        for w, x, y, a, _, size in words_of(svg)
        if a == anchor and re.fullmatch(r"[-\u2212]?\d+(\.\d+)?", w)
    ]
    (v1, p1), (v2, p2) = min(found), max(found)
    return lambda at: v1 + (at - p1) * (v2 - v1) / (p2 - p1)


# ---------------------------------------------------------------- what all of them keep


NAMES = (
    "weights",
    "all weights",
    "ration",
    "stack",
    "planned stack",
    "hay",
    "worth",
    "needs",
    "gain",
    "ways",
    "standards",
    "trials",
)


@pytest.mark.parametrize("size", SIZES, ids=lambda s: s.name)
@pytest.mark.parametrize("name", NAMES)
def test_every_picture_is_fit_for_a_page(all_of_them, name, size):
    plot = all_of_them[name](size)
    root = ElementTree.fromstring(plot.svg)
    assert root.tag == f"{SVG}svg"
    assert root.get("role") == "img"
    assert root.get("aria-label") == plot.sentence
    assert root.get("width") is None and root.get("height") is None
    assert box_of(plot.svg)[:3] == [0, 0, size.width]
    assert root[0].tag == f"{SVG}title" and root[0].text == plot.title
    assert plot.sentence.endswith(".")
    tags = {node.tag.removeprefix(SVG) for node in root.iter()}
    allowed = {"svg", "title", "defs", "g", "path", "use", "text", "pattern", "rect"}
    assert tags <= allowed
    # no style a policy against inline style would refuse, nothing fetched, nothing run
    attributes = {a for node in root.iter() for a in node.attrib}
    assert not attributes & {"style", "onload", "onclick"}
    assert all(node.get(LINK, "#").startswith("#") for node in root.iter())
    assert not plot.svg.startswith("<?xml") and "DOCTYPE" not in plot.svg
    ids = [node.get("id") for node in root.iter() if node.get("id")]
    assert len(ids) == len(set(ids))
    used = set(re.findall(r"url\(#([^)]+)\)", plot.svg))
    used |= {node.get(LINK)[1:] for node in root.iter() if node.get(LINK)}
    assert used == set(ids)


@pytest.mark.parametrize("size", SIZES, ids=lambda s: s.name)
@pytest.mark.parametrize("name", NAMES)
def test_all_words_are_inside_and_none_over_another(all_of_them, name, size):
    plot = all_of_them[name](size)
    assert_words_fit(plot.svg)
    # labels of one line that share a height keep apart
    words = words_of(plot.svg)
    for i, one in enumerate(words):
        for other in words[i + 1 :]:
            if abs(one[2] - other[2]) < size.text * 0.7:
                (a, b), (c, d) = edges(one), edges(other)
                assert b <= c - 1 or d <= a - 1, (one, other)


def assert_words_fit(svg):
    _, _, wide, tall = box_of(svg)
    words = words_of(svg)
    assert words
    for one in words:
        left, right = edges(one)
        assert left >= -1 and right <= wide + 1, one
        assert one[2] > 0.7 * one[5] and one[2] + 0.2 * one[5] <= tall + 0.5, one


@pytest.mark.parametrize("name", NAMES)
def test_the_same_records_give_the_same_bytes(all_of_them, name):
    first = all_of_them[name](plots.PAGE)
    all_of_them["gain"](plots.PAPER)
    assert all_of_them[name](plots.PAGE) == first
    assert "2026-" not in first.svg  # no day it was drawn on


@pytest.mark.parametrize("name", NAMES)
def test_the_table_has_one_cell_a_heading(all_of_them, name):
    plot = all_of_them[name](plots.PAGE)
    assert plot.rows
    assert {len(row) for row in plot.rows} == {len(plot.heads)}
    assert all(isinstance(cell, str) for row in plot.rows for cell in row)
    assert not any(cell in ("nan", "inf", "None") for row in plot.rows for cell in row)


def test_settings_of_matplotlib_stay_as_they_were_and_do_not_matter(all_of_them):
    plain = all_of_them["ration"](plots.PAGE)
    with matplotlib.rc_context({"font.size": 30, "svg.fonttype": "path", "lines.linewidth": 9}):
        before = dict(matplotlib.rcParams)
        assert all_of_them["ration"](plots.PAGE) == plain
        assert dict(matplotlib.rcParams) == before


def luminance(colour):
    """Relative luminance (W3C, WCAG 2.2, definition of contrast; from memory)."""
    parts = [int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)]
    a, b, c = (p / 12.92 if p <= 0.04045 else ((p + 0.055) / 1.055) ** 2.4 for p in parts)
    return 0.2126 * a + 0.7152 * b + 0.0722 * c


@pytest.mark.parametrize("colour", style.SERIES)
def test_every_colour_stands_out_from_white_and_from_near_black(colour):
    # W3C, WCAG 2.2, success criterion 1.4.11: 3 to 1 for what is not text (from memory)
    own = luminance(colour)
    assert 1.05 / (own + 0.05) >= 3
    assert (own + 0.05) / (luminance("#161616") + 0.05) >= 3


def test_no_two_of_forty_series_look_alike():
    assert len({(style.colour(i), style.hatch(i)) for i in range(40)}) == 40
    assert len({(style.colour(i), style.mark(i)) for i in range(8)}) == 8


def test_words_and_axes_take_the_colour_of_the_page(all_of_them):
    for name in NAMES:
        root = ElementTree.fromstring(all_of_them[name](plots.PAGE).svg)
        assert root.get("fill") == "currentColor"
        assert all(t.get("fill") is None for t in root.iter(f"{SVG}text"))
        drawn = {v.lower() for n in root.iter() for a in ("fill", "stroke") if (v := n.get(a))}
        known = {"none", "currentcolor", "#ffffff", *style.SERIES}
        assert {v for v in drawn if not v.startswith("url(")} <= known


# ---------------------------------------------------------------- drawn figures read back


def test_weights_are_where_the_scale_says(quernhope):
    plot = plots.weights_line(quernhope, "middle", WEIGHED)
    kg = scale(plot.svg, "end")
    # hand-worked: 34.6 kg on 28 October to 42.0 on 2 April, 156 days; 3 December is day 36
    line = 34.6 + 7.4 * 36 / 156
    assert plot.rows[0] == ("28 October", "34.6", "", "", "first day")
    assert plot.rows[1][:3] == ("3 December", f"{line:.1f}", "35.9")
    (_, own), (_, sample) = marks_of(plot.svg, 2)
    assert kg(own) == pytest.approx(35.9, abs=0.05)
    # the sample of all is set as far from this line as it is from the line of all
    told = weighing.against_farm(WEIGHED[1], quernhope)
    middle = 34.6 + 7.4 * 78 / 156
    assert kg(sample) == pytest.approx(middle - told.behind_kg, abs=0.05)
    assert kg(marks_of(plot.svg, 1)[0][1]) == pytest.approx(42.0, abs=0.05)


def test_a_weighing_is_drawn_with_its_sampling_error(quernhope):
    one = weighing.weighing(date(2027, 1, 14), 36, 38.0, 3.0, batch="middle")
    plot = plots.weights_line(quernhope, "middle", [one])
    # hand-worked: 1.96 x 3.0 / sqrt(36) = 0.98 kg; hours not known: up to 2.4 kg either way
    low, high = plot.rows[1][3].split(" to ")
    assert float(low) == pytest.approx(38.0 - 0.98 - 2.4, abs=0.051)
    assert float(high) == pytest.approx(38.0 + 0.98 + 2.4, abs=0.051)
    assert "sampling" in " ".join(w for w, *_ in words_of(plot.svg))


def test_weighings_of_other_batches_are_left_out(quernhope):
    one = weighing.weighing(date(2027, 1, 14), 36, 38.0, 3.0, batch="strong")
    assert plots.weights_line(quernhope, "middle", [one]) == plots.weights_line(quernhope, "middle")


def test_bars_of_the_ration_are_as_tall_as_what_is_put_out(quernhope):
    plot = plots.ration_through_winter(a_plan(quernhope, THREE), "middle")
    assert plot.heads[0] == "days" and plot.heads[-1] == "together, kg"
    assert [row[-1] for row in plot.rows] == ["0.55", "0.66", "0.67"]
    kg = scale(plot.svg, "end")
    root_baseline = max(b for *_, b in boxes_of(plot.svg) if _[2] - _[0] > 15)
    by_left = {}
    for left, top, right, bottom in boxes_of(plot.svg):
        if right - left > 15:  # the small squares before the names are not bars
            by_left.setdefault(round(left), []).append((top, bottom))
    stacks = [by_left[left] for left in sorted(by_left)]
    assert [len(s) for s in stacks] == [2, 3, 3]
    for parts, whole in zip(stacks, (0.55, 0.66, 0.67), strict=True):
        top = min(t for t, _ in parts)
        assert kg(top) - kg(root_baseline) == pytest.approx(whole, abs=0.01)
        heights = sum(kg(t) - kg(b) for t, b in parts)
        assert heights == pytest.approx(whole, abs=0.01)
    named = [w for w, *_ in words_of(plot.svg)]
    assert {"Bottom Ings", "soya", "rolled barley", "barley straw"} <= set(named)


def test_the_stack_is_empty_on_the_day_it_runs_out(quernhope):
    found = lots.estimated(quernhope)
    plot = plots.stack_to_run_out(found)
    # hand-worked: 3.346 t at 26.90 t over 156 days lasts 19.4 days: the 20th day is 16 November
    assert found.run_out.date == date(2026, 11, 16)
    (at, _), *_ = marks_of(plot.svg, 1)
    months = {w: x for w, x, *_ in words_of(plot.svg) if w in ("Nov", "Dec")}
    day = 4 + (at - months["Nov"]) / (months["Dec"] - months["Nov"]) * 30  # days after 28 October
    assert day == pytest.approx(3.346 / (found.wanted_t / 156), abs=0.1)
    assert plot.sentence == found.line
    told = {row[-1]: row[0] for row in plot.rows if row[-1]}
    assert told["the middle runs out"] == "16 November"


def test_a_planned_stack_goes_down_by_what_is_fed_and_lost(quernhope):
    plan = a_plan(quernhope, THREE)
    plot = plots.stack_to_run_out(lots.planned(plan), plan)
    left = {row[0]: float(row[1]) for row in plot.rows}
    assert left["28 October"] == pytest.approx(3.346, abs=0.01)
    assert left["11 November"] == pytest.approx(2.346, abs=0.01)
    assert left["25 November"] == pytest.approx(1.346, abs=0.01)
    with pytest.raises(ValueError, match="plan"):
        plots.stack_to_run_out(lots.planned(plan))


def test_cost_against_hay_is_where_the_scales_say():
    plot = plots.cost_against_hay(a_curve(HAY, turns=TURNS))
    pence, value = scale(plot.svg, "end"), scale(plot.svg, "middle")
    drawn = {(round(value(x), 1), round(pence(y), 1)) for x, y in marks_of(plot.svg, 1)}
    assert {(v, round(100 * c, 1)) for v, c in HAY.items() if c is not None} <= drawn
    assert [round(value(x), 1) for x, _ in marks_of(plot.svg, 2)] == [9.5]
    words = [w for w, *_ in words_of(plot.svg)]
    assert "now 8.5, 16.5p" in words and "no mix" in words
    assert any("soya comes in" in w for w in words)
    assert any("no mix any more" in w for w in words)
    assert ("8.5", "16.50p", "0.50 kg Bottom Ings", "now") in plot.rows
    assert any(row[-1] == "no mix of these feeds" for row in plot.rows)
    assert "as now, a head costs 16.5p a day" in plot.sentence


def test_protein_is_told_in_per_cent_as_a_sheet_has_it():
    curve = replace(
        a_curve({60.0: 0.17, 90.0: 0.16}, now=90.0), figure="cp_g_per_kg_dm", unit="g/kg DM"
    )
    plot = plots.cost_against_hay(curve)
    assert plot.heads[0] == "protein, % of DM"
    assert [row[0] for row in plot.rows] == ["6", "9"]


def test_needs_are_drawn_as_a_share_of_the_line(mixed):
    ration = mixed.rations[0]
    plot = plots.needs_against_supply(ration)
    found = [n for n in ration.nutrients if n.need] + [
        n for n in ration.nutrients if n.limit and not (n.id.startswith(("most ", "starch")) and n.supply <= 0 and not n.binding)
    ]  # fmt: skip
    bars = [b for b in boxes_of(plot.svg) if b[2] - b[0] > 1]
    assert len(bars) == len(found) == len(plot.rows)
    energy = next(i for i, n in enumerate(found) if n.id == "energy")
    whole = bars[energy][2] - bars[energy][0]  # energy is just met: its bar ends at the line
    for n, bar, row in zip(found, bars, plot.rows, strict=True):
        of = (
            n.need
            if plot.rows.index(row) < len([x for x in ration.nutrients if x.need])
            else n.limit
        )
        share = n.supply / of
        assert (bar[2] - bar[0]) / whole == pytest.approx(min(share, 2.0), abs=0.02)
        assert row[4] == f"{100 * share:.0f}"
    assert "just met" in plot.sentence


def test_worth_and_price_are_where_the_scale_says(mixed):
    one = mixed.rations[0]
    plot = plots.worth_against_price([one])
    gbp = scale(plot.svg, "middle")
    drawn = [gbp(x) for x, _ in marks_of(plot.svg, 2)]
    for f in one.feeds:
        worth = f.worth_gbp_per_t_fresh
        if worth is not None and math.isfinite(worth):
            assert any(abs(max(worth, 0) - d) < 2 for d in drawn), f.name
    cells = {row[0]: row[1] for row in plot.rows}
    assert cells["soya"] == "£398.00"
    assert set(cells) == {f.name for f in one.feeds} - {"grazing"}


def test_gains_are_where_the_scales_say():
    plot = plots.cost_of_gain(a_gain_curve(GAINS))
    pence, gain = scale(plot.svg, "end"), scale(plot.svg, "middle")
    drawn = {(round(gain(x)), round(pence(y), 1)) for x, y in marks_of(plot.svg, 1)}
    assert drawn == {(round(g), round(100 * c, 1)) for g, c in GAINS.items() if c is not None}
    assert [round(gain(x)) for x, _ in marks_of(plot.svg, 2)] == [100]
    assert "as asked, 50 g: 16.8p" in [w for w, *_ in words_of(plot.svg)]
    assert [row[0] for row in plot.rows] == ["0", "25", "50", "75", "100"]


def test_ways_add_up_to_what_a_head_costs(compared):
    plot = plots.ways_of_wintering(compared)
    gbp = scale(plot.svg, "middle")
    rows = {}
    for left, top, right, _ in boxes_of(plot.svg):
        rows.setdefault(round(top), []).append((left, right))
    widest = sorted(rows.items())[-len(compared.budgets) :]
    for (_, parts), b in zip(widest, compared.budgets, strict=True):
        assert gbp(max(r for _, r in parts)) == pytest.approx(b.gbp_per_head, abs=0.2)
    assert plot.rows[-1][1:] == tuple(f"{b.gbp_per_head:.2f}" for b in compared.budgets)
    assert all(b.way in plot.sentence for b in compared.budgets)


def test_what_is_taken_off_stands_left_of_nothing(compared):
    from ration.wintering.budget import Line

    first = compared.budgets[0]
    with_dung = replace(first, lines=(*first.lines, Line("dung", per_head_gbp=-3.0)))
    plot = plots.ways_of_wintering(replace(compared, budgets=(with_dung, *compared.budgets[1:])))
    gbp = scale(plot.svg, "middle")
    assert min(
        gbp(left) for left, top, right, low in boxes_of(plot.svg) if low - top > 14
    ) == pytest.approx(-3, abs=0.2)
    assert "dung, taken off" in [w for w, *_ in words_of(plot.svg)]


def test_standards_stand_beside_each_other_and_proteins_are_not_drawn():
    sheep = animals.batch("hoggs", weight_kg=38, gain_g_per_day=47)
    told = needs.side_by_side(sheep, 9.5)
    plot = plots.standards_beside(told)
    bars = boxes_of(plot.svg)
    assert len(bars) == 3 * 3  # three needs by three standards, and no protein
    widths = [b[2] - b[0] for b in bars[:3]]
    energies = [n.me_mj_per_day for n in told.needs.values()]
    for wide, mj in zip(widths, energies, strict=True):
        assert wide / widths[0] == pytest.approx(mj / energies[0], rel=0.01)
    assert "restated" in plot.rows[0][1]
    assert "not averaged" in plot.sentence


def test_a_standard_that_does_not_cover_them_is_named_with_its_reason():
    light = animals.batch("light", weight_kg=22, gain_g_per_day=47)
    plot = plots.standards_beside(needs.side_by_side(light, 9.5))
    said = " ".join(w for w, *_ in words_of(plot.svg))
    assert "NRC (1985) gives no needs here" in said
    assert "22 kg" in plot.sentence


def test_trials_are_drawn_where_they_were_seen_and_expected(trialled):
    plot = plots.trials(trialled)
    grams = scale(plot.svg, "middle")
    for place, standard in enumerate(trialled.standards):
        expected = sorted(
            p.gain_g_per_day for _, p in trialled.told if p.standard == standard and p.is_covered
        )
        top = max(y for _, y in marks_of(plot.svg, place + 2)[:1])
        drawn = sorted(grams(x) for x, y in marks_of(plot.svg, place + 2) if y > 30)
        assert top
        assert drawn[-len(expected) :] == pytest.approx(expected, abs=3)
    assert len(plot.rows) == len({t.key for t, _ in trialled.told})
    assert any("not covered" in row for row in plot.rows)


# ---------------------------------------------------------------- hostile and empty


@pytest.mark.parametrize("size", SIZES, ids=lambda s: s.name)
@pytest.mark.parametrize("name", [HOSTILE, ONE_WORD], ids=["hostile", "one word"])
def test_names_of_any_kind_are_escaped_and_cut(quernhope, mixed, name, size):
    ids = {i: f"{i[:1]} {name}" for kg in THREE for i in kg}
    plan = a_plan(quernhope, THREE, names=ids)
    renamed = replace(quernhope.batches[1], name=name)
    ration = mixed.rations[0]
    other = replace(
        ration,
        batch=replace(ration.batch, name=name),
        feeds=tuple(replace(f, name=f"{f.name} {name}") for f in ration.feeds),
        nutrients=tuple(replace(n, name=f"{n.name} {name}") for n in ration.nutrients),
    )
    drawn = [
        plots.ration_through_winter(plan, "middle", size=size),
        plots.weights_line(replace(quernhope, batches=(renamed,)), name, size=size),
        plots.cost_against_hay(
            a_curve(HAY, turns=TURNS, names={"hay": name, "soya": name}), size=size
        ),
        plots.worth_against_price([other], size=size),
        plots.needs_against_supply(other, size=size),
    ]
    for plot in drawn:
        root = ElementTree.fromstring(plot.svg.encode())
        assert "<script" not in plot.svg
        assert not [n for n in root.iter() if n.tag.endswith("script")]
        told = " ".join([plot.svg, plot.title, plot.sentence, *plot.heads, *sum(plot.rows, ())])
        assert not re.search("[\x00\u202e\ud800]", told)
        assert_words_fit(plot.svg)
    if name is HOSTILE:
        assert "&lt;script&gt;" in drawn[2].svg
        assert "$\\frac" in drawn[2].svg  # shown as written, never set as a formula


@settings(max_examples=25)
@given(st.text(max_size=80))
def test_any_name_at_all_can_be_drawn(name):
    curve = a_curve({8.5: 0.16, 9.0: 0.15}, names={"hay": name, "soya": name}, turns=TURNS[:1])
    plot = plots.cost_against_hay(curve)
    ElementTree.fromstring(plot.svg.encode("utf-8"))
    assert_words_fit(plot.svg)


@settings(max_examples=40)
@given(
    st.lists(
        st.dictionaries(
            st.sampled_from(
                [
                    "bottom-ings",
                    "soya",
                    "rolled-barley",
                    "barley-straw",
                    "limestone",
                    "sheep-mineral",
                ]
            ),
            st.floats(0, 4),
            min_size=0,
        ),
        min_size=1,
        max_size=14,
    )
)
def test_any_winter_can_be_drawn(kilos):
    whole = farm.read(QUERNHOPE) if not CACHE else CACHE[0]
    CACHE[:] = [whole]
    plot = plots.ration_through_winter(a_plan(whole, kilos), "middle")
    assert_words_fit(plot.svg)
    if plot.heads[-1] == "together, kg":
        assert len(plot.rows) == len(kilos)


CACHE: list = []


@given(st.lists(st.tuples(st.floats(0, 300), st.floats(1, 40)), min_size=1, max_size=12))
def test_labels_are_spread_in_order_without_overlap(wanted):
    wanted.sort()
    middles, heights = [w for w, _ in wanted], [h for _, h in wanted]
    found = lettering.spread(middles, heights, 0, 600)
    for (a, high_a), (b, high_b) in zip(
        zip(found, heights, strict=True), zip(found[1:], heights[1:], strict=True), strict=False
    ):
        assert b - a >= (high_a + high_b) / 2 - 1e-6
    assert found[0] - heights[0] / 2 >= -1e-6
    assert found[-1] + heights[-1] / 2 <= 600 + 1e-6


@given(st.floats(-1e4, 1e4), st.floats(1e-3, 1e4), st.integers(1, 12))
def test_ticks_lie_on_the_scale_and_are_not_too_many(low, length, most):
    span = (low, low + length)
    found = style.ticks_of(span, most)
    assert len(found) <= most + 2
    assert all(span[0] - length * 1e-6 <= v <= span[1] + length * 1e-6 for v in found)


@pytest.mark.parametrize("size", SIZES, ids=lambda s: s.name)
def test_nothing_to_draw_says_why(quernhope, mixed, trialled, size):
    empty = replace(a_plan(quernhope, THREE), fed=(), bill=None, why_not="there is no ration")
    found = a_gain_curve({50.0: None})
    none_at_all = {8.5: None}
    not_mixed = replace(mixed.rations[0], assessment=None, nutrients=(), feeds=())
    bare = replace(quernhope, offers=tuple(o for o in quernhope.offers if not o.is_home))
    for plot, words in (
        (plots.ration_through_winter(empty, "middle", size=size), "there is no ration"),
        (plots.cost_of_gain(found, size=size), "no mix of these feeds"),
        (plots.cost_against_hay(a_curve(none_at_all), size=size), "no mix"),
        (plots.needs_against_supply(not_mixed, size=size), "no mix"),
        (plots.worth_against_price([not_mixed], size=size), "No batch has a mix"),
        (plots.stack_to_run_out(lots.estimated(bare), size=size), "no hay or silage"),
        (plots.trials(replace(trialled, told=()), size=size), "no trial"),
    ):
        assert words in " ".join(w for w, *_ in words_of(plot.svg))
        assert words in plot.sentence
        assert_words_fit(plot.svg)


@pytest.mark.parametrize("size", SIZES, ids=lambda s: s.name)
def test_one_point_can_be_drawn(quernhope, size):
    one_day = replace(quernhope, end=quernhope.start + timedelta(1), days=1)
    for plot in (
        plots.cost_against_hay(a_curve({8.5: 0.165}), size=size),
        plots.cost_of_gain(a_gain_curve({50.0: 0.165}), size=size),
        plots.ration_through_winter(a_plan(quernhope, THREE[:1]), "middle", size=size),
        plots.weights_line(one_day, "middle", size=size),
        plots.stack_to_run_out(lots.estimated(one_day), size=size),
    ):
        assert plot.rows
        assert_words_fit(plot.svg)


def test_a_batch_that_is_not_there_is_refused(quernhope):
    plan = a_plan(quernhope, THREE)
    for call in (
        lambda: plots.weights_line(quernhope, "nobody"),
        lambda: plots.ration_through_winter(plan, "nobody"),
    ):
        with pytest.raises(UnknownName, match="nobody"):
            call()


def test_two_pictures_of_one_page_share_no_id(all_of_them):
    ids = []
    for name in ("ration", "ways", "standards", "hay", "gain", "worth", "trials"):
        root = ElementTree.fromstring(all_of_them[name](plots.PAGE).svg)
        ids += [node.get("id") for node in root.iter() if node.get("id")]
    assert len(ids) == len(set(ids))

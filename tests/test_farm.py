"""Farm files: what is read, what is laid over what, and how faults are told.

The demo farm is invented; the numbers expected of it are arithmetic on what the file says, by
hand. What a plain YAML reader would have made of a text is asked of PyYAML itself.
"""

from __future__ import annotations

import statistics
import subprocess
import sys
from datetime import date
from pathlib import Path

import hypothesis
import pytest
import yaml
from hypothesis import strategies as st

from ration import farm, strict_yaml, tables
from ration.errors import FileError, InputError
from ration.farm import Farm, Limits, Lot, Offer, OtherStock, Store, Winter, season
from ration.tables import Tables

DEMO = Path(farm.__file__).parent.parent / "demo"
SMALL = """\
winter: {from: 1 November 2026, to: 31 March 2027}
batches:
  hoggs:
    head: 50
    weight: 30 kg
    gain: 20 g/day
feeds:
  hay-average:
    would fetch: 100 /t
  barley:
    price: 200 /t
"""


@pytest.fixture(scope="module")
def shipped() -> Tables:
    return tables.load()


@pytest.fixture(scope="module")
def demo(shipped: Tables) -> Farm:
    return farm.read(DEMO / "quernhope.yaml", tables=shipped)


def read(text: str, shipped: Tables, folder: Path | None = None) -> Farm:
    return farm.read_text(text, "farm.yaml", folder, tables=shipped)


def refusals(text: str, shipped: Tables, folder: Path | None = None) -> list[str]:
    with pytest.raises(InputError) as caught:
        read(text, shipped, folder)
    return [str(p).replace("?.", "?") for p in caught.value.problems]


def offer(found: Farm, offer_id: str) -> Offer:
    return next(o for o in found.offers if o.id == offer_id)


# ---------------------------------------------------------------- the demo farm


def test_demo_winter_and_place(demo: Farm) -> None:
    assert demo.name == "Quernhope"
    assert (demo.start, demo.end, demo.days) == (date(2026, 10, 28), date(2027, 4, 2), 156)
    assert (demo.trough_m, demo.floor_m2, demo.housing) == (54.0, 128.0, "shed")
    assert (demo.standard, demo.margin, demo.maintenance) == ("AFRC 1993", 1.05, 1.0)
    assert demo.assume == ("all",)
    assert demo.path == DEMO / "quernhope.yaml"


def test_demo_batches(demo: Farm) -> None:
    assert [(b.name, b.head) for b in demo.batches] == [
        ("strong", 92),
        ("middle", 58),
        ("small", 34),
    ]
    strong, middle, small = demo.batches
    # 4.8 kg, 7.4 kg and 9.6 kg in 156 days; half-way weights
    assert strong.gain_g_per_day == pytest.approx(4800 / 156)
    assert middle.gain_g_per_day == pytest.approx(7400 / 156)
    assert small.gain_g_per_day == pytest.approx(9600 / 156)
    assert [b.weight_kg for b in demo.batches] == pytest.approx([39.6, 38.3, 37.2])
    assert (middle.start_weight_kg, middle.end_weight_kg) == (34.6, 42.0)
    assert {b.sheep_class for b in demo.batches} == {"ewe-lamb"}
    assert {b.mature_weight_kg for b in demo.batches} == {62.0}
    # the whole flock: 184 head of mean 35.49 kg gaining 41.7 g/day
    heads = sum(b.head for b in demo.batches)
    assert heads == 184
    mean = sum(b.head * (b.start_weight_kg or 0) for b in demo.batches) / heads
    assert mean == pytest.approx(35.49, abs=0.005)
    gain = sum(b.head * b.gain_g_per_day for b in demo.batches) / heads
    assert gain == pytest.approx(41.7, abs=0.05)


def test_demo_hay_and_the_ewes_first_call(demo: Farm) -> None:
    meadow, ings, stack = (offer(demo, i) for i in ("long-meadow", "bottom-ings", "old-stack"))
    assert meadow.stock_t_fresh == pytest.approx(11.776)
    assert ings.stock_t_fresh == pytest.approx(11.04)
    assert stack.stock_t_fresh == pytest.approx(1.53)
    claims = [o.first_claim_t_fresh for o in (meadow, ings, stack)]
    assert sum(claims) == pytest.approx(21.0)
    left = [o.available_t_fresh for o in (meadow, ings, stack)]
    assert left == pytest.approx([0.0, 3.346, 0.0])
    assert stack.is_stock_guess
    assert ings.is_stock_guess  # a range, 215 to 265 kg
    assert ings.lot.guess_kg == (215.0, 265.0)
    assert (meadow.lot.weighed, meadow.lot.sd_kg) == (12, 1.9)
    assert ings.signs == ("dusty",)
    assert all(o.is_home for o in (meadow, ings, stack))
    assert [o.price_gbp_per_t_fresh for o in (meadow, ings)] == [110.0, 110.0]


def test_demo_own_figures_are_marked_with_their_line(demo: Farm) -> None:
    hay = offer(demo, "long-meadow").feed
    assert hay.id == "hay-average"
    assert hay.name == "Long Meadow"
    text = (DEMO / "quernhope.yaml").read_text().splitlines()
    for nutrient, value, word in (
        ("dm_g_per_kg_fresh", 846.0, "dry matter"),
        ("cp_g_per_kg_dm", 86.0, "protein"),
        ("me_mj_per_kg_dm", 8.7, "energy"),
        ("ca_g_per_kg_dm", 4.6, "calcium"),
        ("p_g_per_kg_dm", 1.7, "phosphorus"),
    ):
        figure = hay.figure(nutrient)
        assert figure.value == pytest.approx(value)
        assert figure.mark == "user"
        line = int(figure.place.split()[-1])
        assert text[line - 1].strip().startswith(word + ":")
    assert "domd_g_per_kg_dm" not in hay.figures  # the book's D-value went with its energy
    assert hay.figure("ndf_g_per_kg_dm").mark != "user"


def test_demo_offers(demo: Farm) -> None:
    price = {o.id: o.price_gbp_per_t_fresh for o in demo.offers}
    assert price["rolled-barley"] == 211.0
    assert price["neighbours-oats"] == 193.55
    assert price["cubes-16-bags"] == pytest.approx(417.5)  # 8.35 / 0.020
    assert price["small-bale-hay"] == pytest.approx(311.11, abs=0.005)  # 5.60 / 0.018
    assert price["sheep-mineral"] == pytest.approx(740.0)
    assert "limestone" not in price
    assert demo.unpriced == (("limestone", "price to be entered"),)
    nut = offer(demo, "balancer-nut")
    assert nut.feed["cp_g_per_kg_dm"] == pytest.approx(390.8, abs=0.05)  # 340 / 0.87
    assert nut.name == "34 % balancer nut"
    assert offer(demo, "plain-beet-nuts").available_t_fresh == 6.0
    assert offer(demo, "rolled-barley").available_t_fresh is None


def test_demo_losses_by_kind(demo: Farm) -> None:
    loss = {o.id: (o.waste_share, o.storage_loss_share) for o in demo.offers}
    assert loss["bottom-ings"] == pytest.approx((0.12, 0.03))
    assert loss["barley-straw"] == pytest.approx((0.12, 0.0))
    assert loss["soya"] == pytest.approx((0.01, 0.0))
    assert loss["sheep-mineral"] == pytest.approx((0.01, 0.0))


def test_demo_ration_fed(demo: Farm) -> None:
    (fed,) = demo.fed
    assert fed.batch == "middle"
    assert dict(fed.kg_fresh_per_head_day) == {"long-meadow": 0.68, "cubes-16-blown": 0.18}
    assert not fed.is_part_ration


def test_demo_analysis_is_laid_over(shipped: Tables) -> None:
    sheet = DEMO / "bottom-ings-2026-11-16.csv"
    found = farm.read(DEMO / "quernhope.yaml", tables=shipped, analyses={"Bottom Ings": sheet})
    hay = offer(found, "bottom-ings")
    assert hay.feed["dm_g_per_kg_fresh"] == pytest.approx(820)
    assert hay.feed["cp_g_per_kg_dm"] == pytest.approx(69)
    assert hay.feed["me_mj_per_kg_dm"] == pytest.approx(8.1)
    assert hay.feed.figure("cp_g_per_kg_dm").mark == "lab"
    assert hay.analysed is not None
    text = (DEMO / "quernhope.yaml").read_text().replace("# analysis:", "analysis:")
    named = farm.read_text(text, "q.yaml", DEMO, tables=shipped)
    assert offer(named, "bottom-ings").feed.figures == hay.feed.figures


def test_own_tables_are_loaded_when_none_are_given(demo: Farm) -> None:
    assert farm.read(str(DEMO / "quernhope.yaml")) == demo


# ---------------------------------------------------------------- small farms


def test_least_farm_has_the_defaults(shipped: Tables) -> None:
    found = read(SMALL, shipped)
    (batch,) = found.batches
    assert (batch.sheep_class, batch.sex, batch.under_one_year) == ("ewe-lamb", "female", True)
    assert (batch.weight_kg, batch.gain_g_per_day) == (30.0, 20.0)
    assert batch.start_weight_kg is batch.end_weight_kg is None
    assert found.limits == Limits()
    assert dict(found.batch_limits) == {"hoggs": Limits()}
    assert found.assume == ()
    assert found.meals_per_day == 1
    hay, barley = found.offers
    assert hay.is_home
    assert not barley.is_home
    assert hay.waste_share == 0.0
    assert barley.price_words == "200 /t"
    assert barley.place == "farm.yaml line 10"


@pytest.mark.parametrize(
    "lines",
    [
        "    Mature Weight: 70 kg",
        "    mature_weight: 70 kg",
        "    mature-weight: 70 kg",
        "    MATURE  WEIGHT: 70 kg",
        '    "mature weight": "70 kg"',
        "    mature weight: 11 st 0.324 lb",
    ],
)
def test_names_are_plain_words(lines: str, shipped: Tables) -> None:
    text = SMALL.replace("    gain: 20 g/day", f"    gain: 20 g/day\n{lines}")
    assert read(text, shipped).batches[0].mature_weight_kg == pytest.approx(70, abs=0.01)


def test_feed_for_now_or_mid_winter(shipped: Tables) -> None:
    def weight(lines: str) -> float:
        text = SMALL.replace("    gain: 20 g/day", lines)
        return read(text, shipped).batches[0].weight_kg

    days = 150
    assert weight("    target: 36 kg") == pytest.approx(33.0)
    assert weight("    target: 36 kg\n    feed for: now") == pytest.approx(30.0)
    assert weight("    gain: 20 g/day\n    feed for: mid-winter") == pytest.approx(
        30 + 0.020 * days / 2
    )


def test_batch_says_what_it_is(shipped: Tables) -> None:
    text = SMALL.replace(
        "    gain: 20 g/day",
        "    gain: 0.14 kg/week\n    class: tup lamb\n    age: 13 months\n    breed: Texel cross\n"
        "    housing: hill\n    mature weight: 90 kg\n    lambing: 1 May 2027",
    )
    batch = read(text, shipped).batches[0]
    assert (batch.sheep_class, batch.sex, batch.under_one_year) == ("tup-lamb", "entire", False)
    assert (batch.breed, batch.housing, batch.mature_weight_kg) == ("Texel cross", "hill", 90.0)
    assert batch.gain_g_per_day == pytest.approx(20)
    assert batch.days_to_lambing == 181  # 1 November to 1 May


def test_limits_of_a_batch_lie_over_the_farms(shipped: Tables) -> None:
    text = SMALL.replace(
        "    gain: 20 g/day",
        "    gain: 20 g/day\n    limits:\n      most trough feed: 0.3 kg\n      most oil: 5 %",
    )
    text += (
        "limits:\n  least dry matter: 2.1 % of weight\n  most dry matter: 0.9 kg\n"
        "  least forage: 70 % of dry matter\n  most trough feed: 1 lb\n"
        "  most trough feed share: 35 %\n  most starch and sugar: 20 %\n"
        "  most copper: 12 mg/kg DM\n  least calcium to phosphorus: 1.2\n"
        "  most calcium to phosphorus: 5\n  ceiling gain: 90 g/day\n"
    )
    found = read(text, shipped)
    assert found.limits == Limits(
        intake_share_of_weight_least=2.1 / 100,
        intake_kg_dm_most=0.9,
        forage_share_of_dm_least=0.7,
        concentrate_kg_fresh_most=0.45359237,
        concentrate_share_of_dm_most=0.35,
        starch_and_sugar_share_of_dm_most=0.2,
        copper_mg_per_kg_dm_most=12.0,
        ca_to_p_least=1.2,
        ca_to_p_most=5.0,
        ceiling_gain_g_per_day=90.0,
    )
    own = found.batch_limits["hoggs"]
    assert (own.concentrate_kg_fresh_most, own.oil_share_of_dm_most) == (0.3, 0.05)
    assert own.intake_kg_dm_most == 0.9
    # an end of the band said as a share replaces one said in kg
    share = Limits(intake_share_of_weight_most=0.03)
    assert share.over(found.limits).intake_kg_dm_most is None
    assert share.over(found.limits).intake_share_of_weight_least == pytest.approx(0.021)


def test_limits_of_a_feed(shipped: Tables) -> None:
    text = SMALL + (
        "    least a day: 50 g\n    most a day: 0.3 kg\n    least of dry matter: 5 %\n"
        "    most of dry matter: 30 %\n    made for: cattle\n"
        "    waste: 2 %\n    storage loss: 1 %\n"
    )
    barley = offer(read(text, shipped), "barley")
    assert barley.least_kg_fresh_per_head_day == pytest.approx(0.05)
    assert barley.most_kg_fresh_per_head_day == pytest.approx(0.3)
    assert (barley.least_share_of_dm, barley.most_share_of_dm) == pytest.approx((0.05, 0.30))
    assert barley.made_for == "cattle"
    assert (barley.waste_share, barley.storage_loss_share) == pytest.approx((0.02, 0.01))


def test_figures_keep_their_basis(shipped: Tables) -> None:
    text = SMALL + (
        "    dry matter: 80 %\n    protein: 8 % fresh\n    energy: 10.4 MJ/kg fresh\n"
        "    calcium: 1.0 g/kg DM\n    copper: 4 mg/kg fresh\n"
        "    degradability: {a: 0.3, b: 60 %, c: 0.2}\n    D-value: 80 %\n    pH: 6.1\n"
        "    non-protein nitrogen: 5 %\n"
    )
    feed = offer(read(text, shipped), "barley").feed
    # a fresh figure over 0.80 of dry matter
    assert feed["cp_g_per_kg_dm"] == pytest.approx(100.0)
    assert feed["me_mj_per_kg_dm"] == pytest.approx(13.0)
    assert feed["ca_g_per_kg_dm"] == pytest.approx(1.0)
    assert feed["cu_mg_per_kg_dm"] == pytest.approx(5.0)
    assert [feed[n] for n in ("n_a_share", "n_b_share", "n_c_per_h")] == pytest.approx(
        [0.3, 0.6, 0.2]
    )
    assert (feed["domd_g_per_kg_dm"], feed["ph"], feed["npn_share_of_cp"]) == (800, 6.1, 0.05)
    assert "at 80 % dry matter" in feed.figure("cp_g_per_kg_dm").note


def test_odd_figure_stands_when_it_is_checked(shipped: Tables) -> None:
    text = SMALL + "    protein: 320 g/kg DM\n"
    assert "believable for cereal" in refusals(text, shipped)[0]
    found = read(text + "    checked: yes\n", shipped)
    assert offer(found, "barley").feed["cp_g_per_kg_dm"] == 320


def test_home_feed_may_fetch_nothing(shipped: Tables) -> None:
    for words in ("nothing", "0 /t"):
        found = read(SMALL.replace("100 /t", words), shipped)
        assert found.offers[0].price_gbp_per_t_fresh == 0.0
        assert found.offers[0].is_home
    told = refusals(SMALL.replace("200 /t", "0 /t"), shipped)
    assert told == [
        'farm.yaml line 11, feeds > barley > price: read "0 /t": a bought feed has a price. '
        'For your own feed: "would fetch: 0 /t".'
    ]


def test_fed_and_part_ration(shipped: Tables) -> None:
    text = (
        SMALL
        + "fed:\n  hoggs:\n    hay average: 1.5 lb\n    barley: 0.5 lb\n    part ration: yes\n"
    )
    (fed,) = read(text, shipped).fed
    assert fed.kg_fresh_per_head_day["hay-average"] == pytest.approx(0.680388555)
    assert fed.is_part_ration


def test_settings_of_the_farm(shipped: Tables) -> None:
    text = SMALL + (
        "name: Test\nmargin: 10 %\nmaintenance: 1.4\nmeals a day: 2\nshow pounds: yes\n"
        "mixed at home: true\nassume: [barley]\nhousing: in-bye\nstandard: afrc 1993\n"
    )
    found = read(text, shipped)
    assert (found.margin, found.maintenance) == pytest.approx((1.10, 1.4))
    assert (found.meals_per_day, found.also_show_lb, found.is_mixing_at_home) == (2, True, True)
    assert found.assume == ("barley",)
    assert found.batches[0].housing == "in-bye"


def test_own_table_is_laid_over(shipped: Tables, tmp_path: Path) -> None:
    (tmp_path / "mine.csv").write_text("feed_id,nutrient,value\nbarley,cp_g_per_kg_dm,111\n")
    text = SMALL + "tables: mine.csv\n"
    for given in (None, shipped):
        found = farm.read_text(text, "farm.yaml", tmp_path, tables=given)
        assert offer(found, "barley").feed["cp_g_per_kg_dm"] == 111
        assert found.tables == (tmp_path / "mine.csv",)


# ---------------------------------------------------------------- strict YAML

# text: what is read
AS_READ = {
    "16:30": "16:30",
    "010": "010",
    "2026-10-28": "2026-10-28",
    "8.5e2": "8.5e2",
    ".nan": ".nan",
    ".inf": ".inf",
    "1_000": "1_000",
    "0x1F": "0x1F",
    "12": 12,
    "-3": -3,
    "1.05": 1.05,
    "yes": True,
    "No": False,
    "true": True,
    "'yes'": "yes",
    '"12"': "12",
    "on": "on",
    "~": None,
    "": None,
    "null": None,
    "9999999999999999999999": "9999999999999999999999",
    "[1, two]": [1, "two"],
    "{Some_Name: 3 kg}": {"some name": "3 kg"},
    "|\n  block": "block\n",
}


@pytest.mark.parametrize("loader", ["CSafeLoader", "SafeLoader"])
@pytest.mark.parametrize("text", AS_READ)
def test_scalars_are_not_guessed_at(
    text: str, loader: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(strict_yaml, "_LOADER", getattr(yaml, loader))
    sheet = strict_yaml.parse(f"a: {text}\n", "x.yaml")
    assert sheet.data == {"a": AS_READ[text]}
    assert type(sheet.data["a"]) is type(AS_READ[text])
    assert not sheet.problems


@pytest.mark.parametrize(
    ("text", "guess"),
    [("16:30", 990), ("010", 8), ("2026-10-28", date(2026, 10, 28)), ("1_000", 1000),
     ("0x1F", 31), ("on", True), (".inf", float("inf"))],
)  # fmt: skip
def test_the_guesses_of_a_plain_reader_are_not_made(text: str, guess: object) -> None:
    assert yaml.safe_load(f"a: {text}") == {"a": guess}
    assert strict_yaml.parse(f"a: {text}", "x.yaml").data == {"a": text}


@pytest.mark.parametrize("loader", ["CSafeLoader", "SafeLoader"])
@pytest.mark.parametrize(
    ("text", "line", "message"),
    [
        ("a: 1\nA: 2\n", 2, '"A" is here a second time; it is already at line 1'),
        ("a b: 1\nb: 1\na_b: 2\n", 3, '"a_b" is here a second time; it is already at line 1'),
        ("a: &x 1\n", 1, "a reference mark (&x) is not allowed"),
        ("a: 1\nb: *x\n", 2, "a reference (*x) is not allowed"),
        ("a: !!python/object:os.system x\n", 1, "a tag (tag:yaml.org,2002:python/object"),
        ("a: !price 3\n", 1, "a tag (!price) is not allowed"),
        ("!!str a: 1\n", 1, "a tag (tag:yaml.org,2002:str) is not allowed"),
        ("? [a, b]\n: 1\n", 1, "a name is wanted before the colon"),
        ('"": 1\n', 1, "a name is empty"),
        ("a: {b: {c: {d: {e: {f: {g: {h: {i: 1}}}}}}}}\n", 1, "nested too deep"),
        ("a: 1\n---\nb: 2\n", 2, 'a second document starts here ("---")'),
        ("a:\n\tb: 1\n", 2, "a tab is used to line things up"),
        ("a: b: c\n", 1, "the second of its line"),
        ("a: 1\nb: @x\n", 2, "cannot start a value"),
        ("a: 'x\n", None, "a quote is opened here"),
        ("a: [1, 2\nb: 3\n", None, "a bracket is opened here|set in too far"),
        ("", None, "the file is empty"),
        ("# only a remark\n", None, "the file is empty"),
        ("a: \x00\n", 1, "a character that does not belong in text (0x0)"),
        ("a: 1\nb: \x1b[31m\n", 2, "a character that does not belong in text (0x1b)"),
        ("a: \ud800\n", 1, "a character that does not belong in text (0xd800)"),
    ],
)
def test_clever_or_broken_yaml_is_refused_at_its_line(
    text: str, line: int | None, message: str, loader: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(strict_yaml, "_LOADER", getattr(yaml, loader))
    try:
        told = [str(p) for p in strict_yaml.parse(text, "x.yaml").problems]
    except FileError as error:
        told = [str(p) for p in error.problems]
    parts = message.split("|")
    assert any(part in told[0] for part in parts), told
    if line is not None:
        assert told[0].startswith(f"x.yaml line {line}")


def test_merge_keys_do_nothing(shipped: Tables) -> None:
    told = refusals("<<: {name: x}\n" + SMALL, shipped)
    assert told[0].startswith('farm.yaml line 1, <<: "<<" is not a name used here.')


def test_files_are_read_within_the_cap_and_in_utf8(tmp_path: Path, shipped: Tables) -> None:
    path = tmp_path / "farm.yaml"
    path.write_bytes(b"\xef\xbb\xbf" + SMALL.replace("200 /t", "£200 /t").encode())
    assert farm.read(path, tables=shipped).offers[1].price_gbp_per_t_fresh == 200
    for raw, message in (
        (
            SMALL.replace("200 /t", "£200 /t").encode("cp1252"),
            "farm.yaml line 11: a letter or sign",
        ),
        (SMALL.encode("utf-16"), "the file is in UTF-16"),
        (b"\x89PNG\r\n\x1a\n\0\0\0", "farm.yaml line 1: "),
        (b"a: " + b"x" * 300_000, "the file is too large; a farm file is at most 200 kB"),
    ):
        path.write_bytes(raw)
        with pytest.raises(FileError, match=message):
            farm.read(path, tables=shipped)
    with pytest.raises(FileError, match="there is no such file"):
        farm.read(tmp_path / "none.yaml", tables=shipped)
    with pytest.raises(FileError, match="this is a folder"):
        farm.read(tmp_path, tables=shipped)
    with pytest.raises(FileError, match="there is no such file"):
        farm.read(Path("a\0b.yaml"), tables=shipped)


@pytest.mark.parametrize(
    "name", ["../sheet.csv", "/etc/hosts", "a/../../b.csv", "c:\\x.csv", "no.csv"]
)
@pytest.mark.parametrize("key", ["    analysis", "tables", "quotes"])
def test_nothing_outside_the_folder_is_opened(
    name: str, key: str, shipped: Tables, tmp_path: Path
) -> None:
    (told,) = refusals(f"{SMALL}{key}: {name}\n", shipped, tmp_path)
    assert "beside the farm file" in told
    assert told.startswith("farm.yaml line 12")


def test_a_text_without_a_folder_names_no_files(shipped: Tables) -> None:
    (told,) = refusals(SMALL + "    analysis: sheet.csv\n", shipped)
    assert "other files cannot be named here" in told


# ---------------------------------------------------------------- the winter, the stack, the pens

WINTER = """\
winter: {from: 28 October 2026, to: 2 April 2027, periods: 2 weeks, long winter: 30 days}
steps: {step up: 10 days, taper: 5 days, most step: 40 g a day, most change: 80 g,
        most at one feed: 1 lb, hay first: yes}
lane: 18 t
interest: 7 % a year
left over: 40 %
shrink: 0.5 % a month
stores:
  bin: {holds: 4 t, for: [Cubes 16, barley]}
  shed: {holds: 30 t, for: hay-average}
other stock:
  Ewes: {head: 610, from: 1 December 2026, to: 10 April 2027}
  cattle: {head: 4}
batches:
  hoggs: {head: 58, weight: 30 kg, gain: 20 g/day, pens: 4}
  small: {head: 34, weight: 28 kg, target: 34 kg, pens: [20, 14]}
  tups: {head: 3, weight: 40 kg, gain: 20 g/day}
feeds:
  hay-average:
    would fetch: 100 /t
    stock: 640 bales
    weighed: 12 bales, mean 18.4 kg, SD 1.9 kg
    first claim: {ewes: 7.694 t, cattle: 2 t}
    bale: 18 kg
    scoop: 2.10 kg
    bucket: 8 kg
  barley: {price: 200 /t, scoop: 1.55 kg}
  cubes-16: {price: 291 /t}
"""


def test_nothing_said_of_the_winter_is_the_defaults(shipped: Tables) -> None:
    found = read(SMALL, shipped)
    assert found.winter == Winter(start_kg={"hoggs": 30.0})
    hay, _ = found.offers
    assert (hay.lot, hay.claims, hay.measures) == (None, (), ())


def test_winter_steps_lorry_money_and_stores(shipped: Tables) -> None:
    winter = read(WINTER, shipped).winter
    assert (winter.period_days, winter.long_winter_days) == (14, 30)
    assert (winter.step_up_days, winter.taper_days) == (10, 5)
    assert (winter.most_step_kg, winter.most_change_kg) == (0.04, 0.08)
    assert winter.one_feed_most_kg == 0.45359237  # the pound, by law
    assert winter.hay_first
    assert (winter.lane_t, winter.leftover_share) == (18.0, 0.4)
    assert winter.interest_share_per_year == pytest.approx(0.07)
    assert winter.shrink_share_per_month == pytest.approx(0.005)
    assert winter.stores == (
        Store("bin", 4.0, ("cubes-16", "barley")),
        Store("shed", 30.0, ("hay-average",)),
    )


def test_other_stock_eats_all_winter_unless_it_has_its_own_dates(shipped: Tables) -> None:
    ewes, cattle = read(WINTER, shipped).winter.other_stock
    assert ewes == OtherStock("Ewes", 610, date(2026, 12, 1), date(2027, 4, 10))
    assert cattle == OtherStock("cattle", 4, date(2026, 10, 28), date(2027, 4, 2))


def test_pens_and_first_weights(shipped: Tables) -> None:
    winter = read(WINTER, shipped).winter
    assert dict(winter.pens) == {"hoggs": (15, 15, 14, 14), "small": (20, 14)}
    assert dict(winter.start_kg) == {"hoggs": 30.0, "small": 28.0, "tups": 40.0}
    text = WINTER.replace("pens: [20, 14]", 'pens: "20, 14"')
    assert read(text, shipped).winter.pens["small"] == (20, 14)


@hypothesis.given(st.integers(1, 50), st.integers(1, 2000))
def test_pens_are_as_even_as_can_be(pens: int, head: int) -> None:
    if pens > head:
        with pytest.raises(InputError, match="at least 1 head"):
            season.pens_of(pens, head)
        return
    heads = season.pens_of(pens, head)
    assert (len(heads), sum(heads)) == (pens, head)
    assert max(heads) - min(heads) <= 1


def test_claims_add_up_and_carry_the_names_of_the_other_stock(shipped: Tables) -> None:
    hay = offer(read(WINTER, shipped), "hay-average")
    assert hay.claims == (("Ewes", 7.694), ("cattle", 2.0))
    assert hay.first_claim_t_fresh == pytest.approx(9.694)
    assert hay.available_t_fresh == pytest.approx(11.776 - 9.694)


@pytest.mark.parametrize(
    ("claim", "others", "told"),
    [
        ("2 t", "", (("other stock", 2.0),)),
        ("2 t", "  ewes: {head: 610}\n", (("ewes", 2.0),)),
        ("2 t", "  ewes: {}\n  cows: {}\n", (("other stock", 2.0),)),
        ("all", "  Our-ewes: {}\n", (("Our-ewes", 11.776),)),
        ("{our ewes: all}", "  Our-ewes: {}\n", (("Our-ewes", 11.776),)),
        ("{ewes: 2 t, cattle: none}", "", (("ewes", 2.0),)),
        ("none", "", ()),
        ("0 t", "", ()),
    ],
)
def test_one_claim_or_several(
    claim: str, others: str, told: tuple[tuple[str, float], ...], shipped: Tables
) -> None:
    text = SMALL.replace(
        "100 /t\n", f"100 /t\n    stock: 640 bales of 18.4 kg\n    first claim: {claim}\n"
    )
    text += f"other stock:\n{others}" if others else ""
    hay = offer(read(text, shipped), "hay-average")
    assert [(n, pytest.approx(t)) for n, t in hay.claims] == list(told)
    assert hay.first_claim_t_fresh == pytest.approx(sum(t for _, t in told))


KGS = (18.2, 17.9, 20.1, 16.4, 19.0)


@pytest.mark.parametrize(
    ("lines", "t", "lot", "guess"),
    [
        ("stock: 640 bales of 18.4 kg", 11.776, Lot(640, "bales", 18.4), False),
        ("stock: 90 bales, guess 17 kg", 1.53, Lot(90, "bales", 17.0), True),
        (
            "stock: 46 rounds of 215 to 265 kg",
            11.04,
            Lot(46, "rounds", guess_kg=(215.0, 265.0)),
            True,
        ),
        (
            "stock: 46 round bales, about 215-265 kg each",
            11.04,
            Lot(46, "round bales", guess_kg=(215.0, 265.0)),
            True,
        ),
        ("stock: 11.8 t", 11.8, None, False),
        ("stock: about 11.8 t", None, None, False),
        (
            "stock: 640 bales\n    weighed: 12 bales, mean 18.4 kg, SD 1.9 kg",
            11.776,
            Lot(640, "bales", 18.4, 1.9, 12),
            False,
        ),
        (
            "stock: 640 bales of 18.4 kg\n    weighed: {number: 12, mean: 18.4 kg, sd: 1.9 kg}",
            11.776,
            Lot(640, "bales", 18.4, 1.9, 12),
            False,
        ),
        (  # a weighing mends a guess, however far off
            "stock: 46 rounds of 215 to 265 kg\n    weighed: 3 rounds, mean 290 kg, sd 12 kg",
            13.34,
            Lot(46, "rounds", 290.0, 12.0, 3),
            False,
        ),
        (
            f"stock: 640 bales\n    weighed: [{', '.join(f'{kg} kg' for kg in KGS)}]",
            0.640 * statistics.mean(KGS),
            Lot(640, "bales", statistics.mean(KGS), statistics.stdev(KGS), 5),
            False,
        ),
    ],
)
def test_bales_counted_weighed_or_guessed(
    lines: str, t: float | None, lot: Lot | None, guess: bool, shipped: Tables
) -> None:
    text = SMALL.replace("100 /t\n", f"100 /t\n    {lines}\n")
    if t is None:
        assert "must start with a number" in refusals(text, shipped)[0]
        return
    hay = offer(read(text, shipped), "hay-average")
    assert hay.stock_t_fresh == pytest.approx(t)
    assert hay.is_stock_guess is guess
    assert (hay.lot is None) == (lot is None)
    if lot is not None and hay.lot is not None:
        assert (hay.lot.bales, hay.lot.word, hay.lot.weighed) == (lot.bales, lot.word, lot.weighed)
        assert hay.lot.guess_kg == lot.guess_kg
        for got, wanted in ((hay.lot.mean_kg, lot.mean_kg), (hay.lot.sd_kg, lot.sd_kg)):
            assert got == (None if wanted is None else pytest.approx(wanted))


def test_weights_in_pounds_and_by_the_bag(shipped: Tables) -> None:
    text = SMALL.replace("100 /t\n", "100 /t\n    stock: 640 bales\n    weighed: [40 lb, 44 lb]\n")
    found = offer(read(text, shipped), "hay-average").lot
    assert found is not None
    assert found.mean_kg == pytest.approx(42 * 0.45359237)
    bags = offer(read(SMALL + "    stock: 110 bags of 20 kg\n", shipped), "barley")
    assert [(m.word, m.kg) for m in bags.measures] == [("bag", 20.0)]


def test_measures_are_the_users_own_in_order(shipped: Tables) -> None:
    def measured(text: str, name: str = "hay-average") -> list[tuple[str, float]]:
        return [(m.word, m.kg) for m in offer(read(text, shipped), name).measures]

    assert measured(WINTER) == [("scoop", 2.10), ("bucket", 8.0), ("bale", 18.0)]
    assert measured(WINTER, "barley") == [("scoop", 1.55)]
    assert measured(WINTER, "cubes-16") == []
    # the bale's weight is that of the lot when it is not said
    assert measured(WINTER.replace("    bale: 18 kg\n", ""))[-1] == ("bale", 18.4)
    rounds = SMALL.replace("100 /t\n", "100 /t\n    stock: 46 rounds of 215 to 265 kg\n")
    assert measured(rounds) == [("bale", 240.0)]


def test_quotes_lie_beside_the_farm_file(shipped: Tables, tmp_path: Path) -> None:
    for name in ("quotes.csv", "coop.xlsx"):
        (tmp_path / name).write_text("x")
    found = read(SMALL + "quotes: [quotes.csv, coop.xlsx]\n", shipped, tmp_path)
    assert found.winter.quotes == (tmp_path / "quotes.csv", tmp_path / "coop.xlsx")
    assert read(SMALL + "quotes: quotes.csv\n", shipped, tmp_path).winter.quotes == (
        tmp_path / "quotes.csv",
    )
    (told,) = refusals(SMALL + "quotes: [quotes.csv, quotes.csv]\n", shipped, tmp_path)
    assert '"quotes.csv" is named twice' in told


# ---------------------------------------------------------------- how faults are told


def test_every_fault_is_told_at_once_in_order(shipped: Tables) -> None:
    text = (
        SMALL.replace("head: 50", "head: -5")
        .replace("weight: 30 kg", "weight: 30")
        .replace("price: 200 /t", "prise: 200 /t")
        .replace("would fetch: 100 /t", "would fetch: no")
    )
    assert refusals(text, shipped) == [
        'farm.yaml line 4, batches > hoggs > head: read "-5": head cannot be below zero.',
        'farm.yaml line 5, batches > hoggs > weight: read "30": weight needs its unit. '
        'Write "30 kg".',
        'farm.yaml line 9, feeds > hay-average > would fetch: read "no": would fetch is a '
        "quantity, not a yes/no answer.",
        'farm.yaml line 10, feeds > barley: no price is said; bought feed has a "price", feed of '
        'your own has what it "would fetch". Write one, or "price: to be entered".',
        'farm.yaml line 11, feeds > barley > prise: "prise" is not a name used here. Did you mean '
        '"price"?',
    ]


def test_two_faults_of_different_depth_are_both_told(shipped: Tables) -> None:
    text = SMALL.replace("to: 31 March 2027", "to: 31 March 2026").replace("barley:", "barly:")
    first, second = refusals(text, shipped)
    assert "the winter runs from 1 November 2026 to 31 March 2026, -215 days" in first
    assert "does not say which feed of the table it is like" in second
    assert 'Did you mean "barley"?' in second


def test_reading_needs_no_pandas_numpy_or_solver() -> None:
    code = (
        "import sys; from ration import farm, units; farm.read(sys.argv[1]); "
        "bad = {'pandas', 'numpy', 'pulp', 'highspy', 'matplotlib', 'rich'} & set(sys.modules); "
        "sys.exit(', '.join(sorted(bad)) or 0)"
    )
    run = subprocess.run(
        [sys.executable, "-c", code, str(DEMO / "quernhope.yaml")],
        capture_output=True, text=True, check=False, cwd=DEMO.parent.parent,
    )  # fmt: skip
    assert run.returncode == 0, run.stderr

"""The ration on paper: one side for who carries the buckets, two or three for who works it out."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from ration import explain
from ration.choices import WHY, wanted
from ration.faces import as_json, changes, report
from ration.faces.feeds_report import feed_json
from ration.feeds import MARK_WORDS
from ration.sheets.card import caution_line
from ration.sheets.ears import Block, Grid, Merged, Said, grid, heard, merged
from ration.sheets.html import Foot, Picture, chunks, sheet

if TYPE_CHECKING:
    from ration.farm import Offer
    from ration.feeds import Feed
    from ration.jobs import Mixed
    from ration.mix import Ration
    from ration.tables import Tables

BESIDE_MOST = 3  # batches side by side on a page
LETTERS = {
    "lab": "L", "label": "l", "user": "Y", "print": "P", "restated": "R", "derived": "D",
    "memory": "M", "practice": "C", "guess": "G",
}  # fmt: skip
GIVEN, BROUGHT, WORTH, LAST = (
    "What to give",
    "What it brings",
    "What each feed is worth",
    "together",
)
SHOWN = (  # nutrient, heading, factor to it
    ("dm_g_per_kg_fresh", "DM %", 0.1),
    ("me_mj_per_kg_dm", "ME MJ", 1.0),
    ("cp_g_per_kg_dm", "CP g", 1.0),
    ("n_a_share", "N a", 1.0),
    ("n_b_share", "N b", 1.0),
    ("n_c_per_h", "N c /h", 1.0),
    ("adin_g_n_per_kg_dm", "ADIN g", 1.0),
    ("oil_g_per_kg_dm", "oil g", 1.0),
    ("ndf_g_per_kg_dm", "NDF g", 1.0),
    ("starch_g_per_kg_dm", "starch g", 1.0),
    ("sugar_g_per_kg_dm", "sugar g", 1.0),
    ("ca_g_per_kg_dm", "Ca g", 1.0),
    ("p_g_per_kg_dm", "P g", 1.0),
    ("cu_mg_per_kg_dm", "Cu mg", 1.0),
)


def _printed(ration: Ration) -> tuple[Block, ...]:
    return heard(lambda c: report.print_ration(c, ration))


def _heading(done: Mixed) -> str:
    (line,) = heard(lambda c: report.print_heading(c, done.result.farm))
    return line.text if isinstance(line, Said) else ""


def _beside(
    rations: Sequence[Ration],
    title: str,
    places: Sequence[int],
    heads: Sequence[str],
    last: Sequence[str] = (),
) -> list[Merged]:
    """A table of each found batch, some batches side by side."""
    found = [(r.batch.name, grid(_printed(r), title)) for r in rations if r.is_found]
    groups = chunks(found, BESIDE_MOST) if found else []
    return [merged(group, places, heads, last) for group in groups]


# ---------------------------------------------------------------- the farmer's side


def ration_sheet(done: Mixed, at_foot: Foot, pictures: Sequence[Picture] = ()) -> str:
    """The farmer's side: what to give, what it costs, what to expect, what to watch.

    Parameters
    ----------
    done : Mixed
        From `ration.jobs.mix_file`.
    at_foot : Foot
    pictures : sequence of Picture
    """
    rations, farm = done.result.rations, done.result.farm
    tables = _beside(rations, GIVEN, (1, 4), ("each", "all of them"), (LAST,))
    return sheet(
        "farmer.html",
        f"What to feed, {farm.name}",
        at_foot,
        body="farmer",
        farm=farm.name,
        heading=_heading(done),
        tables=tables,
        batches=[(report.batch_heading(r), _for_the_farmer(r)) for r in rations],
        together=_together(done),
        cautions=[caution_line(c) for c in done.cautions if c.level != "note"],
        pictures=pictures,
    )


def _for_the_farmer(ration: Ration) -> list[str]:
    if ration.assessment is None:
        return explain.why_no_mix(ration)
    weather = explain.out_of_doors(ration.assessment.batch)
    return [
        explain.what_it_costs(ration),
        explain.what_to_expect(ration.assessment),
        *([weather] if weather else []),
    ]


def _together(done: Mixed) -> str:
    """The line on all batches as it is told on the screen; "" for one batch."""
    told = heard(lambda c: report.print_mix(c, done))
    lines = [b.text for b in told if isinstance(b, Said)]
    return next((x for x in lines if x.startswith("All ") and " together: " in x), "")


# ---------------------------------------------------------------- the nutritionist's pages


def nutritionist_sheet(done: Mixed, at_foot: Foot, pictures: Sequence[Picture] = ()) -> str:
    """The nutritionist's pages: needs, supply, limits, worth, figures with their origin, method.

    Parameters
    ----------
    done : Mixed
        From `ration.jobs.mix_file`.
    at_foot : Foot
    pictures : sequence of Picture
    """
    rations, farm = done.result.rations, done.result.farm
    found = [r for r in rations if r.is_found]
    offers = fed_offers(rations)
    told = heard(lambda c: report.print_worth(c, rations))
    return sheet(
        "nutritionist.html",
        f"Ration worked, {farm.name}",
        at_foot,
        body="dense",
        farm=farm.name,
        heading=_heading(done),
        changed=_changed(done),
        fed=_beside(rations, GIVEN, (3, 1, 5), ("DM", "put out", "cost"), (LAST,)),
        brings=_brings(rations),
        costs=[(f"{r.batch.name}:", _costs(r)) for r in rations],
        worth=grid(told, WORTH) if found else None,
        prices=_prices(found),
        figures=_figures(offers),
        letters=_letters(offers),
        assumed=_assumed(found, offers),
        origins=_origins(found),
        cautions=[caution_line(c) for c in done.cautions],
        left_out=[f"{feed} ({why})" for feed, why in (rations[0].left_out if rations else ())],
        method=_method(done),
        sources=_sources(offers, found, done.tables),
        pictures=pictures,
    )  # fmt: skip


def nutritionist_json(done: Mixed) -> dict[str, Any]:
    """`ration mix` as a dictionary, and every figure of the feeds used with its origin."""
    return {
        **as_json.mix_json(done),
        "feed_figures": [
            {"offer": o.id, **feed_json(o.feed)} for o in fed_offers(done.result.rations)
        ],
    }


def fed_offers(rations: Sequence[Ration]) -> list[Offer]:
    """The offers that any batch is fed, gaps filled, each once."""
    used = {line.id for r in rations for line in r.feeds if line.is_used}
    return [o for o in rations[0].offers if o.id in used] if rations else []


def _changed(done: Mixed) -> list[str]:
    if done.before is None:
        return []
    pairs = zip(done.before.rations, done.result.rations, strict=True)
    return [
        *changes.what_changed_in_feeds(done.before, done.result),
        *(" ".join(changes.what_changed(old, new)) for old, new in pairs),
    ]


def _brings(rations: Sequence[Ration]) -> list[Merged]:
    """Needs and limits beside each other; what is just met has a sign, not a column."""
    out = []
    for m in _beside(rations, BROUGHT, (1, 2, 3, 4), ("brings", "least", "most")):
        rows = tuple(
            (label, tuple((f"{'= ' if c[3] else ''}{c[0]}", c[1], c[2]) for c in cells))
            for label, cells in m.rows
        )
        out.append(Merged(m.names, m.heads, rows))
    return out


def _costs(ration: Ration) -> list[str]:
    if ration.assessment is None:
        return explain.why_no_mix(ration)
    return [
        explain.what_it_costs(ration),
        *explain.what_sets_the_cost(ration),
        explain.what_to_expect(ration.assessment),
    ]


def _prices(found: Sequence[Ration]) -> list[tuple[str, str]]:
    told = [(f"{r.batch.name}:", explain.how_far_prices_can_move(r)) for r in found]
    return [(name, words) for name, words in told if words]


def _figures(offers: Sequence[Offer]) -> Grid:
    """The figures the ration rests on, each with the letter of its origin."""
    shown = [x for x in SHOWN if any(o.feed.get(x[0]) is not None for o in offers)]
    return Grid(
        "Figures of the feeds used, per kg dry matter, each with its origin",
        ("Feed", *(words for _, words, _ in shown)),
        (True, *(False for _ in shown)),
        tuple((o.name, *(_figure(o.feed, n, k) for n, _, k in shown)) for o in offers),
    )


def _figure(feed: Feed, nutrient: str, factor: float) -> str:
    found = feed.figures.get(nutrient)
    if found is None:
        return "unknown"
    return f"{found.value * factor:.4g} {LETTERS.get(found.mark, found.mark)}"


def _letters(offers: Sequence[Offer]) -> str:
    seen = {f.mark for o in offers for n, _, _ in SHOWN if (f := o.feed.figures.get(n))}
    told = [f"{LETTERS[m]} {MARK_WORDS[m]}" for m in LETTERS if m in seen]
    return f"{'; '.join(told)}. Unknown is unknown, never nought."


def _assumed(found: Sequence[Ration], offers: Sequence[Offer]) -> list[str]:
    """Gaps of the feeds used, as they were filled."""
    names = {o.id: o.name for o in offers}
    by_feed: dict[str, list[str]] = {}
    for gap in found[0].gaps if found else ():
        if gap.offer in names:
            letter = LETTERS.get(gap.figure.mark, gap.figure.mark)
            words = f"{WHY[gap.nutrient]} {gap.figure.value:g} {letter}"
            by_feed.setdefault(names[gap.offer], []).append(words)
    return [f"{feed}: {', '.join(parts)}" for feed, parts in by_feed.items()]


def _origins(found: Sequence[Ration]) -> list[str]:
    """Every need or limit with the origin of its figure, alike ones together."""
    by_origin: dict[str, list[str]] = {}
    for r in found:
        for n in r.nutrients:
            names = by_origin.setdefault(n.origin, [])
            if n.origin and n.name not in names:
                names.append(n.name)
    return [f"{', '.join(names)}: {origin}" for origin, names in by_origin.items() if names]


def _method(done: Mixed) -> list[str]:
    """The method of each batch and the last line, as told on the screen."""
    told = heard(lambda c: report.print_mix(c, done))
    lines = [b.text for b in told if isinstance(b, Said) and b.style == "dim"]
    names = [r.batch.name for r in done.result.rations if r.is_found]
    per_batch, rest = lines[: len(names)], lines[len(names) :]
    return [*(f"{n}: {words}" for n, words in zip(names, per_batch, strict=True)), *rest]


def _sources(offers: Sequence[Offer], found: Sequence[Ration], tables: Tables) -> list[str]:
    """What the keys stand for: sources of the feeds' figures and of the limits."""
    keys = {o.feed.figure(n).source for o in offers for n in wanted(o.feed)}
    keys |= {n.origin for r in found for n in r.nutrients}
    return [
        f"{k}: {tables.sources[k].what}"
        for k in sorted(keys)
        if k in tables.sources
    ]  # fmt: skip

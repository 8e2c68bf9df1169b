"""The published trials as text and as JSON: where the standards hit, where they miss, and why."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from ration import trials
from ration.faces.as_json import plain
from ration.faces.report import say, table
from ration.trials import Prediction, Span, Summary, Trial

if TYPE_CHECKING:
    from rich.console import Console

    from ration.jobs.trials import Trialled

WHY = (
    "Why poor forage reads low: no standard here is at home below maintenance; AFRC 1993 gives no "
    "credit for nitrogen that the sheep sends back to the rumen, which counts for most where the "
    "forage holds least; and gut fill is gain on the scales. Welsh ewe lambs on hay gained more "
    "than the standards of their day allowed them (P-S83).",
    "Why silage and a full trough read high: British lambs of 5 to 18 months were found to need 40 "
    "to 53 % more to stand still than the systems in use allow (A-S13), and what lambs ate above "
    "that made less gain than calculated in other trials (A-S17, A-S18).",
)
HONEST = (
    "Read it with care: mostly abstracts were read. Where the weight, the analysis or the amount "
    "eaten is not in print, a low and a high figure stand for it, and a prediction is the middle "
    "with the band between. A trial inside its band proves little; one outside it is a miss that "
    "no assumption here explains. Margin 1.00: no safety in these figures."
)
AMOUNTS = (
    "Weigh your sheep: their own gain on this feed is worth more than any row here.",
    "What was assumed of each treatment stands in the table itself: ration feeds copy, trials.csv.",
)


def print_trials(console: Console, done: Trialled) -> None:
    """`ration trials`: words, predicted against seen, the switches, appetite, sources."""
    say(console, "What published feeding trials say of the standards", style="bold")
    say(console, *verdicts(done.sums), *leanings(done), "", *WHY, "", HONEST, "")
    _print_gains(console, done)
    _print_bases(console, done)
    _print_switches(console, done)
    _print_practice(console, done)
    _print_appetite(console, done)
    _print_substitution(console, done)
    say(console, *AMOUNTS, "")
    _print_sources(console, done)


def verdicts(sums: Sequence[Summary]) -> list[str]:
    """Each standard's record in one sentence."""
    said = []
    for s in sums:
        if s.bias_g_per_day is None or s.mean_absolute_error_g_per_day is None:
            said.append(f"{s.standard} covers none of the {s.not_covered} treatments.")
            continue
        way = "more" if s.bias_g_per_day >= 0 else "less"
        line = (
            f"{s.standard}: over {s.n} treatments it expects {abs(s.bias_g_per_day):.0f} g a day "
            f"{way} than was seen, and is {s.mean_absolute_error_g_per_day:.0f} g off either way; "
            f"{s.within_band} of {s.n} lie inside the band of what had to be assumed, and the mean "
            f"distance from it, those inside counted as none, is {s.mean_beyond_band_g_per_day:.0f}"
            " g."
        )
        if s.not_covered:
            line += f" {s.not_covered} more it does not cover."
        said.append(line)
    return said


def leanings(done: Trialled) -> list[str]:
    """On which diets all the standards lean one way."""
    said = []
    for base, sums in done.by_basis.items():
        biases = [s.bias_g_per_day for s in sums if s.bias_g_per_day is not None]
        if not biases:
            continue
        sizes = [abs(x) for x in biases]
        least, most = (f"{x:.0f}" for x in (min(sizes), max(sizes)))
        much = f"{least} g" if least == most else f"{least} to {most} g"
        start = f"{base[0].upper()}{base[1:]}: the lambs gained"
        if max(biases) < 0:
            said.append(f"{start} {much} a day more than expected.")
        elif min(biases) > 0:
            said.append(f"{start} {much} a day less than expected.")
        else:
            low, high = min(biases), max(biases)
            said.append(f"{start} {-high:+.0f} to {-low:+.0f} g a day against what is expected.")
    return said


def _grams(span: Span | None) -> str:
    if span is None:
        return ""
    low, high = (f"{x:.0f}" for x in span)
    return low if low == high else f"{low} to {high}"


def _cell(p: Prediction) -> str:
    """The middle and its band, or that it is not covered."""
    if p.gain_g_per_day is None or p.low_g_per_day is None or p.high_g_per_day is None:
        return "not covered"
    return f"{p.gain_g_per_day:.0f} ({p.low_g_per_day:.0f} to {p.high_g_per_day:.0f})"


def _short_limit(words: str) -> str:
    return "rumen protein" if words.startswith("degradable") else words


def _sum_cell(found: Sequence[Summary], standard: str) -> str:
    for s in found:
        if s.standard == standard and s.bias_g_per_day is not None:
            return f"{s.bias_g_per_day:+.0f} / {s.mean_absolute_error_g_per_day:.0f} ({s.n})"
    return "none"


def _print_gains(console: Console, done: Trialled) -> None:
    by_trial: dict[str, dict[str, Prediction]] = {}
    for t, p in done.told:
        by_trial.setdefault(t.key, {})[p.standard] = p
    rows = []
    for t in _once(done.told):
        mine = by_trial[t.key]
        row = [t.words, _grams(t.gain_g_per_day), *(_cell(mine[s]) for s in done.standards)]
        if len(done.standards) == 1:
            p = mine[done.standards[0]]
            row += [_whole(p.gain_energy_g_per_day), _whole(p.gain_protein_g_per_day)]
            row.append(_short_limit(p.limited_by) or p.why_not)
        rows.append(row)
    heads = ["treatment", "seen", *done.standards]
    if len(done.standards) == 1:
        heads += ["by energy", "by protein", "limit"]
    title = "Gain, g a day: seen, and expected at the middle (band)"
    if (done.maintenance, done.recycled_n_share) != (1.0, 0.0):
        title += f"; maintenance x {done.maintenance:g}, recycled {done.recycled_n_share:.0%}"
    table(console, title, heads, rows)
    missing = not_covered(done.told)
    if missing:
        say(console, "Not covered, and never stretched:", *missing, "")


def not_covered(told: Sequence[tuple[Trial, Prediction]]) -> list[str]:
    """Why a standard says nothing of a treatment, one line each."""
    return [f"{p.standard}, {t.words}: {p.why_not}." for t, p in told if not p.is_covered]


def _print_bases(console: Console, done: Trialled) -> None:
    rows = [
        [base, *(_sum_cell(found, s) for s in done.standards)]
        for base, found in (*done.by_basis.items(), ("all", done.sums))
    ]
    title = "Bias / error in g a day, and number of treatments (below zero: expects too little)"
    table(console, title, ["what they ate", *done.standards], rows)


def _print_switches(console: Console, done: Trialled) -> None:
    rows = []
    for base in (*done.by_basis, "all"):
        for x in done.switched:
            sums = x.sums if base == "all" else x.by_basis[base]
            first = base if x is done.switched[0] else ""
            rows.append([first, x.words, *(_sum_cell(sums, s) for s in done.standards)])
    heads = ["what they ate", "switch", *done.standards]
    table(console, "What the two switches do to bias / error", heads, rows, words=(0, 1))
    say(
        console,
        "Maintenance 1.4 times is the lower end of A-S13's 40 to 53 %; the 15 % for recycled "
        "nitrogen has no source: a round figure to see what it moves. One switch mends one end "
        "and may harm the other: look at the diet that is yours.",
        "",
    )


def _print_practice(console: Console, done: Trialled) -> None:
    rows = []
    for t in _once(done.practice):
        seen = t.extra_gain_g_per_day or t.gain_g_per_day
        words = f"{t.words}: gain added" if t.extra_gain_g_per_day else t.words
        mine = {p.standard: p for x, p in done.practice if x.key == t.key}
        rows.append([words, _grams(seen), *(_cell(mine[s]) for s in done.standards)])
    title = "Common practice, no source: ranges read across the trials, g a day, a lamb of 30 kg"
    table(console, title, ["feed", "usual", *done.standards], rows)


def _print_appetite(console: Console, done: Trialled) -> None:
    rows = []
    names = [trials.LONG_FEED, trials.AUSTRALIAN]
    for t, expected in done.intakes:
        by_name = {i.equation: i for i in expected}
        row = [t.words, f"{expected[0].seen_kg_dm_per_day:.2f}"]
        for name in names:
            i = by_name.get(name)
            row.append("" if i is None else f"{i.kg_dm_per_day:.2f} ({i.error_share:+.0%})")
        rows.append(row)
    table(console, "Eaten, kg DM a day: seen, and by equation", ["treatment", "seen", *names], rows)
    say(
        console,
        f"The equation for ground feed is not for hay: it gives {_ground(done)} times what was "
        "eaten. No equation here reads protein, yet a quarter of soya beside poor hay raised the "
        "hay eaten from 287 to 412 g (P-S130). All three are from memory: hints, never limits.",
        "",
    )


def _ground(done: Trialled) -> str:
    ratios = [
        1 + i.error_share
        for _, expected in done.intakes
        for i in expected
        if i.equation == trials.GROUND_FEED
    ]
    return f"{min(ratios):.1f} to {max(ratios):.1f}"


def _print_substitution(console: Console, done: Trialled) -> None:
    rows = []
    for x in done.substitutions:
        span = x.trial.substitution_kg_per_kg or (0.0, 0.0)
        seen = f"{span[0]:.2f}" if span[0] == span[1] else f"{span[0]:.1f} to {span[1]:.1f}"
        rows.append(
            [x.trial.words, seen, *(_two(v) for v in (x.by_equation, x.by_practice)), x.trial.mark]
        )
    title = (
        "Forage left for each kg of trough feed, both dry matter (not worked: amounts not in "
        "print, or grown sheep, which the equation does not cover)"
    )
    table(
        console,
        title,
        ["treatment", "seen", "by equation", "as the program feeds", "mark"],
        rows,
        words=(0, 4),
    )


def _print_sources(console: Console, done: Trialled) -> None:
    say(console, "Sources", style="bold")
    for key in _keys(done):
        source = done.tables.sources[key]
        say(console, f"{key}: {source.what}" + (f" ({source.address})" if source.address else ""))


def _keys(done: Trialled) -> list[str]:
    known = done.tables.sources
    told = {t.source for t in done.trials if t.source}
    return [k for k in known if k in told or k in ("A-S13", "A-S17", "A-S18")]


def _once(told: Sequence[tuple[Trial, Prediction]]) -> list[Trial]:
    return list({t.key: t for t, _ in told}.values())


def _whole(value: float | None) -> str:
    return "" if value is None else f"{value:.0f}"


def _two(value: float | None) -> str:
    return "not worked" if value is None else f"{value:.2f}"


# ---- JSON ------------------------------------------------------------------------------------
def trials_json(done: Trialled) -> dict[str, Any]:
    """`ration trials` as a dictionary."""
    return dict(
        plain(
            {
                "standards": list(done.standards),
                "maintenance": done.maintenance,
                "recycled_n_share": done.recycled_n_share,
                "margin": trials.MARGIN,
                "words": [*verdicts(done.sums), *leanings(done), *WHY, HONEST, *AMOUNTS],
                "gains": [_gain_json(t, p) for t, p in done.told],
                "practice": [_gain_json(t, p) for t, p in done.practice],
                "summary": [dict(vars(s)) for s in done.sums],
                "by_basis": {k: [dict(vars(s)) for s in v] for k, v in done.by_basis.items()},
                "switches": [
                    {
                        **vars(x),
                        "sums": [dict(vars(s)) for s in x.sums],
                        "by_basis": {k: [dict(vars(s)) for s in v] for k, v in x.by_basis.items()},
                    }
                    for x in done.switched
                ],
                "intakes": [
                    {**_trial_json(t), "equations": [dict(vars(i)) for i in expected]}
                    for t, expected in done.intakes
                ],
                "substitutions": [
                    {
                        **_trial_json(x.trial),
                        "seen_kg_per_kg": x.trial.substitution_kg_per_kg,
                        "by_equation_kg_per_kg": x.by_equation,
                        "by_practice_kg_per_kg": x.by_practice,
                    }
                    for x in done.substitutions
                ],
                "sources": [vars(done.tables.sources[k]) for k in _keys(done)],
            }
        )
    )


def _trial_json(t: Trial) -> dict[str, Any]:
    return {
        "trial": t.trial,
        "treatment": t.treatment,
        "words": t.words,
        "source": t.source,
        "mark": t.mark,
        "how": dict(t.how),
        "what_is_assumed": t.what_is_assumed,
    }


def _gain_json(t: Trial, p: Prediction) -> dict[str, Any]:
    return {
        **_trial_json(t),
        "seen_gain_g_per_day": t.gain_g_per_day,
        "seen_extra_gain_g_per_day": t.extra_gain_g_per_day,
        "predicted": dict(vars(p)),
    }

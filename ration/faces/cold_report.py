"""Cold, wind and wet as text and as data: the cost, how sure it is, and when to find shelter."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from ration.faces.report import say, table
from ration.outdoors import FROST_C, HardDay, in_barley_kg, in_hay_kg
from ration.plain_text import joined
from ration.units import day_words, in_words_day
from ration.weather import MONTH_NAMES

if TYPE_CHECKING:
    from rich.console import Console

    from ration.farm.outdoors import Outdoors
    from ration.jobs.cold import BatchCold, ColdWinter, OneDay
    from ration.outdoors import ColdSpell

DANGER = "DANGER: find shelter: this is weather that kills, not a feeding problem."
HOW_SURE = (
    "Good enough to rank days, not to measure: 30 to 50 % either way. The balance is that of the "
    "Australian standards (CSIRO 2007), its constants remembered and not read in the book."
)
FEED_WITH_CARE = (
    "Give it as hay. Raise trough feed by no more than 50 g a head from one day to the next; for "
    "ewes heavy in lamb, thin or ailing sheep ask your vet or a nutritionist."
)
ONLY_ENERGY = "Cold asks for energy only: no more protein and no more minerals."
FROST = (
    "Frost: troughs and pipes freeze. Look to the water twice a day: sheep on dry feed that cannot "
    "drink stop eating."
)
SHELTERED = {
    "none": "in the open",
    "wall": "behind a wall, taken to let 30 % of the wind through (judgement)",
    "wood": "in a wood, taken to let 15 % of the wind through (judgement)",
}
SPREAD = (
    "A month's typical weather is spread over thirty types of day first (temperature 6 degrees "
    "either way, wind by half either way, every other day wet, independent of one another: "
    "judgement), and the allowances of the days are averaged."
)
HIGH_CHILL = 1000.0


def feed_words(me_mj: float) -> str:
    """What an energy is in hay and in barley."""
    return (
        f"{in_hay_kg(me_mj):.2f} kg of hay (8.5 MJ per kg dry matter) or {in_barley_kg(me_mj):.2f} "
        "kg of barley"
    )


# ---------------------------------------------------------------- one day


def print_day(console: Console, one: OneDay) -> None:
    """`ration cold` for one day: words first, the figures second, the method last."""
    say(console, weather_words(one.day), style="bold")
    say(console, *_day_words(one), style="bold" if one.day.is_danger else None)
    day = one.day
    rows = [
        ("heat it makes without cold, MJ a day", f"{one.heat_mj_per_day:.1f}", _heat_words(one)),
        ("wind at the sheep, km/h", f"{day.wind_at_sheep_km_per_h:.0f}", _wind_words(one.place)),
        (
            "it burns feed to keep warm below, C",
            f"{day.critical_c:.0f}",
            "lower critical temperature",
        ),
        ("extra energy, MJ ME", f"{day.me_mj_per_day:.1f}", "heat balance, from memory"),
        (
            "the same by a simple rule",
            f"{one.slight_rule_me_mj_per_day:.1f}",
            "1 % of maintenance a degree below (print)",
        ),
        (
            "by another",
            f"{one.steep_rule_me_mj_per_day:.1f}",
            "1.8 % a degree, 1 % a degree Fahrenheit (print)",
        ),
        (
            "by a third",
            f"{one.slope_rule_me_mj_per_day:.1f}",
            "0.31 MJ a degree, 1/4 lb TDN for 10 F (print)",
        ),
    ]
    table(console, "", ("Figure", "a head", "how it is known"), rows, words=(0, 2))
    if one.chill_index_kj_per_m2_h is not None:
        _say_chill(console, one.chill_index_kj_per_m2_h)
    if day.weather.temperature_c <= FROST_C:
        say(console, FROST)
    if day.me_mj_per_day > 0 and not day.is_danger:
        say(console, ONLY_ENERGY, FEED_WITH_CARE)
    say(console, HOW_SURE)


def _day_words(one: OneDay) -> list[str]:
    """What the day costs, what shelter would save, and when it is no question of feed."""
    day, wall = one.day, one.behind_wall
    if day.me_mj_per_day == 0:
        return ["The cold costs it nothing that day: no extra feed."]
    if day.is_danger:
        words = [
            DANGER,
            f"Keeping warm would take {day.uncapped_me_mj_per_day:.1f} MJ a day on top of the "
            f"{one.heat_mj_per_day:.1f} MJ it makes anyway. Bring them in or behind a wall, feed "
            "hay there, and call your vet if any are down.",
        ]
    else:
        words = [
            f"It costs each sheep {day.me_mj_per_day:.1f} MJ of energy (ME) that day: "
            f"{feed_words(day.me_mj_per_day)}, as fed.",
            f"Simple rules say {joined([f'{r:.1f}' for r in _rules(one)])} MJ.",
        ]
    if wall is not None and wall.is_danger:
        words.append("A wall is not enough that day: they want a roof or a thick wood.")
    elif wall is not None:
        words.append(
            f"Behind a wall that lets 30 % of the wind through it would cost "
            f"{wall.me_mj_per_day:.1f} MJ."
        )
    return words


def _rules(one: OneDay) -> tuple[float, float, float]:
    return (
        one.slight_rule_me_mj_per_day,
        one.steep_rule_me_mj_per_day,
        one.slope_rule_me_mj_per_day,
    )


def weather_words(day: HardDay) -> str:
    """2 C, wind 30 km/h, 20 mm of rain."""
    w = day.weather
    rain = f"{w.rain_mm:.0f} mm of rain" if w.rain_mm >= 0.5 else "dry"
    return f"{w.temperature_c:.0f} C, wind {w.wind_km_per_h:.0f} km/h as measured, {rain}"


def _heat_words(one: OneDay) -> str:
    return "as you said" if one.is_heat_said else "its maintenance on hay, AFRC (1993), restated"


def _wind_words(place: Outdoors) -> str:
    mast = "half of that of an open mast, " if place.at == "mast" else "measured at the sheep, "
    own = f"shelter that lets {100 * place.shelter_factor:.0f} % of it through, as you said"
    return mast + SHELTERED.get(place.shelter, own)


def _say_chill(console: Console, index: float) -> None:
    high = ": a high risk to shorn sheep" if index >= HIGH_CHILL else ""
    say(
        console,
        f"Chill index {index:.0f} kJ/m2/h{high}. Shorn sheep are at most risk in the first days "
        f"after shearing, and for two weeks in all. (Over {HIGH_CHILL:,.0f} is called high: "
        "from memory.)",
    )


# ---------------------------------------------------------------- a winter


def print_winter(console: Console, found: ColdWinter) -> None:
    """`ration cold` over a winter: each batch in words and month by month."""
    title = found.place.weather_file if found.farm is None else found.farm.name
    say(console, f"{title}: cold, wind and wet", style="bold")
    for one in found.batches:
        print_batch(console, one, found)
    outside = [b for b in found.batches if b.whole is not None]
    if not outside:
        say(console, "All batches are in a shed: no cold is counted.")
        return
    place = found.place
    say(console, *_method(found))
    if any(b.whole and b.whole.frost_days > 0 for b in outside):
        say(console, FROST)
    say(console, ONLY_ENERGY, FEED_WITH_CARE, HOW_SURE)
    if place.typical:
        say(console, SPREAD)


def print_batch(console: Console, one: BatchCold, found: ColdWinter) -> None:
    """One batch: words first, then its months."""
    b = one.batch
    who = f"{b.name}, {b.weight_kg:.1f} kg, {found.place.fleece_mm:.0f} mm of fleece"
    if one.whole is None:
        say(console, f"{b.name}: in a shed, no cold is counted.")
        return
    whole = one.whole
    say(console, who, style="bold")
    if whole.danger_days:
        say(console, f"{DANGER} {_danger_words(whole)}", style="bold")
    say(
        console,
        f"Over the {whole.days} days cold costs each {whole.mean_me_mj_per_day:.2f} MJ a day on "
        f"average: {feed_words(whole.mean_me_mj_per_day)}. It costs something on "
        f"{_count(whole.cold_days)}.",
    )
    rows = []
    grazes = any(one.grazing_me_mj_per_day)
    for spell, grazed in zip(one.months, one.grazing_me_mj_per_day, strict=True):
        least, most = spell.range_mj_per_day
        rows.append(
            (
                f"{MONTH_NAMES[spell.start.month]} {spell.start.year}",
                f"{spell.mean_me_mj_per_day:.2f}",
                f"{least:.1f} to {most:.1f}",
                f"{in_hay_kg(spell.mean_me_mj_per_day):.2f}",
                _hardest(spell),
                _number(spell.danger_days),
                *((f"{grazed:.1f}",) if grazes else ()),
            )
        )
    heads = ("Month", "MJ ME\na day", "by the\nrules", "as hay,\nkg", "hardest day", "danger\ndays")
    table(
        console,
        "Allowance for cold, a head",
        (*heads, *(("grazed,\nMJ",) if grazes else ())),
        rows,
        words=(0, 4),
        whole=(0, 2),
    )


def _number(days: float) -> str:
    return f"{days:.0f}" if days >= 9.95 or days == round(days) else f"{days:.1f}"


def _count(days: float) -> str:
    return f"{_number(days)} day" if days == 1 else f"{_number(days)} days"


def _hardest(spell: ColdSpell) -> str:
    if not spell.hardest:
        return "none costs anything"
    day = spell.hardest[0]
    when = "" if day.weather.when is None else f"{day_words(day.weather.when)}: "
    if day.weather.is_other_year and day.weather.when is not None:
        when = f"{in_words_day(day.weather.when)}: "
    return f"{when}{day.me_mj_per_day:.1f} MJ ({_short(day)})"


def _short(day: HardDay) -> str:
    w = day.weather
    return f"{w.temperature_c:.0f} C, {w.wind_km_per_h:.0f} km/h, {w.rain_mm:.0f} mm"


def _danger_words(spell: ColdSpell) -> str:
    whens = sorted(d.weather.when for d in spell.danger if d.weather.when is not None)
    dates = [in_words_day(when) for when in whens]
    if not dates:
        return f"About {_count(spell.danger_days)} of such weather are to be expected."
    shown = joined(dates[:6]) if len(dates) <= 6 else f"{', '.join(dates[:6])} and more"
    return f"{shown}."


def _method(found: ColdWinter) -> list[str]:
    place = found.place
    lines = [
        f"Wind at the sheep: {_wind_words(place)}. Their heat without cold is "
        + ("as you said. " if found.is_heat_said else "maintenance on hay, AFRC (1993). ")
        + "The rules: 1 % and 1.8 % of it, and 0.31 MJ, a degree below the lower critical "
        "temperature.",
    ]
    wholes = [b.whole for b in found.batches if b.whole is not None]
    if any(w.is_other_years for w in wholes):
        lines.append(
            f"{place.weather_file} holds other winters: each date stands for itself in this one. "
            "It is no forecast."
        )
    if found.gaps:
        runs = [
            in_words_day(a) if a == b else f"{in_words_day(a)} to {in_words_day(b)}"
            for a, b in found.gaps[:6]
        ]
        more = f" and {len(found.gaps) - 6} more" if len(found.gaps) > 6 else ""
        lines.append(f"Missing in {place.weather_file}, not filled: {', '.join(runs)}{more}.")
    unknown = max((len(w.unknown) for w in wholes), default=0)
    if unknown:
        lines.append(f"The weather of {_count(unknown)} is unknown; they are in no mean.")
    if place.grazing_ends:
        lines.append(
            "Grazing runs out by 1 January, as nothing is said from then on: no useful grass grows "
            "from January (common practice)."
        )
    return lines


# ---------------------------------------------------------------- as data


def _day_json(day: HardDay) -> dict[str, Any]:
    w = day.weather
    return {
        "date": None if w.when is None else w.when.isoformat(),
        "month": w.month,
        "days": w.share,
        "temperature_c": w.temperature_c,
        "wind_km_per_h": w.wind_km_per_h,
        "rain_mm": w.rain_mm,
        "wind_at_sheep_km_per_h": day.wind_at_sheep_km_per_h,
        "extra_me_mj_per_day": day.me_mj_per_day,
        "uncapped_me_mj_per_day": day.uncapped_me_mj_per_day,
        "lower_critical_temperature_c": day.critical_c,
        "is_danger": day.is_danger,
    }


def day_json(one: OneDay) -> dict[str, Any]:
    """One day as data."""
    me = one.day.me_mj_per_day
    return {
        "weight_kg": one.batch.weight_kg,
        "class": one.batch.sheep_class,
        "fleece_mm": one.place.fleece_mm,
        "shelter": one.place.shelter,
        "shelter_factor": one.place.shelter_factor,
        "wind_measured_at": one.place.at,
        "heat_mj_per_day": one.heat_mj_per_day,
        "heat_origin": "said" if one.is_heat_said else "maintenance, AFRC (1993), restated",
        **{k: v for k, v in _day_json(one.day).items() if k not in ("date", "month", "days")},
        "slight_rule_me_mj_per_day": one.slight_rule_me_mj_per_day,
        "steep_rule_me_mj_per_day": one.steep_rule_me_mj_per_day,
        "slope_rule_me_mj_per_day": one.slope_rule_me_mj_per_day,
        "as_hay_kg_fresh": in_hay_kg(me),
        "as_barley_kg_fresh": in_barley_kg(me),
        "chill_index_kj_per_m2_h": one.chill_index_kj_per_m2_h,
        "behind_a_wall_me_mj_per_day": one.behind_wall and one.behind_wall.me_mj_per_day,
        "words": _day_words(one),
        "origin": HOW_SURE,
    }


def _spell_json(spell: ColdSpell) -> dict[str, Any]:
    least, most = spell.range_mj_per_day
    return {
        "from": spell.start.isoformat(),
        "to": spell.end.isoformat(),
        "days": spell.days,
        "mean_me_mj_per_day": spell.mean_me_mj_per_day,
        "slight_rule_me_mj_per_day": spell.slight_rule_me_mj_per_day,
        "steep_rule_me_mj_per_day": spell.steep_rule_me_mj_per_day,
        "slope_rule_me_mj_per_day": spell.slope_rule_me_mj_per_day,
        "least_me_mj_per_day": least,
        "most_me_mj_per_day": most,
        "as_hay_kg_fresh": in_hay_kg(spell.mean_me_mj_per_day),
        "cold_days": spell.cold_days,
        "danger_days": spell.danger_days,
        "frost_days": spell.frost_days,
        "lower_critical_temperature_c": list(spell.critical_c),
        "hardest": [_day_json(d) for d in spell.hardest],
        "danger": [_day_json(d) for d in spell.danger],
        "unknown_days": [d.isoformat() for d in spell.unknown],
        "is_of_other_winters": spell.is_other_years,
    }


def winter_json(found: ColdWinter) -> dict[str, Any]:
    """A winter as data."""
    place = found.place
    return {
        "farm": None if found.farm is None else found.farm.name,
        "weather_file": place.weather_file or None,
        "is_typical_weather": bool(place.typical),
        "fleece_mm": place.fleece_mm,
        "shelter": place.shelter,
        "shelter_factor": place.shelter_factor,
        "wind_measured_at": place.at,
        "missing_days": [[a.isoformat(), b.isoformat()] for a, b in found.gaps],
        "batches": [
            {
                "name": b.batch.name,
                "weight_kg": b.batch.weight_kg,
                "housing": b.batch.housing,
                "heat_mj_per_day": b.heat_mj_per_day,
                "winter": None if b.whole is None else _spell_json(b.whole),
                "months": [
                    {**_spell_json(m), "grazing_me_mj_per_day": g}
                    for m, g in zip(b.months, b.grazing_me_mj_per_day, strict=True)
                ],
            }
            for b in found.batches
        ],
        "origin": HOW_SURE,
    }

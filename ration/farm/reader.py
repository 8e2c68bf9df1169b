"""From the text of a farm file to a `Farm`: its sections put together and held against each other.

What one value may be is settled in `farm.keys`; here it is seen whether the parts agree: feeds
that the table knows, limits that do not cross, a target the winter can hold.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import date, timedelta
from pathlib import Path
from types import MappingProxyType
from typing import TYPE_CHECKING, Any

from ration import animals, strict_yaml, units
from ration.animals import Batch
from ration.errors import InputError, Problem
from ration.farm import Farm, Fed, Limits, Offer, outdoors, season, wintering
from ration.farm import keys as farm_keys
from ration.farm import offers as farm_feeds
from ration.farm import words as farm_words
from ration.strict_yaml import Keys, Sheet, nearest

if TYPE_CHECKING:
    from ration.tables import Tables

LONGEST_WINTER_DAYS = 366
USUAL_WINTER_DAYS = 150


def _line_of(problem: Problem) -> int:
    found = re.search(r" line ([0-9]+)", problem.where)
    return int(found.group(1)) if found else 0


def farm_of(
    text: str,
    name: str,
    folder: Path | None,
    tables: Tables | None,
    analyses: Mapping[str, Path | Sequence[Path]],
) -> Farm:
    """The farm that a text describes; `InputError` with every fault, in the order of lines."""
    sheet = strict_yaml.parse(text, name)
    if not isinstance(sheet.data, dict):
        sheet.fault(
            (),
            "this is not a farm file",
            "it has names and values",
            "To get one to start from, use: ration demo",
        )
        raise InputError(*sheet.problems)
    farm = _Reader(sheet, folder, analyses).farm(sheet.data, tables)
    if sheet.problems or farm is None:
        raise InputError(*sorted(sheet.problems, key=_line_of))
    return farm


class _Reader:
    """Reads the sections of one file; every fault goes to the sheet."""

    def __init__(
        self, sheet: Sheet, folder: Path | None, analyses: Mapping[str, Path | Sequence[Path]]
    ) -> None:
        self.sheet = sheet
        self.folder = folder
        self.analyses = {farm_words.id_of(k): v for k, v in analyses.items()}
        self.tables: Any = None
        self.top: Any = None
        self.days: int | None = None
        self.start: date | None = None
        self.dates: Any = None
        self.pens: dict[str, tuple[int, ...]] = {}
        self.start_kg: dict[str, float] = {}

    def farm(self, raw: dict[str, Any], tables: Tables | None) -> Farm | None:
        """The whole farm, or None when a fault was found."""
        sheet = self.sheet
        self.top = top = farm_keys.check(farm_keys.FarmEntry, raw, (), sheet)
        for name in ("winter", "batches", "feeds"):
            if name not in raw:
                sheet.fault((), f"{name} is missing", do=f'Add "{name}:" and its lines below it')
        winter = self.winter(raw)
        paths = sheet.own_files(self.folder, self.top.tables, ("tables",))
        self.tables = self.load(tables, paths)
        limits = self.limits(raw.get("limits"), ("limits",))
        batches, batch_limits = self.batches(limits)
        feeds = farm_feeds.Reader(sheet, self.folder, self.tables, self.analyses)
        offers, unpriced = feeds.offers(raw)
        fed = self.fed(batches, offers, unpriced)
        self.assumed(offers, unpriced)
        rules = season.winter_of(sheet, self.folder, top, self.dates, self.pens, self.start_kg)
        outside = outdoors.outdoors_of(sheet, self.folder, winter)
        ways = wintering.wintering_of(sheet, winter, tuple(offers))
        own_curves = ways is not None and any(way.grazing for way in ways.ways)
        if own_curves and outside is None and winter is not None:
            outside = outdoors.Outdoors(winter=winter)
        if outside is not None and (outside.grazing or own_curves) and self.tables is not None:
            self.graze(outside.grazing_feed, offers)
        if sheet.problems or winter is None:
            return None
        return Farm(
            path=(self.folder or Path()) / sheet.name,
            name=top.name or Path(sheet.name).stem,
            start=winter[0],
            end=winter[1],
            days=(winter[1] - winter[0]).days,
            batches=tuple(batches.values()),
            offers=tuple(offers.values()),
            standard=top.standard,
            own_margin=top.margin,
            maintenance=top.maintenance,
            limits=limits,
            batch_limits=MappingProxyType(batch_limits),
            fed=fed,
            assume=top.assume,
            also_show_lb=top.show_pounds,
            trough_m=top.trough,
            floor_m2=top.floor,
            tables=paths,
            meals_per_day=int(top.meals_a_day),
            unpriced=tuple(unpriced.items()),
            is_mixing_at_home=top.mixed_at_home,
            housing=top.housing,
            winter=rules,
            recycled_n_share=top.recycled_nitrogen,
            hay_to_appetite=top.hay_to_appetite,
            outdoors=outside,
            wintering=ways,
        )

    # ------------------------------------------------------------ winter, files, limits

    def winter(self, raw: dict[str, Any]) -> tuple[date, date] | None:
        """First and last day, and the days between for the batches."""
        if "winter" not in raw:
            return None
        entry = farm_keys.check(farm_keys.WinterEntry, raw["winter"], ("winter",), self.sheet)
        if entry is None:
            return None
        days = (entry.end - entry.start).days
        if not 1 <= days <= LONGEST_WINTER_DAYS:
            first, last = units.in_words_day(entry.start), units.in_words_day(entry.end)
            read = f"the winter runs from {first} to {last}, {days} days"
            self.sheet.fault(
                ("winter", "to"),
                read,
                f"1 to {LONGEST_WINTER_DAYS} days are covered",
                "Check both years" if days < 1 else "",
            )
            return None
        self.start, self.days, self.dates = entry.start, days, entry
        return entry.start, entry.end

    def load(self, tables: Tables | None, paths: tuple[Path, ...]) -> Any:
        """The feed tables, the user's own laid over."""
        from ration import tables as feed_tables

        if tables is not None and not paths:
            return tables
        try:
            if tables is None:
                return feed_tables.load(overlays=paths)
            return feed_tables.load(tables.folder, (*tables.overlays, *paths))
        except InputError as error:
            self.sheet.add(*error.problems)
            return tables or feed_tables.load()

    def limits(self, raw: object, keys: Keys) -> Limits:
        """One set of limits; crossed ones are refused."""
        if raw is None and keys[-1] not in self.sheet.group(keys[:-1]):
            return Limits()
        entry = farm_keys.check(farm_keys.LimitsEntry, raw, keys, self.sheet)
        if entry is None:
            return Limits()
        values: dict[str, float | None] = {
            "forage_share_of_dm_least": entry.least_forage,
            "concentrate_kg_fresh_most": entry.most_trough_feed,
            "concentrate_share_of_dm_most": entry.most_trough_feed_share,
            "starch_and_sugar_share_of_dm_most": entry.most_starch_and_sugar,
            "oil_share_of_dm_most": entry.most_oil,
            "copper_mg_per_kg_dm_most": entry.most_copper,
            "ca_to_p_least": entry.least_ca_to_p,
            "ca_to_p_most": entry.most_ca_to_p,
            "ceiling_gain_g_per_day": entry.ceiling_gain,
        }
        for end, said in (("least", entry.least_dry_matter), ("most", entry.most_dry_matter)):
            if said is not None:
                kind = "intake_kg_dm" if said[0] == "kg" else "intake_share_of_weight"
                values[f"{kind}_{end}"] = said[1]
        limits = Limits(**values)
        self.crossed(limits, keys)
        return limits

    def crossed(self, limits: Limits, keys: Keys) -> bool:
        """Refuse a least that is over its most; True when one is."""
        found = False
        for stem, name in (
            ("intake_share_of_weight", "dry matter"),
            ("intake_kg_dm", "dry matter"),
            ("ca_to_p", "calcium to phosphorus"),
        ):
            least, most = getattr(limits, f"{stem}_least"), getattr(limits, f"{stem}_most")
            if least is not None and most is not None and least > most:
                found = True
                shown = ".1%" if "share" in stem else "g"
                self.sheet.fault(
                    (*keys, f"least {name}"),
                    f"least {name} {least:{shown}} is over most {name} {most:{shown}}",
                    "the least must be under the most",
                    "Change one of the two",
                )
        return found

    # ------------------------------------------------------------ batches

    def batches(self, farm_limits: Limits) -> tuple[dict[str, Batch], dict[str, Limits]]:
        """Batches by tidied name, and their limits by written name."""
        found: dict[str, Batch] = {}
        limits: dict[str, Limits] = {}
        for key, body in self.sheet.section("batches", "batch").items():
            keys: Keys = ("batches", key)
            entry = farm_keys.check(farm_keys.BatchEntry, body, keys, self.sheet)
            own = Limits()
            if isinstance(body, dict) and "limits" in body:
                before = len(self.sheet.problems)
                own = self.limits(body["limits"], (*keys, "limits"))
                if len(self.sheet.problems) == before:
                    self.crossed(own.over(farm_limits), (*keys, "limits"))
            name = self.sheet.written[keys]
            limits[name] = own.over(farm_limits)
            if entry is not None and (batch := self.batch(name, entry, keys)) is not None:
                found[key] = batch
                self.start_kg[name] = entry.weight
                self.penned(name, entry, keys)
        return found, limits

    def penned(self, name: str, entry: Any, keys: Keys) -> None:
        """The heads of a batch's pens, when it says so."""
        if "pens" not in entry.model_fields_set:
            return
        try:
            self.pens[name] = season.pens_of(entry.pens, entry.head)
        except InputError as error:
            self.sheet.add(*error.at(self.sheet.where((*keys, "pens"))).problems)

    def batch(self, name: str, entry: Any, keys: Keys) -> Batch | None:
        """One checked batch; weight and gain from the target when one is set."""
        sheet, top = self.sheet, self.top
        if (entry.gain is None) == (entry.target is None):
            which = (
                "neither gain nor target is" if entry.gain is None else "both gain and target are"
            )
            sheet.fault(
                keys,
                f"{which} said",
                "one of the two is wanted",
                'Write "gain: 20 g/day" or "target: 42 kg"',
            )
            return None
        days = self.days or USUAL_WINTER_DAYS  # a fault of the winter is told already
        gain = entry.gain
        end_kg = entry.target
        if gain is None:
            gain = (entry.target - entry.weight) * 1000 / days
        else:
            end_kg = entry.weight + gain * days / 1000
        mid_winter = entry.target is not None
        if entry.feed_for_mid_winter is not None:
            mid_winter = entry.feed_for_mid_winter
        at_fault, lambing = self.lambing(entry, keys)
        if at_fault or self.breeding_at_fault(entry, keys):
            return None
        least, most = animals.weights_kg(entry.sheep_class or top.sheep_class or "ewe-lamb")
        if not least <= entry.weight <= most:
            sheet.fault(
                (*keys, "weight"),
                f"live weight {entry.weight:g} kg",
                f"the growth equations cover {least:g} to {most:g} kg",
                "Feed heavier or lighter sheep by another guide",
            )
            return None
        chosen = {
            "sheep_class": entry.sheep_class or top.sheep_class,
            "mature_weight_kg": entry.mature_weight or top.mature_weight,
            "sex": entry.sex,
            "under_one_year": entry.age,
        }
        try:
            return animals.batch(
                name,
                weight_kg=(entry.weight + end_kg) / 2 if mid_winter else entry.weight,
                gain_g_per_day=gain,
                head=entry.head,
                housing=entry.housing or top.housing,
                breed=entry.breed if entry.breed is not None else top.breed,
                start_weight_kg=entry.weight if entry.target is not None else None,
                end_weight_kg=entry.target,
                days_to_lambing=lambing,
                days_pregnant=None
                if entry.litter is None
                else animals.day_of_pregnancy(lambing, days),
                litter_kg=entry.litter,
                lambs=entry.lambs,
                milk_kg_per_day=entry.milk,
                **{k: v for k, v in chosen.items() if v is not None},
            )
        except InputError as error:
            for problem in error.problems:
                at = (*keys, self.key_of(problem, entry))
                sheet.fault(at, problem.read, problem.allowed, problem.do)
        return None

    def graze(self, like: str, offers: dict[str, Offer]) -> None:
        """The grass they find, as one more feed."""
        name = next(n for n in ("grazing", "grass they find", "grass found") if n not in offers)
        if like not in self.tables.feeds or self.tables.feeds[like].group != "grazing":
            grasses = [f for f in self.tables.feeds if self.tables.feeds[f].group == "grazing"]
            self.sheet.fault(
                ("outdoors", "grazing like"),
                f"{units.shown(like)} is not a grass of the table",
                f"it is one of {', '.join(grasses)}",
            )
            return
        feed = self.tables.feeds[like]
        offers[name] = Offer(
            id=name,
            name=name,
            feed=replace(feed, name=name),
            is_home=True,
            price_gbp_per_t_fresh=0.0,
            place=self.sheet.place(("outdoors",)),
            is_grazed=True,
        )

    def lambing(self, entry: Any, keys: Keys) -> tuple[bool, int | None]:
        """Whether the day of lambing is at fault, and the days to it from the first day."""
        day, name = entry.lambing, "lambing"
        if entry.tupped is not None:
            if day is not None:
                self.sheet.fault(
                    (*keys, "tupped"), "both tupped and lambing are said", "one of the two"
                )
                return True, None
            day, name = entry.tupped + timedelta(animals.TERM_DAYS), "tupped"
        if day is None or self.start is None:
            return False, None
        days = (day - self.start).days
        if 0 < days <= 400 and entry.litter is not None and self.days and days < self.days:
            self.sheet.fault(
                (*keys, name),
                f"lambing, about {units.in_words_day(day)}, falls before the end of the winter",
                "a batch fed for its lambs inside is fed up to lambing",
                "End the winter by then, and make a farm file with milk for the weeks after it",
            )
            return True, None
        if 0 < days <= 400:
            return False, days
        self.sheet.fault(
            (*keys, name),
            f"lambing is {days} days from the first day of the winter",
            "1 to 400 days",
            "Check the year",
        )
        return True, None

    def breeding_at_fault(self, entry: Any, keys: Keys) -> bool:
        """Refuse lambs nobody is to bear or suckle, and a male in lamb; True when at fault."""
        said = next((n for n in ("tupped", "lambing") if getattr(entry, n) is not None), None)
        class_sex, _ = animals.CLASSES[entry.sheep_class or self.top.sheep_class or "ewe-lamb"]
        before = len(self.sheet.problems)
        is_meant = entry.tupped is not None or entry.litter is not None
        if said is not None and is_meant and (entry.sex or class_sex) != "female":
            self.sheet.fault((*keys, said), "a male is said to be in lamb", "only ewes are")
        if said is not None and entry.milk:
            self.sheet.fault(
                (*keys, "milk"), f"both milk and {said} are said", "in milk or in lamb, not both"
            )
        for name, is_fed_for in (("litter", said), ("lambs", said or entry.milk)):
            if getattr(entry, name) is not None and not is_fed_for:
                also = " nor milk" if name == "lambs" else ""
                self.sheet.fault(
                    (*keys, name),
                    f"{name} is said and neither tupped nor lambing{also}",
                    "without the day nothing is fed for the lambs",
                    'Add for example "tupped: 12 November 2026"',
                )
        return len(self.sheet.problems) > before

    @staticmethod
    def key_of(problem: Problem, entry: Any) -> str:
        """The name in the file that a batch's fault belongs to."""
        if problem.read.startswith("gain"):
            return "gain" if entry.gain is not None else "target"
        if problem.read.startswith("live weight"):
            return "weight" if entry.target is None else "target"
        if problem.read.startswith("a male"):
            return "milk"
        return "head" if problem.read.endswith("head") else problem.read.split(" ", 1)[0]

    # ------------------------------------------------------------ what is fed, what is assumed

    def fed(
        self,
        batches: Mapping[str, Batch],
        offers: Mapping[str, Offer],
        unpriced: Mapping[str, str],
    ) -> tuple[Fed, ...]:
        """What each batch is fed now."""
        found = []
        for key, body in self.sheet.section("fed", "batch").items():
            keys: Keys = ("fed", key)
            known = self.sheet.group(("batches",))
            if key not in known:
                self.sheet.fault(
                    keys,
                    f"{units.shown(self.sheet.written[keys])} is not a batch of this farm",
                    "",
                    nearest(key, tuple(known)),
                )
            if not isinstance(body, dict) or not body:
                self.sheet.fault(
                    keys,
                    "what is fed is a group of feeds and weights",
                    do='Write "hay: 0.68 kg" indented below it',
                )
                continue
            amounts, is_part = self.amounts(body, keys, offers, unpriced)
            name = self.sheet.written.get(("batches", key), key)
            found.append(Fed(name, MappingProxyType(amounts), is_part, self.sheet.place(keys)))
        return tuple(found)

    def amounts(
        self,
        body: dict[str, Any],
        keys: Keys,
        offers: Mapping[str, Offer],
        unpriced: Mapping[str, str],
    ) -> tuple[dict[str, float], bool]:
        """Weights fed by offer id, and whether grazing must supply the rest."""
        amounts: dict[str, float] = {}
        is_part = False
        known = {farm_words.id_of(k) for k in self.sheet.group(("feeds",))}
        for name, value in body.items():
            at: Keys = (*keys, name)
            offer_id = farm_words.id_of(name)
            try:
                if name == "part ration":
                    is_part = farm_words.yes_no(value)
                    continue
                kg = farm_words.between(units.mass_kg, "the weight fed", 0.0, 20.0, "kg")(value)
                amounts[offer_id] = kg
            except InputError as error:
                self.sheet.add(*error.at(self.sheet.where(at)).problems)
            if offer_id not in known:
                hint = nearest(offer_id, tuple(known)) or 'Add it under "feeds"'
                self.sheet.fault(
                    at,
                    f"{units.shown(self.sheet.written[at])} is not a feed of this farm",
                    "",
                    hint,
                )
            elif offer_id in unpriced:
                self.sheet.fault(
                    at,
                    f"{offer_id} has no price yet, so it is left out",
                    "",
                    f"Enter a price for it under feeds > {offer_id}",
                )
        return amounts, is_part

    def assumed(self, offers: Mapping[str, Offer], unpriced: Mapping[str, str]) -> None:
        """Refuse a name under `assume` that is neither a feed of the farm nor of the table."""
        known = {farm_words.id_of(k) for k in self.sheet.group(("feeds",))}
        for name in self.top.assume:
            if name != "all" and name not in known and name not in self.tables.feeds:
                hint = nearest(name, tuple(known)) or 'Write "all", "none" or names of feeds'
                self.sheet.fault(
                    ("assume",), f"{units.shown(name)} is not a feed of this farm", "", hint
                )

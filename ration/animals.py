"""What a batch of sheep is: class, sex, age, weight, gain, number and where it is kept."""

from __future__ import annotations

from dataclasses import dataclass

from ration.errors import OutOfRange, Problem, UnknownName

SEXES = ("female", "castrate", "entire")
HOUSINGS = ("shed", "in-bye", "hill", "away")
# class: (sex, under one year)
CLASSES: dict[str, tuple[str, bool]] = {
    "ewe-lamb": ("female", True),
    "wether-lamb": ("castrate", True),
    "tup-lamb": ("entire", True),
    "gimmer": ("female", False),
    "wether": ("castrate", False),
    "tup": ("entire", False),
    "ewe": ("female", False),
}
GROWN = ("ewe",)

WEIGHT_KG = (15.0, 55.0)
GROWN_WEIGHT_KG = (30.0, 100.0)
TERM_DAYS = 147
GAIN_G_PER_DAY = (0.0, 250.0)


@dataclass(frozen=True)
class Batch:
    """A group of sheep fed as one.

    Parameters
    ----------
    name : str
        The user's own word for the batch.
    sheep_class : str
        One of `CLASSES`.
    sex : str
        female, castrate or entire.
    under_one_year : bool
        True up to the first birthday.
    head : int
        Number of sheep.
    weight_kg : float
        Live weight that is fed for. [kg], 15 to 55; grown ewes 30 to 100.
    gain_g_per_day : float
        Live-weight gain wanted. [g/day], 0 to 250.
    housing : str
        shed, in-bye, hill or away (lowland keep).
    mature_weight_kg : float
        Grown weight of the breed. [kg]
    breed : str
        Breed or cross as the user says it; "" when not said. Only cautions read it.
    start_weight_kg, end_weight_kg : float or None
        Weights at the two ends of the winter when a target was set. [kg]
    days_to_lambing : int or None
        Days from the start of the ration to lambing when in lamb.
    days_pregnant : float or None
        Day of pregnancy that is fed for, 0 to 147; None when not in lamb.
    litter_kg : float or None
        Birth weight of all her lambs together. [kg]; None when nobody has said.
    lambs : float or None
        Lambs a ewe, as scanned. [-]
    milk_kg_per_day : float
        Milk of a suckling ewe. [kg/day]
    age_years : float or None
        Age; None takes the class's usual age. [year]
    cold_me_mj_per_day : float
        Energy for cold, wind and wet, the mean over the days fed for. [MJ ME/day]
    walk_km_per_day, climb_km_per_day : float or None
        Walked and climbed a day, both or neither; None takes the standard's allowance for the
        place. [km]
    """

    name: str
    sheep_class: str
    sex: str
    under_one_year: bool
    head: int
    weight_kg: float
    gain_g_per_day: float
    housing: str = "shed"
    mature_weight_kg: float = 62.0
    breed: str = ""
    start_weight_kg: float | None = None
    end_weight_kg: float | None = None
    days_to_lambing: int | None = None
    days_pregnant: float | None = None
    litter_kg: float | None = None
    lambs: float | None = None
    milk_kg_per_day: float = 0.0
    age_years: float | None = None
    cold_me_mj_per_day: float = 0.0
    walk_km_per_day: float | None = None
    climb_km_per_day: float | None = None

    @property
    def is_grown(self) -> bool:
        """A grown ewe: she does not grow, she gains or loses condition."""
        return self.sheep_class in GROWN

    @property
    def is_in_lamb(self) -> bool:
        """In lamb, and the weight of the litter known, so that it can be fed for."""
        return self.days_pregnant is not None and self.litter_kg is not None


def batch(
    name: str = "sheep",
    *,
    sheep_class: str = "ewe-lamb",
    weight_kg: float,
    gain_g_per_day: float,
    head: int = 1,
    sex: str | None = None,
    under_one_year: bool | None = None,
    housing: str = "shed",
    mature_weight_kg: float = 62.0,
    breed: str = "",
    start_weight_kg: float | None = None,
    end_weight_kg: float | None = None,
    days_to_lambing: int | None = None,
    days_pregnant: float | None = None,
    litter_kg: float | None = None,
    lambs: float | None = None,
    milk_kg_per_day: float = 0.0,
    age_years: float | None = None,
    cold_me_mj_per_day: float = 0.0,
    walk_km_per_day: float | None = None,
    climb_km_per_day: float | None = None,
) -> Batch:
    """A checked `Batch`; sex and age come from the class unless said.

    Raises
    ------
    UnknownName
        Class, sex or housing is not one of ours.
    OutOfRange
        Weight, gain, number or mature weight outside what the standards cover; all at once.
    """
    names: list[Problem] = []
    for value, allowed, what in (
        (sheep_class, tuple(CLASSES), "class"),
        (sex, (None, *SEXES), "sex"),
        (housing, HOUSINGS, "housing"),
    ):
        if value not in allowed:
            choices = ", ".join(str(a) for a in allowed if a)
            names.append(Problem(name, f'{what} "{value}" is not known', f"it is one of {choices}"))
    if names:
        raise UnknownName(*names)
    class_sex, class_young = CLASSES[sheep_class]
    faults: list[Problem] = []
    lightest, heaviest = weights_kg(sheep_class)
    if not lightest <= weight_kg <= heaviest:
        faults.append(
            Problem(
                name,
                f"live weight {weight_kg:g} kg",
                f"the growth equations cover {lightest:g} to {heaviest:g} kg",
                "Feed heavier or lighter sheep by another guide",
            )
        )
    if gain_g_per_day < 0 and not (milk_kg_per_day and gain_g_per_day >= -200):
        faults.append(
            Problem(
                name,
                f"gain {gain_g_per_day:g} g/day is a loss of weight",
                "the standards do not describe planned loss in growing sheep",
                "Ask for 0 g/day or more; to see what a thin ration does, use: ration assess",
            )
        )
    elif not gain_g_per_day <= GAIN_G_PER_DAY[1]:
        faults.append(
            Problem(name, f"gain {gain_g_per_day:g} g/day", "0 to 250 g/day is covered here")
        )
    if head < 1:
        faults.append(Problem(name, f"{head} head", "a batch has at least 1 sheep"))
    if not 25 <= mature_weight_kg <= 130:
        faults.append(
            Problem(name, f"mature weight {mature_weight_kg:g} kg", "25 to 130 kg is believable")
        )
    for what, amount, lo, hi, unit in (
        ("day of pregnancy", days_pregnant, 0, TERM_DAYS, ""),
        ("litter weight", litter_kg, 1, 25, " kg"),
        ("lambs a ewe", lambs, 0.5, 5, ""),
        ("milk", milk_kg_per_day, 0, 5, " kg a day"),
        ("age", age_years, 0.1, 15, " years"),
        ("energy for cold", cold_me_mj_per_day, 0, 30, " MJ a day"),
        ("walk", walk_km_per_day, 0, 20, " km a day"),
        ("climb", climb_km_per_day, 0, 2, " km a day"),
    ):
        if amount is not None and not lo <= amount <= hi:
            faults.append(
                Problem(name, f"{what} {amount:g}{unit}", f"{lo:g} to {hi:g}{unit} is believable")
            )
    if (walk_km_per_day is None) != (climb_km_per_day is None):
        one, other = ("walk", "climb") if climb_km_per_day is None else ("climb", "walk")
        faults.append(
            Problem(
                name,
                f"{one} is said and {other} is not",
                "both or neither",
                f'Say that {other} is "0 m" if there is none',
            )
        )
    if milk_kg_per_day and days_pregnant is not None:
        faults.append(Problem(name, "both in lamb and in milk", "it is one of the two"))
    if (milk_kg_per_day or days_pregnant is not None) and (sex or class_sex) != "female":
        faults.append(Problem(name, "a male is said to be in lamb or in milk", "only ewes are"))
    elif sheep_class in GROWN and (sex or class_sex) != "female":
        faults.append(Problem(name, f"sex {sex} of a {sheep_class}", "ewes are female"))
    if faults:
        raise OutOfRange(*faults)
    return Batch(
        name=name,
        sheep_class=sheep_class,
        sex=sex or class_sex,
        under_one_year=class_young if under_one_year is None else under_one_year,
        head=int(head),
        weight_kg=float(weight_kg),
        gain_g_per_day=float(gain_g_per_day),
        housing=housing,
        mature_weight_kg=float(mature_weight_kg),
        breed=breed,
        start_weight_kg=start_weight_kg,
        end_weight_kg=end_weight_kg,
        days_to_lambing=days_to_lambing,
        days_pregnant=days_pregnant,
        litter_kg=litter_kg,
        lambs=lambs,
        milk_kg_per_day=milk_kg_per_day,
        age_years=age_years,
        cold_me_mj_per_day=cold_me_mj_per_day,
        walk_km_per_day=walk_km_per_day,
        climb_km_per_day=climb_km_per_day,
    )


def day_of_pregnancy(days_to_lambing: float | None, days: float) -> float | None:
    """The day of pregnancy in the middle of some days fed for; None before tupping or after term.

    Parameters
    ----------
    days_to_lambing : float or None
        From the first of those days; None when not in lamb. [day]
    days : float
        How many days are fed for. [day]

    Examples
    --------
    >>> day_of_pregnancy(100, 14)
    54.0
    """
    if days_to_lambing is None:
        return None
    first = max(TERM_DAYS - days_to_lambing, 0.0)
    last = min(TERM_DAYS - days_to_lambing + days, float(TERM_DAYS))
    return (first + last) / 2 if last > first else None


def weights_kg(sheep_class: str) -> tuple[float, float]:
    """Lightest and heaviest live weight that the equations cover. [kg]"""
    return GROWN_WEIGHT_KG if sheep_class in GROWN else WEIGHT_KG

"""What a batch of sheep is: class, sex, age, weight, gain, number and where it is kept."""

from __future__ import annotations

from dataclasses import dataclass

from ration.errors import OutOfRange, Problem, UnknownName

SEXES = ("female", "castrate", "entire")
HOUSINGS = ("shed", "in-bye", "hill")
# class: (sex, under one year)
CLASSES: dict[str, tuple[str, bool]] = {
    "ewe-lamb": ("female", True),
    "wether-lamb": ("castrate", True),
    "tup-lamb": ("entire", True),
    "gimmer": ("female", False),
    "wether": ("castrate", False),
    "tup": ("entire", False),
}

WEIGHT_KG = (15.0, 55.0)
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
        Live weight that is fed for. [kg], 15 to 55.
    gain_g_per_day : float
        Live-weight gain wanted. [g/day], 0 to 250.
    housing : str
        shed, in-bye or hill.
    mature_weight_kg : float
        Grown weight of the breed. [kg]
    breed : str
        Breed or cross as the user says it; "" when not said. Only cautions read it.
    start_weight_kg, end_weight_kg : float or None
        Weights at the two ends of the winter when a target was set. [kg]
    days_to_lambing : int or None
        Days from the start of the ration to lambing when in lamb.
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
    if not WEIGHT_KG[0] <= weight_kg <= WEIGHT_KG[1]:
        faults.append(
            Problem(
                name,
                f"live weight {weight_kg:g} kg",
                f"the growth equations cover {WEIGHT_KG[0]:g} to {WEIGHT_KG[1]:g} kg",
                "Feed heavier or lighter sheep by another guide",
            )
        )
    if gain_g_per_day < 0:
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
    )

"""From a household's documents, as the contract writes them, to the values the models work with."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from datetime import date, time
from typing import Any
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from models.backup import Backup
from models.burner import Burner, GasFlowRating, HeatInputRating, InjectorRating
from models.digester import Digester
from models.errors import ModelError, within
from models.fuels import fuel
from models.gas import GasQuality
from models.holder import GasHolder, water_column_pa, weight_pa
from models.household import Household
from models.meals import Absence, Change, Meal, MealPlan, Override
from models.pan import Pan
from models.site import Site
from models.stove import Boiling, Burning, Dish, Simmering, Step
from service.retelling import CONTRACT, Said, retold

Document = Mapping[str, Any]
Rating = HeatInputRating | GasFlowRating | InjectorRating

PA_PER_KPA = 1000.0
GAUGE_PA = (50.0, 10_000.0)  # less lights no burner, more is no low-pressure holder


class DocumentError(ValueError):
    """A document the models refuse; `pointer` (JSON pointer) says where."""

    def __init__(self, message: str, *, pointer: str) -> None:
        super().__init__(message)
        self.pointer = pointer


@contextmanager
def _at(pointer: str, **names: Said) -> Iterator[None]:
    """Say where in the document a model's refusal belongs, in the words that the document uses."""
    try:
        yield
    except ModelError as error:
        message, field = retold(error, {**CONTRACT, **names})
        raise DocumentError(message, pointer=f"{pointer}/{field}" if field else pointer) from error


def zone_of(name: str) -> ZoneInfo:
    """The time zone of an IANA name."""
    try:
        return ZoneInfo(name)
    except (ZoneInfoNotFoundError, ValueError, OSError):
        message = f"time_zone is {name!r}, must be an IANA name such as Europe/Lisbon"
        raise DocumentError(message, pointer="/time_zone") from None


def _gas(document: Document) -> GasQuality:
    described = document.get("methane_pct")
    ppm = document.get("hydrogen_sulfide_ppm", 0.0)
    if described is None:
        return GasQuality(hydrogen_sulfide_ppm=ppm)
    spread = document.get("methane_sd_pct", DESCRIBED_METHANE_SD_PCT)
    return GasQuality(
        methane_fraction=described / 100.0,
        methane_sd=spread / 100.0,
        hydrogen_sulfide_ppm=ppm,
        source="described",
    )


DESCRIBED_METHANE_SD_PCT = 3.0
"""Spread of a methane share that was stated once and not tested since; common practice, no source."""


def _gauge_pa(holder: Document) -> float:
    """Usual pressure of a holder, however it was given. [Pa]"""
    if "weight_kg" in holder:
        return float(weight_pa(holder["weight_kg"], area_m2=holder["weight_area_m2"]))
    if "gauge_mm_h2o" in holder:
        return float(water_column_pa(holder["gauge_mm_h2o"]))
    return float(holder.get("gauge_kpa", 0.6) * PA_PER_KPA)


def _relief_pa(holder: Document) -> float:
    if "relief_mm_h2o" in holder:
        return float(water_column_pa(holder["relief_mm_h2o"]))
    return float(holder.get("relief_kpa", 0.980665) * PA_PER_KPA)


def _holder_names(holder: Document) -> dict[str, Said]:
    """How the document tells the pressures of its holder, and the points of its gauge."""
    names = {
        "gauge_points level_pct": Said(field="gauge_points", unit="%", about="a level of gauge_points"),
        "gauge_points volume_m3": Said(field="gauge_points", unit="m3", about="a volume of gauge_points"),
    }
    if "weight_kg" in holder:
        names["gauge_pa"] = Said(field="weight_kg", per=1e-3, unit="kPa", about="weight_kg on weight_area_m2")
    elif "gauge_mm_h2o" in holder:
        names["gauge_pa"] = _column("gauge_mm_h2o")
    if "relief_mm_h2o" in holder or ("gauge_mm_h2o" in holder and "relief_kpa" not in holder):
        names["relief_pa"] = _column("relief_mm_h2o")
    return names


def _column(field: str) -> Said:
    return Said(field=field, per=1.0 / float(water_column_pa(1.0)), unit="mm of water")


def _holder(document: Document) -> GasHolder:
    capacity_m3 = document["capacity_m3"]
    points = document.get("gauge_points") or [[0.0, 0.0], [100.0, capacity_m3]]
    return GasHolder(
        capacity_m3=capacity_m3,
        reserve_m3=document.get("reserve_m3", 0.0),
        gauge_pa=float(within("gauge_pa", _gauge_pa(document), *GAUGE_PA)),
        relief_pa=_relief_pa(document),
        level_error_fraction=document.get("level_error_pct", 4.0) / 100.0,
        gauge_points=tuple((float(level), float(volume)) for level, volume in points),
    )


def rating_of(document: Document) -> Rating:
    """A burner's rating: heat input, gas flow or injector, as one of the contract's three shapes."""
    gauge_pa = document["gauge_kpa"] * PA_PER_KPA
    methane = document.get("methane_pct")
    fraction = None if methane is None else methane / 100.0
    if "heat_input_kw" in document:
        return HeatInputRating(
            heat_input_kw=document["heat_input_kw"],
            methane_fraction=fraction,
            gas=document.get("gas"),
            gauge_pa=gauge_pa,
        )
    if "gas_flow_l_per_h" in document:
        return GasFlowRating(
            gas_flow_l_per_h=document["gas_flow_l_per_h"],
            methane_fraction=document["methane_pct"] / 100.0,
            gauge_pa=gauge_pa,
        )
    return InjectorRating(
        injector_mm=document["injector_mm"],
        discharge_coefficient=document.get("discharge_coefficient", 0.9),
        gauge_pa=gauge_pa,
    )


def burner_of(document: Document) -> Burner:
    """A burner with its rating, efficiency and turndown."""
    return Burner(
        name=document["name"],
        rating=rating_of(document["rating"]),
        efficiency=document.get("efficiency_pct", 55.0) / 100.0,
        lowest_flame_fraction=document.get("lowest_flame_pct", 25.0) / 100.0,
    )


def pan_of(document: Document) -> Pan:
    """A pan; what is not said takes the model's default."""
    return Pan(**document)


def _backup(document: Document) -> Backup:
    name = document.get("fuel", "lpg")
    described = document.get("efficiency_pct")
    return Backup(
        fuel=name,
        on_hand_kg=document.get("on_hand_kg"),
        lead_d=document.get("lead_d", 0.0),
        efficiency=fuel(name).efficiency if described is None else described / 100.0,
    )


def _digester(document: Document) -> Digester:
    return Digester(**{name: value for name, value in document.items() if name != "started_on"})


def first_start(document: Document) -> date | None:
    """The day the first of a household's digesters was started; None where one of them does not say."""
    days = [one.get("started_on") for one in document["digesters"]]
    return min(map(date.fromisoformat, days)) if all(days) else None


def _each(documents: Sequence[Document], pointer: str, build: Any) -> tuple[Any, ...]:
    built = []
    for place, document in enumerate(documents):
        with _at(f"{pointer}/{place}"):
            built.append(build(document))
    return tuple(built)


def household_from(document: Document) -> Household:
    """A household from its description.

    Raises
    ------
    DocumentError
        A figure outside the physics, or figures that contradict one another, with the pointer to it.
    """
    zone = zone_of(document["time_zone"])
    with _at("/site"):
        site = Site(**{**document["site"], "monthly_mean_c": tuple(document["site"]["monthly_mean_c"])})
    with _at("/gas"):
        gas = _gas(document.get("gas") or {})
    with _at("/holder", **_holder_names(document["holder"])):
        holder = _holder(document["holder"])
    with _at("/backup"):
        backup = _backup(document.get("backup") or {})
    parts = {
        "digesters": _each(document["digesters"], "/digesters", _digester),
        "burners": _each(document["burners"], "/burners", burner_of),
        "pans": _each(document.get("pans") or [], "/pans", pan_of),
    }
    with _at(""):
        return Household(
            label=document.get("label", ""),
            zone=zone,
            care_level=document.get("care_level", 0.1),
            site=site,
            gas=gas,
            holder=holder,
            backup=backup,
            changed_on=tuple(date.fromisoformat(day) for day in document.get("changed_on") or ()),
            **parts,
        )


def _step(document: Document) -> Step:
    if "boil" in document:
        return Boiling(water_l=document["boil"]["water_l"], from_c=document["boil"].get("from_c", 15.0))
    if "simmer_min" in document:
        return Simmering(minutes=document["simmer_min"])
    return Burning(minutes=document["fry_min"], flame_fraction=document.get("flame_pct", 100.0) / 100.0)


def _dish(document: Document) -> Dish:
    steps = tuple(_step(step) for step in document["steps"])
    return Dish(burner=document["burner"], pan=document.get("pan"), steps=steps)


def meal_from(document: Document) -> Meal:
    """A recurring meal.

    Raises
    ------
    DocumentError
        A recurrence rule or a figure the models refuse.
    """
    with _at("", at=Said(field="time")):
        return Meal(
            name=document["name"],
            starts_on=date.fromisoformat(document["starts_on"]),
            at=time.fromisoformat(document["time"]),
            rrule=document.get("rrule"),
            exdates=tuple(date.fromisoformat(day) for day in document.get("exdates") or ()),
            rdates=tuple(date.fromisoformat(day) for day in document.get("rdates") or ()),
            burner=document.get("burner"),
            flame_min=document.get("flame_min"),
            flame_fraction=document.get("flame_pct", 100.0) / 100.0,
            movable=document.get("movable", False),
            dishes=_each(document.get("dishes") or (), "/dishes", _dish),
        )


def change_from(document: Document) -> Change:
    """A one-off change of the schedule: an override of one meal, or an absence."""
    with _at(""):
        if "from" in document:
            return Absence(first=date.fromisoformat(document["from"]), last=date.fromisoformat(document["to"]))
        factor = 0.0 if document.get("skip") else document.get("factor", 1.0)
        return Override(meal=document["meal"], day=date.fromisoformat(document["date"]), factor=factor)


def meal_plan_from(meals: Sequence[Document], changes: Sequence[Document], zone: ZoneInfo) -> MealPlan:
    """The whole schedule: recurring meals with their one-off changes."""
    with _at(""):
        return MealPlan(
            zone=zone,
            meals=tuple(meal_from(meal) for meal in meals),
            changes=tuple(change_from(change) for change in changes),
        )

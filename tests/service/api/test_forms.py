"""What stands together in a document: the server and the contract say the same of every combination of fields."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import timedelta
from itertools import combinations, count, product
from typing import Any

import jsonschema_rs
import pytest
from flask.testing import FlaskClient
from marshmallow import ValidationError

from service.api.examples import DESCRIPTION, MEAL
from service.api.fields import Schema
from service.api.forms import Form, Forms, at_most_one, either
from service.api.schemas.description import Dish, Holder, Meal, Override, Rating, Step
from service.api.schemas.physics import BoilAsked, GasAsked
from service.readings import RULES
from tests.service.api.support import BASE, NOW, faults

RATED = {"rating": DESCRIPTION["burners"][0]["rating"]}
TRIED: list[tuple[type[Schema], dict[str, Any], dict[str, Any]]] = [
    (Step, {}, {"boil": {"water_l": 2}, "simmer_min": 20, "fry_min": 8, "flame_pct": 60}),
    (
        Rating,
        {"gauge_kpa": 0.8},
        {"heat_input_kw": 2, "methane_pct": 60, "gas": "G20", "gas_flow_l_per_h": 400, "injector_mm": 1.4},
    ),
    (
        Holder,
        {"capacity_m3": 0.9},
        {"gauge_kpa": 0.6, "gauge_mm_h2o": 60, "weight_kg": 60, "weight_area_m2": 1, "relief_kpa": 1}
        | {"relief_mm_h2o": 100},
    ),
    (
        Meal,
        {name: MEAL[name] for name in ("name", "starts_on", "time", "rrule")},
        {"burner": "ring", "flame_min": 35, "flame_pct": 90}
        | {"dishes": [{"burner": "ring", "steps": [{"simmer_min": 5}]}]},
    ),
    (
        Override,
        {},
        {"id": "out", "date": "2026-12-24", "meal": "dinner", "factor": 1.6, "skip": True}
        | {"from": "2026-12-24", "to": "2026-12-26"},
    ),
    (
        GasAsked,
        {},
        {"components": {"CH4": 1}, "gas": "G20", "methane_pct": 60, "carbon_dioxide_pct": 40, "saturated_at_c": 30}
        | {"then_at_c": 10},
    ),
    (
        BoilAsked,
        {"water_l": 2},
        {"burner": RATED, "heat_input_kw": 2, "components": {"CH4": 1}, "methane_pct": 60, "carbon_dioxide_pct": 40},
    ),
]
"""Schemas whose fields exclude one another, what each needs anyhow, and fields to combine."""


WARM = either("a", "b", what="what warms")


@pytest.mark.parametrize(("schema", "needed", "further"), TRIED, ids=[one[0].__name__ for one in TRIED])
def test_every_combination_is_taken_by_both_or_by_none(
    contract: dict[str, Any], schema: type[Schema], needed: dict[str, Any], further: dict[str, Any]
) -> None:
    said = contract["components"]["schemas"][schema.__name__]
    takes = jsonschema_rs.Draft202012Validator({**said, "components": contract["components"]}).is_valid
    nullable = [name for name in further if "null" in str(said["properties"][name])]
    tried = [
        needed | {name: further[name] for name in some} | dict.fromkeys(nulls)
        for many in range(len(further) + 1)
        for some in combinations(further, many)
        for nulls in ([], [name for name in nullable if name not in some])
    ]
    kept = [one for one in tried if not schema().validate(one)]

    assert [one for one in tried if takes(one) != (one in kept)] == []
    assert 0 < len(kept) < len(tried)


def test_an_empty_list_where_something_must_stand_is_refused_by_both(contract: dict[str, Any]) -> None:
    dish = {"burner": "ring", "steps": []}
    said = {**contract["components"]["schemas"]["Dish"], "components": contract["components"]}

    assert not jsonschema_rs.Draft202012Validator(said).is_valid(dish)
    assert Dish().validate(dish) == {"steps": ["length|is empty, must hold at least one"]}


def readings() -> Iterator[dict[str, Any]]:
    """Readings of every quantity with and without what they may hold, each of another minute."""
    minutes = count()
    for quantity, rule in RULES.items():
        item = {"burner": "ring", "digester": "tank", "meter": "outlet", "text": "peel"}[rule.item]
        further = {"item": item, "meal": "dinner", "flame_pct": 50, "water_l": 2, "from_c": 15}
        chosen = [some for many in (0, 1, 3) for some in combinations(further, many)]
        for unit, value, some in product((None, "Cel", *rule.ranges), (-99, 1), chosen):
            taken_at = (NOW - timedelta(days=1, minutes=next(minutes))).isoformat()
            document = {"taken_at": taken_at, "quantity": quantity, "value": value, "sure": True}
            yield document | ({"unit": unit} if unit else {}) | {name: further[name] for name in some}


def test_a_reading_is_taken_by_both_or_by_none(contract: dict[str, Any], home: FlaskClient) -> None:
    said = contract["components"]["schemas"]["Reading"]
    takes = jsonschema_rs.Draft202012Validator({**said, "components": contract["components"]}).is_valid
    tried = list(readings())
    kept = [home.post(f"{BASE}/readings", json=one).status_code for one in tried]

    assert set(kept) == {201, 422}
    assert [one for one, status in zip(tried, kept, strict=True) if takes(one) != (status == 201)] == []


@pytest.mark.parametrize(
    ("forms", "given", "says"),
    [
        (WARM, set(), "is missing; nothing says what warms: give exactly one of these: a; or b"),
        (WARM, {"a", "b"}, "cannot stand beside a; give exactly one of these: a; or b"),
        (at_most_one("a", "b", "c"), {"b", "c"}, "cannot stand beside b; give at most one of these: a; or b; or c"),
        (Forms(Form("a", "b"), Form("c")), {"b"}, "is missing; b says nothing without it"),
        (Forms(Form("a", "b", "c"), Form("d")), {"a", "b", "c", "d"}, "cannot stand beside a, b and c; give exactly"),
    ],
)
def test_what_is_no_form_is_told_with_the_way_out(forms: Forms, given: set[str], says: str) -> None:
    with pytest.raises(ValidationError) as refused:
        forms.check(given)

    assert says in str(refused.value.messages)


BURNER = {"name": "ring", "efficiency_pct": 55}
BARE_MEAL = {name: MEAL[name] for name in ("name", "starts_on", "time", "rrule")}


@pytest.mark.parametrize(
    ("method", "path", "document", "pointer", "says"),
    [
        ("POST", "/v1/boil-time", {"water_l": 2}, "/burner", "nothing says what heats the pan"),
        ("POST", f"{BASE}/meals", BARE_MEAL, "/burner", "nothing says what this meal burns"),
        (
            "PUT",
            f"{BASE}/meals/dinner",
            BARE_MEAL | {"dishes": [{"burner": "ring", "steps": [{}]}]},
            "/dishes/0/steps/0/boil",
            "nothing says what this step does",
        ),
        ("POST", f"{BASE}/overrides", {}, "/date", "nothing says what is to change"),
        (
            "POST",
            f"{BASE}/overrides",
            {"date": "2026-12-24", "meal": "dinner"},
            "/factor",
            "date and meal alone do not say what is to change",
        ),
        (
            "PUT",
            BASE,
            DESCRIPTION | {"burners": [BURNER | {"rating": {"heat_input_kw": 2, "gauge_kpa": 0.8}}]},
            "/burners/0/rating/methane_pct",
            "heat_input_kw alone does not say how the burner is rated",
        ),
    ],
)
def test_a_refusal_says_what_of_and_points_at_the_first_field_that_is_missing(
    home: FlaskClient, method: str, path: str, document: dict[str, Any], pointer: str, says: str
) -> None:
    answer = home.open(path, method=method, json=document, headers={"If-Match": "*"})
    field = pointer.rsplit("/", 1)[-1]

    assert answer.status_code == 400
    assert list(faults(answer)) == [pointer]
    assert faults(answer)[pointer].startswith(f"{field} is missing; {says}: give exactly one of these: ")

"""A household describes itself; what is wrong with a description comes back with the field and the way out."""

from __future__ import annotations

import copy
from typing import Any

import pytest
from flask.testing import FlaskClient

from service.api.examples import DESCRIPTION, WEATHER
from tests.service.api.support import BASE, NOW, faults


def changed(**parts: Any) -> dict[str, Any]:
    return copy.deepcopy(DESCRIPTION) | parts


def test_a_description_comes_back_as_it_was_given(client: FlaskClient) -> None:
    created = client.put(BASE, json=DESCRIPTION)
    read = client.get(BASE)

    assert created.status_code == 201
    # but for the bottle, which is there since now where nothing else is told
    assert read.get_json() == DESCRIPTION | {"backup": DESCRIPTION["backup"] | {"on_hand_at": NOW.isoformat()}}
    assert read.headers["ETag"] == created.headers["ETag"]
    assert read.headers["Cache-Control"] == "private, max-age=60"


def test_a_client_that_has_it_already_is_told_so(home: FlaskClient) -> None:
    tag = home.get(BASE).headers["ETag"]

    again = home.get(BASE, headers={"If-None-Match": tag})

    assert again.status_code == 304
    assert again.get_data() == b""
    assert again.headers["ETag"] == tag


def test_to_say_the_same_again_is_safe(home: FlaskClient) -> None:
    assert home.put(BASE, json=DESCRIPTION).status_code == 200


def test_a_description_is_replaced_only_by_one_who_has_seen_it(home: FlaskClient) -> None:
    tag = home.get(BASE).headers["ETag"]
    moved = changed(care_level=0.2)

    assert home.put(BASE, json=moved).status_code == 428
    assert home.put(BASE, json=moved, headers={"If-Match": '"another"'}).status_code == 412
    assert home.put(BASE, json=moved, headers={"If-Match": f'"another", W/{tag}'}).status_code == 412
    assert home.put(BASE, json=moved, headers={"If-Match": '"*"'}).status_code == 412
    assert home.put(BASE, json=moved, headers={"If-Match": tag}).status_code == 200
    assert home.get(BASE).get_json()["care_level"] == 0.2


def test_of_several_versions_that_one_has_seen_any_is_replaced(home: FlaskClient) -> None:
    reading = f"{BASE}/readings/4be2e06b-6d52-4e0b-9c8c-3a86ad3a4a52"
    home.put(reading, json={"taken_at": NOW.isoformat(), "quantity": "holder_level", "value": 50, "unit": "%"})
    for path in (BASE, f"{BASE}/meals/dinner", reading):
        there = home.get(path)
        listed = {"If-Match": f'"another", {there.headers["ETag"]}'}

        assert home.put(path, json=there.get_json(), headers=listed).status_code == 200
        assert home.delete(path, headers={"If-Match": '"another", "a third"'}).status_code == 412
    assert home.delete(reading, headers=listed).status_code == 204


@pytest.mark.parametrize(
    ("parts", "pointer", "says"),
    [
        (
            {"burners": [DESCRIPTION["burners"][0] | {"name": "hob"}]},
            "/burners",
            "burner is 'ring', must be one of hob",
        ),
        ({"pans": []}, "/pans", "pan is 'two litre', must be one of"),
        (
            {"burners": [DESCRIPTION["burners"][0] | {"rating": {"heat_input_kw": 0.1, "gas": "G20", "gauge_kpa": 2}}]},
            "/burners",
            "does not bring 2 L to the boil",
        ),
    ],
)
def test_a_description_with_which_a_meal_cannot_be_cooked_is_refused(
    home: FlaskClient, parts: dict[str, Any], pointer: str, says: str
) -> None:
    dish = {"burner": "ring", "pan": "two litre", "steps": [{"boil": {"water_l": 2}}]}
    soup = {"name": "soup", "starts_on": "2026-01-01", "time": "13:00", "rrule": "FREQ=DAILY", "dishes": [dish]}
    tag = home.get(f"{BASE}/meals/dinner").headers["ETag"]
    assert home.delete(f"{BASE}/meals/dinner", headers={"If-Match": tag}).status_code == 204
    assert home.post(f"{BASE}/meals", json=soup).status_code == 201

    answer = home.put(BASE, json=changed(**parts), headers={"If-Match": "*"})

    assert answer.status_code == 422
    assert says in faults(answer)[pointer]
    assert "meal 'soup' could not be cooked any more" in faults(answer)[pointer]
    assert home.get(f"{BASE}/now").status_code == 200


@pytest.mark.parametrize("path", [BASE, f"{BASE}/meals/dinner"])
def test_a_client_without_an_etag_is_told_where_to_find_it(home: FlaskClient, path: str) -> None:
    changed_one = home.get(path).get_json() | ({"care_level": 0.2} if path == BASE else {"movable": True})
    replaced, deleted = home.put(path, json=changed_one), home.delete(path)

    assert (replaced.status_code, deleted.status_code) == (428, 428)
    assert "ETag of the version to replace, which GET gives; If-Match: * replaces" in replaced.get_json()["detail"]
    assert "ETag of the version to delete, which GET gives; If-Match: * deletes" in deleted.get_json()["detail"]
    assert home.delete(path, headers={"If-Match": "*"}).status_code == 204


def test_a_household_is_deleted_with_its_etag(home: FlaskClient) -> None:
    assert home.delete(BASE).status_code == 428
    assert home.delete(BASE, headers={"If-Match": home.get(BASE).headers["ETag"]}).status_code == 204
    assert home.get(BASE).status_code == 404


@pytest.mark.parametrize("empty", ["", " "])
def test_an_empty_precondition_is_no_precondition(home: FlaskClient, empty: str) -> None:
    answers = [
        home.delete(BASE, headers={"If-Match": empty}),
        home.put(BASE, json=DESCRIPTION, headers={"If-Match": empty}),
        home.delete(f"{BASE}/readings/x", headers={"If-Match": empty}),
    ]

    assert [one.status_code for one in answers] == [400] * 3
    assert "If-Match is empty; send the ETag" in answers[0].get_json()["detail"]


def test_a_missing_holder_is_named(vacant: FlaskClient) -> None:
    without = {name: part for name, part in DESCRIPTION.items() if name != "holder"}

    answer = vacant.put(BASE, json=without)

    assert answer.status_code == 400
    assert faults(answer) == {"/holder": "holder is missing and has no default"}
    assert vacant.get(BASE).status_code == 404


@pytest.mark.parametrize(
    ("parts", "pointer", "says"),
    [
        ({"holder": {"capacity_m3": "0.9"}}, "/holder/capacity_m3", "must be a JSON number"),
        ({"holder": {"capacity_m3": True}}, "/holder/capacity_m3", "must be a JSON number"),
        ({"holder": {"capacity_m3": 900}}, "/holder/capacity_m3", "must be 0.05 to 50"),
        ({"holder": {"capacity_m3": None}}, "/holder/capacity_m3", "may not be null"),
        ({"holder": {"capacity_m3": 0.9, "colour": "green"}}, "/holder/colour", "is not a field here"),
        (
            {"holder": {"capacity_m3": 0.9, "gauge_kpa": 0.6, "gauge_mm_h2o": 60}},
            "/holder/gauge_mm_h2o",
            "cannot stand beside gauge_kpa; give at most one of these: gauge_kpa; or gauge_mm_h2o; or weight_kg and",
        ),
        (
            {"holder": {"capacity_m3": 0.9, "relief_kpa": 1, "relief_mm_h2o": 100}},
            "/holder/relief_mm_h2o",
            "cannot stand beside relief_kpa; give at most one of these: relief_kpa; or relief_mm_h2o",
        ),
        (
            {"holder": {"capacity_m3": 0.9, "weight_kg": 60}},
            "/holder/weight_area_m2",
            "is missing; weight_kg says nothing without it",
        ),
        (
            {"holder": {"capacity_m3": 0.9, "weight_area_m2": 1.2}},
            "/holder/weight_kg",
            "is missing; weight_area_m2 says nothing without it",
        ),
        ({"site": DESCRIPTION["site"] | {"monthly_mean_c": [9] * 11}}, "/site/monthly_mean_c", "twelve temperatures"),
        (
            {"site": DESCRIPTION["site"] | {"monthly_mean_c": [80] + [9] * 11}},
            "/site/monthly_mean_c/0",
            "monthly_mean_c[0] is 80.0, must be -50 to 50",
        ),
        (
            {"holder": {"capacity_m3": 0.9, "gauge_points": [[0, 0], [100, "0.9"]]}},
            "/holder/gauge_points/1/1",
            "gauge_points[1][1] is '0.9', must be a JSON number",
        ),
        ({"digesters": ["tank"]}, "/digesters/0", "digesters[0] must be a JSON object"),
        ({"changed_on": ["2026-01-01", "lately"]}, "/changed_on/1", "changed_on[1] must be a date such as"),
        ({"digesters": [{"name": "tank", "liquid_m3": 0.8}]}, "/digesters/0/usual_feed_kg_per_d", "is missing"),
        ({"backup": {"fuel": "moonshine"}}, "/backup/fuel", "must be one of lpg"),
        (
            {"burners": [{"name": "ring", "rating": {"gauge_kpa": 1}}]},
            "/burners/0/rating/heat_input_kw",
            "exactly one of",
        ),
        ({"burners": []}, "/burners", "is empty, must hold at least one"),
    ],
)
def test_a_malformed_field_is_named(vacant: FlaskClient, parts: dict[str, Any], pointer: str, says: str) -> None:
    answer = vacant.put(BASE, json=changed(**parts))

    assert answer.status_code == 400
    assert says in faults(answer)[pointer]


@pytest.mark.parametrize(
    ("parts", "pointer", "says"),
    [
        ({"time_zone": "Mars/Olympus"}, "/time_zone", "must be an IANA name"),
        ({"holder": {"capacity_m3": 0.9, "reserve_m3": 1.2}}, "/holder/reserve_m3", "must be 0 to 0.9"),
        (
            {"holder": {"capacity_m3": 0.9, "gauge_kpa": 5}},
            "/holder/gauge_kpa",
            "gauge_kpa is 5 kPa, must not exceed relief_kpa, 0.980665 kPa; mend the one that is wrong",
        ),
        (
            {"holder": {"capacity_m3": 0.9, "gauge_mm_h2o": 120}},
            "/holder/gauge_mm_h2o",
            "gauge_mm_h2o is 120 mm of water, must not exceed relief_mm_h2o, 100 mm of water",
        ),
        (
            {"holder": {"capacity_m3": 0.9, "weight_kg": 200, "weight_area_m2": 1.2}},
            "/holder/weight_kg",
            "weight_kg on weight_area_m2 is 1.63444 kPa, must not exceed relief_kpa, 0.980665 kPa",
        ),
        (
            {"holder": {"capacity_m3": 0.9, "weight_kg": 1, "weight_area_m2": 1.2}},
            "/holder/weight_kg",
            "weight_kg on weight_area_m2 is 0.00817221 kPa, must be 0.05 to 10 kPa",
        ),
        (
            {"holder": {"capacity_m3": 0.9, "gauge_points": [[0, 0], [100, 1.2]]}},
            "/holder/gauge_points",
            "a volume of gauge_points is 1.2 m3, must be 0 to 0.945 m3",
        ),
        ({"digesters": DESCRIPTION["digesters"] * 2}, "/digesters", "the same name twice"),
    ],
)
def test_a_figure_outside_the_physics_is_named(
    vacant: FlaskClient, parts: dict[str, Any], pointer: str, says: str
) -> None:
    answer = vacant.put(BASE, json=changed(**parts))

    assert answer.status_code == 422
    assert says in faults(answer)[pointer]


@pytest.mark.parametrize(
    ("body", "content_type", "status"),
    [
        (b"{", "application/json", 400),
        (b"[" * 100_000, "application/json", 400),
        (b'{"label": NaN}', "application/json", 400),
        (b"label: cottage", "text/plain", 415),
        (b"\xff\xfe", "application/json", 400),
        (b"[]", "application/json", 400),
    ],
)
def test_a_body_that_is_no_description_is_a_problem(
    vacant: FlaskClient, body: bytes, content_type: str, status: int
) -> None:
    answer = vacant.put(BASE, data=body, content_type=content_type)

    assert answer.status_code == status
    assert answer.mimetype == "application/problem+json"


def test_a_body_without_length_is_refused(vacant: FlaskClient) -> None:
    answer = vacant.open(BASE, method="PUT", headers={"Transfer-Encoding": "chunked"}, content_type="application/json")

    assert answer.status_code == 411


def test_what_is_not_here_is_a_problem_too(vacant: FlaskClient) -> None:
    missing, method = vacant.get("/v1/nowhere"), vacant.delete("/health/live")

    assert (missing.status_code, missing.mimetype) == (404, "application/problem+json")
    assert (method.status_code, method.mimetype) == (405, "application/problem+json")
    assert "GET" in method.headers["Allow"]


def test_a_problem_names_the_request_as_it_was_sent(vacant: FlaskClient) -> None:
    answer = vacant.get("/v1/nowhere/d%C3%AEner?when=caf%C3%A9%20time&empty=")

    assert answer.get_json()["instance"] == "/v1/nowhere/d%C3%AEner?when=caf%C3%A9%20time&empty="


def test_an_unknown_household_says_how_to_begin(vacant: FlaskClient) -> None:
    answer = vacant.get("/v1/households/nobody/now")

    assert answer.status_code == 404
    assert "PUT /v1/households/nobody" in answer.get_json()["detail"]


def test_another_host_name_is_not_served(vacant: FlaskClient) -> None:
    answer = vacant.get(BASE, headers={"Host": "elsewhere.example"})

    assert answer.status_code == 421


def test_posted_weather_comes_back_sorted(home: FlaskClient) -> None:
    assert home.put(f"{BASE}/weather", json=WEATHER[::-1]).status_code == 200
    assert home.get(f"{BASE}/weather").get_json() == WEATHER


def test_a_day_of_weather_twice_is_refused(home: FlaskClient) -> None:
    answer = home.put(f"{BASE}/weather", json=[WEATHER[0], WEATHER[0]])

    assert answer.status_code == 422
    assert "twice" in faults(answer)["/1/date"]


@pytest.mark.parametrize("sent", [WEATHER[0], {}, "sunny", 7])
def test_weather_that_is_no_list_is_told_how_one_looks(home: FlaskClient, sent: Any) -> None:
    answer = home.put(f"{BASE}/weather", json=sent)

    assert answer.status_code == 400
    assert faults(answer) == {
        "": 'the body must be a JSON array (a list) such as [{"date": ..., "mean_c": ...}], even where it holds one'
    }
    assert answer.get_json()["detail"] == faults(answer)[""]


@pytest.mark.parametrize(
    ("day", "pointer", "says"),
    [
        ({"min_c": 9.6}, "/0/min_c", "min_c is 9.6, must be at most mean_c, 9.5; mend the one that is wrong, or leave"),
        (
            {"max_c": 9.4},
            "/0/max_c",
            "max_c is 9.4, must be at least mean_c, 9.5; mend the one that is wrong, or leave",
        ),
        ({"mean_c": 70}, "/0/mean_c", "mean_c is 70.0, must be -60 to 60"),
        ({"date": "tomorrow"}, "/0/date", "date must be a date such as 2026-11-26"),
    ],
)
def test_weather_that_cannot_be_is_refused_with_the_way_out(
    home: FlaskClient, day: dict[str, Any], pointer: str, says: str
) -> None:
    answer = home.put(f"{BASE}/weather", json=[WEATHER[0] | day])

    assert answer.status_code == 400
    assert faults(answer)[pointer].startswith(says)
    assert home.get(f"{BASE}/weather").get_json() == []


def test_a_day_of_weather_that_never_changes_is_taken(home: FlaskClient) -> None:
    still = {"date": "2026-11-26", "mean_c": 9.5, "min_c": 9.5, "max_c": 9.5}

    assert home.put(f"{BASE}/weather", json=[still]).status_code == 200

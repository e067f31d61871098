"""The metrics, read by the reference parser of the standard: every figure is the one the poll gives, in base units."""

from __future__ import annotations

from datetime import datetime

import pytest
from flask import Flask
from flask.testing import FlaskClient
from prometheus_client.openmetrics.parser import text_string_to_metric_families

from service.api.examples import DESCRIPTION
from service.api.examples_metrics import METRICS
from service.api.guard import token_hash
from service.wiring import Wiring
from tests.service.api.support import BASE, NOW, Clock, reading

Figures = dict[str, dict[str, float]]


def scraped(client: FlaskClient, path: str = "/metrics", headers: dict[str, str] | None = None) -> Figures:
    answer = client.get(path, headers=headers)
    assert answer.status_code == 200, answer.get_data(as_text=True)
    assert answer.content_type == "application/openmetrics-text; version=1.0.0; charset=utf-8"
    return parsed(answer.get_data(as_text=True))


def parsed(text: str) -> Figures:
    """Values by family and household."""
    families = list(text_string_to_metric_families(text))
    assert all(one.type == "gauge" and one.documentation for one in families)
    assert all(one.name.startswith("kettlecast_") and one.name.endswith(one.unit) for one in families)
    return {
        family.name.removeprefix("kettlecast_"): {one.labels["household"]: one.value for one in family.samples}
        for family in families
    }


def test_each_figure_is_the_one_the_poll_gives_in_base_units(lived_in: tuple[Flask, Wiring]) -> None:
    client = lived_in[0].test_client()
    found = {name: values["home"] for name, values in scraped(client).items() if values}
    now = client.get(f"{BASE}/now").get_json()
    fit = client.get(f"{BASE}/model").get_json()["fit"]

    assert found == pytest.approx(
        {
            "forecast_valid": 1.0,
            "level_ratio": now["level_pct"] / 100,
            "usable_heat_joules": now["usable_mj"] * 1e6,
            "tomorrow_budget_cubic_meters": now["tomorrow_budget_m3"],
            "tomorrow_budget_q10_cubic_meters": now["tomorrow_budget_q10_m3"],
            "tomorrow_need_cubic_meters": now["tomorrow_need_m3"],
            "tomorrow_cover_ratio": now["tomorrow_cover_probability"],
            "signs": now["signs_count"],
            "reading_age_seconds": (NOW - datetime.fromisoformat(now["last_reading_at"])).total_seconds(),
            "fit_age_seconds": (NOW - datetime.fromisoformat(fit["made_as_of"])).total_seconds(),
            **{
                name: now[field] * 86_400
                for name, field in (
                    ("holder_lasts_seconds", "days_left"),
                    ("backup_needed_in_seconds", "days_until_backup"),
                )
                if now[field] is not None
            },
        }
    )


def test_the_poll_is_flat_and_agrees_with_the_answers_it_sums_up(lived_in: tuple[Flask, Wiring]) -> None:
    client = lived_in[0].test_client()
    now, budget, backup = (client.get(f"{BASE}/{path}").get_json() for path in ("now", "gas-budget", "backup"))

    assert not [name for name, value in now.items() if isinstance(value, dict | list)]
    assert now["tomorrow_flame_min"] == budget["flame_min"]
    assert now["tomorrow_cover_probability"] == budget["cover_probability"]
    assert (now["days_until_backup"], now["order_by_date"]) == (backup["days_until_backup"], backup["order_by_date"])


def test_what_is_not_known_has_no_sample(home: FlaskClient) -> None:
    found = scraped(home)

    assert {name for name, values in found.items() if values} == {"forecast_valid", "signs"}
    assert found["forecast_valid"] == {"home": 0.0}


def test_ages_grow_between_scrapes_and_no_scrape_fits_a_model(home: FlaskClient, wired: Wiring, clock: Clock) -> None:
    assert home.post(f"{BASE}/readings", json=reading("holder_level", 50, "%", NOW)).status_code == 201
    first = scraped(home)
    clock.now = NOW.replace(minute=59)
    second = scraped(home)

    assert first["reading_age_seconds"] == {"home": 0.0}
    assert second["reading_age_seconds"] == {"home": 29 * 60.0}
    assert first["level_ratio"] == second["level_ratio"]
    assert second["fit_age_seconds"] == {}
    assert (wired.fits.history("home"), wired.fits.requests("home")) == ([], [])


def test_a_token_sees_its_own_households_figures(home: FlaskClient, wired: Wiring) -> None:
    assert home.put("/v1/households/other", json=DESCRIPTION).status_code == 201
    assert set(scraped(home)["forecast_valid"]) == {"home", "other"}
    for secret, household in (("one", "home"), ("all", None)):
        wired.tokens.add(household, "read", token_hash(secret), now=NOW)
    one, every = ({"Authorization": f"Bearer {secret}"} for secret in ("one", "all"))

    assert home.get("/metrics").status_code == 401
    assert set(scraped(home, headers=one)["forecast_valid"]) == {"home"}
    assert set(scraped(home, headers=every)["forecast_valid"]) == {"home", "other"}
    assert set(scraped(home, f"{BASE}/metrics", one)["signs"]) == {"home"}
    assert home.get("/v1/households/other/metrics", headers=one).status_code == 403
    assert home.get("/v1/households/nobody/metrics", headers=every).status_code == 404


def test_a_household_that_cannot_be_computed_hides_no_other(home: FlaskClient, wired: Wiring) -> None:
    # Stored before its description would have been refused.
    broken = {**DESCRIPTION, "burners": [{**DESCRIPTION["burners"][0], "name": "other ring"}]}
    wired.homes.put("broken", broken)
    wired.homes.put_meal("broken", "dinner", home.get(f"{BASE}/meals/dinner").get_json())
    found = scraped(home)

    assert found["forecast_valid"] == {"home": 0.0, "broken": 0.0}
    assert found["signs"] == {"home": 0.0}


def test_names_that_need_escaping_come_back_as_they_are(home: FlaskClient) -> None:
    name = "d'été - ужин"
    assert home.put(f"/v1/households/{name}", json=DESCRIPTION).status_code == 201

    assert name in scraped(home)["forecast_valid"]


def test_the_example_is_as_the_standard_has_it() -> None:
    assert parsed(METRICS)["level_ratio"] == {"home": 0.476}

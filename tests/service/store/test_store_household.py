"""Descriptions and schedules, and the versions that answers are kept by."""

from __future__ import annotations

import pytest

from service.store.errors import NotFound, PreconditionFailed, PreconditionMissing
from service.store.household import HouseholdStore


def test_a_description_comes_back_as_it_was_put(homes: HouseholdStore) -> None:
    stored, created = homes.put("cabin", {"label": "Hütte", "care_level": 0.1})

    assert created
    assert homes.get("cabin") == stored
    assert stored.document == {"label": "Hütte", "care_level": 0.1}
    assert homes.names() == ["cabin", "home"]


def test_an_unknown_household_is_refused_by_name(homes: HouseholdStore) -> None:
    for ask in (homes.get, homes.meals, homes.overrides, homes.weather):
        with pytest.raises(NotFound, match="there is no household 'nowhere'"):
            ask("nowhere")
    assert homes.version("nowhere") is None


def test_a_description_is_replaced_only_by_who_has_read_it(homes: HouseholdStore) -> None:
    first = homes.get("home")
    with pytest.raises(PreconditionMissing):
        homes.put("home", {"label": "blind"})
    second, created = homes.put("home", {"label": "seen"}, if_match=first.etag)
    with pytest.raises(PreconditionFailed):
        homes.put("home", {"label": "stale"}, if_match=first.etag)
    with pytest.raises(PreconditionFailed):
        homes.put("nowhere", {"label": "guess"}, if_match=first.etag)

    assert not created
    assert homes.get("home") == second
    assert homes.put("home", {"label": "anything"}, if_match="*")[0].document == {"label": "anything"}


def test_every_write_makes_a_new_version_and_reading_makes_none(homes: HouseholdStore) -> None:
    versions = [homes.version("home")]
    for write in (
        lambda: homes.put("home", {"label": "changed"}, if_match="*"),
        lambda: homes.put_meal("home", "dinner", {"name": "dinner"}),
        lambda: homes.delete_meal("home", "dinner", if_match="*"),
        lambda: homes.put_override("home", "one", {"skip": True}),
        lambda: homes.delete_override("home", "one"),
        lambda: homes.put_weather("home", [{"date": "2025-11-26", "mean_c": 9}]),
    ):
        write()
        versions.append(homes.version("home"))
    homes.get("home"), homes.meals("home"), homes.weather("home")

    assert versions == list(range(versions[0], versions[0] + 7))
    assert homes.version("home") == versions[-1]


def test_putting_the_same_description_again_changes_nothing(homes: HouseholdStore) -> None:
    before = homes.version("home")
    homes.put("home", homes.get("home").document, if_match="*")

    assert homes.version("home") == before


def test_a_household_described_anew_never_repeats_a_version(homes: HouseholdStore) -> None:
    old = homes.version("home")
    homes.put_meal("home", "dinner", {"name": "dinner"})
    homes.delete("home", if_match="*")
    assert homes.version("home") is None
    homes.put("home", {"label": "anew"})

    assert homes.version("home") > old + 1
    assert homes.meals("home") == []


def test_meals_keep_the_order_in_which_they_were_described(homes: HouseholdStore) -> None:
    for name in ("tea", "dinner", "breakfast"):
        homes.put_meal("home", name, {"name": name})
    dinner = homes.get_meal("home", "dinner")
    homes.put_meal("home", "dinner", {"name": "dinner", "flame_min": 20}, if_match=dinner.etag)

    assert [meal["name"] for meal in homes.meals("home")] == ["tea", "dinner", "breakfast"]
    with pytest.raises(PreconditionMissing):
        homes.put_meal("home", "dinner", {"name": "dinner"})
    with pytest.raises(PreconditionMissing):
        homes.delete_meal("home", "dinner", if_match=None)
    homes.delete_meal("home", "tea", if_match=homes.get_meal("home", "tea").etag)
    with pytest.raises(NotFound, match="there is no meal 'tea'"):
        homes.get_meal("home", "tea")


def test_a_change_may_be_put_again_without_having_been_read(homes: HouseholdStore) -> None:
    assert homes.put_override("home", "roast", {"factor": 1.6})[1]
    assert not homes.put_override("home", "roast", {"factor": 1.8})[1]

    assert homes.get_override("home", "roast").document == {"factor": 1.8}
    with pytest.raises(NotFound, match="there is no override 'feast'"):
        homes.delete_override("home", "feast")


def test_posted_weather_replaces_the_one_before(homes: HouseholdStore) -> None:
    assert homes.weather("home") is None
    for mean_c in (9, 10):
        homes.put_weather("home", [{"date": "2025-11-26", "mean_c": mean_c}])

    assert homes.weather("home") == [{"date": "2025-11-26", "mean_c": 10}]


def test_households_do_not_see_one_another(homes: HouseholdStore) -> None:
    homes.put("cabin", {})
    homes.put_meal("cabin", "dinner", {"name": "dinner"})

    assert homes.meals("home") == []

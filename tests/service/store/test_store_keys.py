"""Calendar keys: each opens one household's calendar, until it is revoked or the household is gone."""

from __future__ import annotations

from datetime import datetime

import pytest

from service.store.database import Database
from service.store.errors import NotFound
from service.store.household import HouseholdStore
from service.store.keys import KeyStore


@pytest.fixture
def keys(database: Database, homes: HouseholdStore) -> KeyStore:
    homes.put("other", {"label": "Another invented cottage"})
    return KeyStore(database)


def test_a_key_opens_its_household_and_no_other(keys: KeyStore, now: datetime) -> None:
    keys.add("home", "h1", now=now)
    keys.add("other", "h2", now=now)

    assert (keys.household("h1"), keys.household("h2"), keys.household("h3")) == ("home", "other", None)


def test_all_keys_of_a_household_are_revoked_together_and_those_of_others_stay(keys: KeyStore, now: datetime) -> None:
    for name, hash in (("home", "h1"), ("home", "h2"), ("other", "h3")):
        keys.add(name, hash, now=now)

    assert keys.revoke("home", now=now) == 2
    assert keys.revoke("home", now=now) == 0
    assert (keys.household("h1"), keys.household("h2"), keys.household("h3")) == (None, None, "other")
    assert (keys.any("home"), keys.any("other")) == (False, True)


def test_a_household_that_is_gone_takes_its_keys_along(keys: KeyStore, homes: HouseholdStore, now: datetime) -> None:
    keys.add("home", "h1", now=now)
    homes.delete("home", if_match="*")
    homes.put("home", {"label": "Somebody else's"})

    assert keys.household("h1") is None
    assert not keys.any("home")


def test_a_key_of_nobody_is_refused(keys: KeyStore, now: datetime) -> None:
    with pytest.raises(NotFound, match="no household 'nobody'"):
        keys.add("nobody", "h1", now=now)
    with pytest.raises(NotFound, match="no household 'nobody'"):
        keys.revoke("nobody", now=now)

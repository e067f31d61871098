"""Settings are declared once, documented, and read strictly."""

from __future__ import annotations

from dataclasses import fields
from pathlib import Path

import pytest

from service.settings import BadSetting, Settings, read_settings

ROOT = Path(__file__).parents[2]


def test_every_setting_is_in_the_contributors_guide() -> None:
    guide = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")

    missing = [one.name for one in fields(Settings) if f"`KETTLECAST_{one.name.upper()}`" not in guide]

    assert missing == []


def test_an_unknown_setting_is_refused_by_name() -> None:
    with pytest.raises(BadSetting, match="KETTLECAST_DATABSE is no setting"):
        read_settings({"KETTLECAST_DATABSE": "x.sqlite"})


def test_a_setting_of_the_wrong_type_says_what_it_must_be() -> None:
    with pytest.raises(BadSetting, match="KETTLECAST_WORKERS is 'two', must be a whole number"):
        read_settings({"KETTLECAST_WORKERS": "two"})


def test_settings_come_from_the_names_given_and_nothing_else() -> None:
    settings = read_settings({"KETTLECAST_WORKERS": "3", "HOME": "elsewhere"})

    assert settings.workers == 3
    assert settings.database == Settings().database

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


@pytest.mark.parametrize(
    "bind", ["nonsense", "host:port", ":", "99999", ":80:80", "127.0.0.1:", "127.0.0.1:99999", "a b:80", "[::1:80"]
)
def test_an_address_nobody_can_listen_on_is_refused(bind: str) -> None:
    with pytest.raises(BadSetting, match=r"must be host:port, such as 127\.0\.0\.1:8080"):
        Settings(bind=bind)


@pytest.mark.parametrize("bind", ["8331", ":8331"])
def test_a_port_alone_is_one_of_this_machine(bind: str) -> None:
    settings = Settings(bind=bind)

    assert settings.bind == "127.0.0.1:8331"
    assert settings.private


@pytest.mark.parametrize(
    ("bind", "private"), [("127.0.0.1:0", True), ("LocalHost:80", True), ("[::1]:80", True), ("10.0.0.2:80", False)]
)
def test_only_loopback_is_private(bind: str, private: bool) -> None:
    assert Settings(bind=bind).private is private


@pytest.mark.parametrize(("name", "value"), [("REFIT_HOUR", "24"), ("WORKERS", "0"), ("MAX_BODY_MB", "-1")])
def test_a_setting_out_of_its_range_says_the_range(name: str, value: str) -> None:
    with pytest.raises(BadSetting, match=f"{name.lower()} is {value}, must be"):
        read_settings({f"KETTLECAST_{name}": value})

"""The README's examples, taken from the file and run against the demonstration as it stands there."""

from __future__ import annotations

import json
import re
import shutil
import sqlite3
import subprocess
import sys
import urllib.request
from collections.abc import Iterator
from pathlib import Path

import pytest
import yaml
from click.testing import CliRunner
from icalendar import Calendar

from service.api.examples import DESCRIPTION
from service.app import create_app
from service.cli import main
from service.settings import Settings
from service.wiring import wire
from tests.acceptance.in_process import serving
from tests.conftest import DEMO_NOW
from tests.service.brokers import PASSWORD, USER, kept, running

README = (Path(__file__).parents[2] / "README.md").read_text(encoding="utf-8")
SHOWN = "http://127.0.0.1:8080"
"""Where the README says that the demonstration listens."""
BLOCKS = re.findall(r"^ *```(\w+)\n(.*?)^ *```$", README, flags=re.MULTILINE | re.DOTALL)
CURL = [
    " ".join(command.split())
    for language, text in BLOCKS
    if language == "sh"
    for command in re.findall(r"^ *(curl (?:'[^']*'|\\\n|[^'\n])*)$", text, flags=re.MULTILINE)
]
"""Each command, with what its quotes hold over several lines."""
COMMANDS = re.findall(r"^\.venv/bin/kettlecast ((?:publish|calendar-key) [^#\n]*)", README, flags=re.MULTILINE)


def of(language: str) -> list[str]:
    return [text for found, text in BLOCKS if found == language]


@pytest.fixture(scope="module")
def database(demo_database: Path, tmp_path_factory: pytest.TempPathFactory) -> str:
    """A copy of the demonstration's database, which examples may write to."""
    return str(shutil.copyfile(demo_database, tmp_path_factory.mktemp("readme") / "demo.sqlite"))


@pytest.fixture(scope="module")
def address(database: str) -> Iterator[str]:
    wired = wire(Settings(database=database), clock=lambda: DEMO_NOW)
    with serving(create_app(wired)) as found:
        yield found
    wired.database.close()


@pytest.fixture(scope="module")
def today(database: str) -> Iterator[str]:
    """The same served by the clock of this machine, for commands that say what time it is."""
    wired = wire(Settings(database=database))
    with serving(create_app(wired)) as found:
        yield found
    wired.database.close()


def test_each_kind_of_consumer_has_its_example() -> None:
    assert len(CURL) >= 7
    assert all(any(word in command for command in CURL) for word in ('"dishes"', '"factor"', '"from": "20'))
    assert (len(of("python")), len(of("yaml"))) == (1, 1)
    assert {command.split()[0] for command in COMMANDS} == {"publish", "calendar-key"}
    assert all(path in README for path in ("plan.ics", "days.csv", "/metrics"))


@pytest.mark.parametrize("commands", [CURL] if shutil.which("curl") else [])
def test_curl_is_answered(today: str, tmp_path: Path, commands: list[str]) -> None:
    # In the order of the text: a household is described before its meals are.
    (tmp_path / "home.json").write_text(json.dumps(DESCRIPTION))
    for command in commands:
        asked = command.replace(SHOWN, today).replace("\\ ", "").replace("curl ", "curl -sS --fail-with-body ", 1)
        done = subprocess.run(["bash", "-c", asked], cwd=tmp_path, capture_output=True, text=True)

        assert SHOWN in command
        assert done.returncode == 0, command + done.stdout + done.stderr
        assert json.loads(done.stdout)


def test_the_script_prints_tomorrow(address: str) -> None:
    (script,) = of("python")
    done = subprocess.run(
        [sys.executable, "-W", "error", "-c", script.replace(SHOWN, address)], capture_output=True, text=True
    )
    summary, *meals = done.stdout.splitlines()

    assert done.returncode == 0, done.stderr
    assert summary.startswith("Thursday 26 November: ")
    assert [line.split()[1] for line in meals] == ["breakfast", "lunch", "dinner"]
    assert all(line.split()[2] in ("gas", "tight", "backup") for line in meals)


def test_a_hub_finds_every_field_it_polls(address: str) -> None:
    (hub,) = map(yaml.safe_load, of("yaml"))
    with urllib.request.urlopen(hub["resource"].replace(SHOWN, address)) as answer:
        now = json.load(answer)

    assert now[hub["available_if"]] is True
    assert [one["field"] for one in hub["values"] if one["field"] not in now] == []
    for one in hub["values"]:
        suffix = {"%": "_pct", "min": "_min", "d": "days_"}.get(one.get("unit", ""), "")
        assert suffix in one["field"]


def test_every_address_in_the_text_is_answered(address: str) -> None:
    text = re.sub(r"^ *curl (?:.*\\\n)*.*$", "", README, flags=re.MULTILINE)
    found = set(re.findall(rf"{SHOWN}[^\s`'\")]*", text)) - {f"{SHOWN}:"}

    assert len(found) > 5
    for url in sorted(one.rstrip(":.,;") for one in found):
        with urllib.request.urlopen(url.replace(SHOWN, address)) as answer:
            assert answer.status == 200, url
            if "plan.ics" in url:
                assert len(Calendar.from_ical(answer.read()).walk("VEVENT")) > 30
            elif "days.csv" in url:
                assert answer.read().startswith(b"date,")


def test_commands_for_brokers_and_calendars_work(database: str, tmp_path: Path) -> None:
    said = {}
    with running("embedded", tmp_path) as port:
        for command in COMMANDS:
            asked = command.replace("home", "demo").replace(":1883", f":{port}").split()
            env = {"KETTLECAST_MQTT_USER": USER, "KETTLECAST_MQTT_PASSWORD": PASSWORD}
            done = CliRunner().invoke(main, ["--database", database, *asked], env=env)
            assert done.exit_code == 0, (command, done.output)
            said[command.split()[0]] = done.output

        topics = int(said["publish"].split()[0])
        now = json.loads(kept(port, "kettlecast/demo", at_least=topics)["kettlecast/demo/now"])
    with sqlite3.connect(database) as stored:
        keys = stored.execute("SELECT revoked_s IS NULL FROM calendar_key").fetchall()
    stored.close()

    assert now["time_zone"] == "America/Los_Angeles"
    assert keys == [(0,)]

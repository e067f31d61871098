"""The log on the command line."""

from __future__ import annotations

import json
import shlex
import zipfile
from dataclasses import replace
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from service.api.examples import DESCRIPTION
from service.cli import main
from service.readings import Filter
from service.settings import Settings
from service.wiring import wire

ROOT = Path(__file__).parents[2]
GOOD = "taken_at,quantity,value,unit\n2025-11-20T07:30,holder_level,62,%\n2025-11-20T08:00,feed,3,\n"


@pytest.fixture
def database(tmp_path: Path) -> Path:
    path = tmp_path / "kettlecast.sqlite"
    wired = wire(Settings(database=str(path)))
    for name in ("home", "cabin"):
        wired.homes.put(name, DESCRIPTION)
    wired.database.close()
    return path


def run(database: Path, *arguments: str | Path) -> Result:
    return CliRunner().invoke(main, ["--database", str(database), *map(str, arguments)])


def count(database: Path, name: str) -> int:
    return wire(Settings(database=str(database))).logs.count(name)


def test_a_file_is_planned_imported_and_undone(database: Path, tmp_path: Path) -> None:
    file = tmp_path / "log.csv"
    file.write_text(GOOD, encoding="utf-8")
    plan = run(database, "import", "home", file, "--dry-run")
    done = run(database, "import", "home", file)
    assert (plan.exit_code, done.exit_code) == (0, 0), done.output
    assert plan.output.splitlines() == [
        "line 2: would be added: 2025-11-20 07:30 holder_level 62 %",
        "line 3: would be added: 2025-11-20 08:00 feed 3 kg",
        "2 would be added, 0 unchanged, 0 in conflict, 0 refused",
    ]
    assert done.output.startswith("2 added, 0 unchanged")
    assert count(database, "home") == 2
    undo = done.output.rsplit("kettlecast ", 1)[1].split()
    assert undo[:2] == ["undo-import", "home"]
    undone = run(database, *undo)

    assert undone.exit_code == 0
    assert undone.output == "undone: 2 readings taken out\n"
    assert count(database, "home") == 0


def test_what_was_corrected_since_stays_and_is_counted(database: Path, tmp_path: Path) -> None:
    file = tmp_path / "log.csv"
    file.write_text(GOOD + "2025-11-21T08:00,feed,4,\n2025-11-22T08:00,feed,5,\n", encoding="utf-8")
    done = run(database, "import", "home", file)
    wired = wire(Settings(database=str(database)))
    now = wired.clock()
    level, feed, *_ = wired.logs.page("home", Filter(), limit=4)[0]
    wired.logs.put("home", replace(level, value=60.0), now=now)
    wired.logs.delete("home", feed.id, now=now)
    wired.database.close()
    undo = done.output.rsplit("kettlecast ", 1)[1].split()

    assert run(database, *undo).output == "undone: 2 readings taken out; 1 stays because it was corrected since\n"
    assert count(database, "home") == 1
    assert run(database, *undo).output == "undone: 0 readings taken out; 1 stays because it was corrected since\n"


def test_a_diary_is_told_row_by_row_with_its_columns(database: Path, tmp_path: Path) -> None:
    file = tmp_path / "diary.csv"
    file.write_text("day,gauge,scraps\n2025-11-20,62,2x6\n2025-11-21,64,3\n2025-11-21,64,4\n", encoding="utf-8")
    columns = json.dumps({"day": "date", "gauge": "holder_level:%@07:30", "scraps": "feed:kg@08:00"})
    plan = run(database, "import", "home", file, "--columns", columns, "--dry-run").output.splitlines()
    refused = run(database, "import", "home", file, "--columns", columns)

    assert plan[0] == "line 2: would be added: 2025-11-20 07:30 holder_level 62 %"
    assert plan[1].startswith("line 2, column 'scraps': refused: value is '2x6', must be a number")
    assert plan[4] == "line 4: unchanged: 2025-11-21 07:30 holder_level 64 %"
    assert plan[5].startswith("line 4, column 'scraps': conflict: an earlier row of this file says 3.0 kg")
    assert plan[6] == "3 would be added, 1 unchanged, 1 in conflict, 1 refused"
    assert plan[7] == "as it is, nothing would be kept: mend those rows, or keep the rest with --partial"
    assert refused.exit_code == 1
    assert "the first is line 2, column 'scraps': value is '2x6'" in refused.output
    assert "list them all with --dry-run, or keep the rest with --partial" in refused.output


def test_bad_rows_are_shown_and_the_command_fails_unless_the_rest_is_wanted(database: Path, tmp_path: Path) -> None:
    file = tmp_path / "log.csv"
    file.write_text(GOOD + "2025-11-21T07:30,feed,-3,\n", encoding="utf-8")
    refused = run(database, "import", "home", file)
    assert refused.exit_code == 1
    assert "line 4: value is -3, must be 0 to 10000 kg" in refused.output
    assert count(database, "home") == 0
    partly = run(database, "import", "home", file, "--partial")

    assert partly.exit_code == 0
    assert "value is -3" in partly.output
    assert "2 added, 0 unchanged, 0 in conflict, 1 refused" in partly.output


def test_a_diary_is_mapped_and_what_was_taken_for_granted_is_said(database: Path, tmp_path: Path) -> None:
    file = tmp_path / "diary.csv"
    file.write_text("date;scraps;mood\n03.04.2025;4,5;fine\n", encoding="utf-8")
    columns = json.dumps({"date": "date", "scraps": "feed"})
    ambiguous = run(database, "import", "home", file, "--columns", columns)
    done = run(database, "import", "home", file, "--columns", columns, "--date-order", "dmy")

    assert ambiguous.exit_code == 1
    assert "say --date-order dmy or --date-order mdy" in ambiguous.output
    assert done.exit_code == 0
    assert "note: column 'mood' is not mapped and was not read" in done.output
    assert "note: 1 rows have a date without a time of day" in done.output
    assert run(database, "import", "home", file, "--columns", "[").exit_code == 1


def test_the_diary_of_the_readme_is_read_as_the_readme_says(database: Path, tmp_path: Path) -> None:
    lines = [line.strip() for line in (ROOT / "README.md").read_text(encoding="utf-8").splitlines()]
    start = lines.index("day;gauge;dinner;scraps;remarks")
    file = tmp_path / "diary.csv"
    file.write_text("\n".join(lines[start : lines.index("```", start)]), encoding="utf-8")
    first = next(k for k, line in enumerate(lines) if line.startswith(".venv/bin/kettlecast import home diary.csv"))
    said = shlex.split(" ".join(lines[first : lines.index("```", first)]))
    done = run(database, "import", "home", file, *said[said.index("--columns") :])

    assert done.output.startswith("5 added, 0 unchanged, 0 in conflict, 0 refused"), done.output
    assert "note:" not in done.output


@pytest.mark.parametrize("name", ["log.csv", "log.zip"])
def test_what_is_exported_is_imported_by_another_household(database: Path, tmp_path: Path, name: str) -> None:
    file, out = tmp_path / "in.csv", tmp_path / name
    file.write_text(GOOD, encoding="utf-8")
    run(database, "import", "home", file)
    exported = run(database, "export", "home", out)
    assert exported.exit_code == 0, exported.output
    if name.endswith(".zip"):
        with zipfile.ZipFile(out) as package:
            out = Path(package.extract("readings.csv", tmp_path))

    assert run(database, "import", "cabin", out).output.startswith("2 added")


def test_an_unknown_household_is_a_message_and_not_a_traceback(database: Path, tmp_path: Path) -> None:
    file = tmp_path / "log.csv"
    file.write_text(GOOD, encoding="utf-8")
    for command in (
        ("import", "nowhere", file),
        ("export", "nowhere", tmp_path / "out.csv"),
        ("undo-import", "home", "x"),
    ):
        answer = run(database, *command)
        assert answer.exit_code == 1
        assert "Error: there is no" in answer.output

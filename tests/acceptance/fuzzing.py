"""The contract tried by machine against the real server: every operation, every check, thousands of requests.

    .venv/bin/python -m tests.acceptance.fuzzing --max-examples 60 --seed 1

Serves a household with two workers and lets schemathesis ask, as the contract allows and as it does not; ends with 1
where one check of one answer fails. `--token` makes a token first, so that answers to none are tried too.
"""

from __future__ import annotations

import argparse
import os
import re
import subprocess
import sys
import tempfile
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

from service.api.examples import DESCRIPTION, MEAL, OVERRIDE
from service.api.guard import token_hash
from service.api.illustrations import PATH
from service.settings import Settings
from service.wiring import system_clock, wire
from tests.acceptance.serving import ask, free_port, served

ROOT = Path(__file__).parents[2]
BASE = "/v1/households/home"
SECRET = "the-secret-of-a-test"
GENERATED = re.compile(r"([\d,]+) generated")
# All else that a path names is found by the links and examples of the contract, as any client would find it.
# What a schema cannot say is told by these: preconditions, conflicts, physics; for 400 see `fuzzing_checks`.
CONFIG = """\
hooks = "tests.acceptance.fuzzing_checks"

[parameters]
"path.household" = "home"

[checks.positive_data_acceptance]
expected-statuses = ["2xx", "400", "401", "403", "404", "409", "412", "422", "428"]

[checks.missing_required_header]
expected-statuses = ["401", "403", "404", "428"]

[checks.negative_data_rejection]
expected-statuses = ["400", "401", "403", "404", "405", "409", "411", "413", "414", "415", "422", "428"]
"""


@dataclass(frozen=True)
class Outcome:
    """How a run ended: its exit code, how many requests it made, and all it said."""

    code: int
    cases: int
    said: str


def settle(port: int, headers: dict[str, str]) -> None:
    """Describe a household and use it a little, by the names that the contract shows."""
    meal, override, reading = (PATH[part][1] for part in ("meal", "override", "reading_id"))

    def put(method: str, path: str, document: object) -> object:
        status, answer = ask(port, method, f"{BASE}{path}", document, headers)
        assert status in (200, 201), answer
        return answer

    put("PUT", "", DESCRIPTION)
    put("PUT", f"/meals/{meal}", MEAL)
    put("PUT", f"/overrides/{override}", {name: OVERRIDE[name] for name in ("date", "meal", "factor")})
    now = datetime.now(UTC).isoformat()
    put("PUT", f"/readings/{reading}", {"taken_at": now, "quantity": "holder_level", "value": 50, "unit": "%"})
    put("GET", "/gas-budget?date=tomorrow", None)


def fuzz(*asked: str, token: bool = False) -> Outcome:
    """Serve, and run schemathesis with these options."""
    with tempfile.TemporaryDirectory() as folder:
        database, port = Path(folder) / "fuzz.sqlite", free_port()
        headers = {"Authorization": f"Bearer {SECRET}"} if token else {}
        if token:
            wired = wire(Settings(database=str(database)))
            wired.tokens.add(None, "write", token_hash(SECRET), now=system_clock())
            wired.database.close()
        with served(database, port, workers=2):
            config = Path(folder) / "schemathesis.toml"
            config.write_text(CONFIG, encoding="utf-8")
            settle(port, headers)
            command = [sys.executable, "-m", "schemathesis.cli", "--config-file", str(config), "run"]
            command += [
                f"http://127.0.0.1:{port}/openapi.json",
                "--checks",
                "all",
                "--request-timeout",
                "60",
                "--no-color",
                *asked,
            ]
            command += [part for name, value in headers.items() for part in ("-H", f"{name}: {value}")]
            run = subprocess.run(
                command, cwd=ROOT, env={**os.environ, "PYTHONPATH": str(ROOT)}, capture_output=True, text=True
            )
    made = GENERATED.search(run.stdout)
    return Outcome(
        code=run.returncode, cases=int(made[1].replace(",", "")) if made else 0, said=run.stdout + run.stderr
    )


def main() -> None:
    """Fuzz, and say what came of it."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--token", action="store_true")
    asked, others = parser.parse_known_args()
    outcome = fuzz("--continue-on-failure", *others, token=asked.token)
    print(outcome.said)
    print(f"requests: {outcome.cases}")
    sys.exit(outcome.code)


if __name__ == "__main__":
    main()

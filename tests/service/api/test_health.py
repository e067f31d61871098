"""Whether the service can answer: 200 while it reaches its database, 503 and when to ask again where it does not."""

from __future__ import annotations

from pathlib import Path

import pytest
from flask.testing import FlaskClient
from werkzeug.test import TestResponse

from service.wiring import Wiring
from tests.service.api.support import BASE, faults

READY = "/health/ready"


def file_of(wired: Wiring) -> Path:
    return Path(wired.database.engine.url.database or "")


def spoil(wired: Wiring, content: bytes) -> None:
    """Put something else in the place of the database's file, and let go of the one that was open."""
    wired.database.close()
    for beside in ("-wal", "-shm"):
        file_of(wired).with_name(file_of(wired).name + beside).unlink(missing_ok=True)
    file_of(wired).write_bytes(content)


def assert_unreachable(answer: TestResponse) -> None:
    assert answer.status_code == 503
    assert int(answer.headers["Retry-After"]) > 0
    assert faults(answer) == {}
    assert answer.get_json()["type"] == "/problems/unreachable"


@pytest.mark.parametrize("content", [b"no database" * 500, b"", b"SQLite format 3\x00" + bytes(4080)])
def test_a_database_that_is_none_is_told(
    home: FlaskClient, wired: Wiring, content: bytes, caplog: pytest.LogCaptureFixture
) -> None:
    kept = home.get(BASE)
    whole = file_of(wired).read_bytes() if wired.database.close() is None else b""
    spoil(wired, content)
    broken = home.get(READY)
    alive = home.get("/health/live")
    spoil(wired, whole)

    assert_unreachable(broken)
    assert "the database cannot be reached" in caplog.text
    assert alive.get_json() == {"state": "alive"}
    assert home.get(READY).get_json() == {"state": "ready"}
    assert home.get(BASE).data == kept.data


def test_a_database_whose_connections_fail_is_told(home: FlaskClient, wired: Wiring, tmp_path: Path) -> None:
    whole = file_of(wired)
    wired.database.close()
    whole.rename(tmp_path / "elsewhere")
    whole.mkdir()
    broken = home.get(READY)
    whole.rmdir()
    (tmp_path / "elsewhere").rename(whole)

    assert_unreachable(broken)
    assert home.get(READY).status_code == 200


def test_damage_in_the_midst_of_the_file_is_told_while_it_is_open(home: FlaskClient, wired: Wiring) -> None:
    wired.database.close()
    whole = file_of(wired).read_bytes()
    file_of(wired).write_bytes(whole[:100] + bytes(len(whole) - 100))

    assert_unreachable(home.get(READY))

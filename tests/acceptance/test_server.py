"""The server as a process: it ends cleanly, and what it says is JSON that opens nothing."""

from __future__ import annotations

import json
import os
import signal
import threading
from pathlib import Path

import pytest

from service.api.examples import DESCRIPTION
from service.api.guard import token_hash
from service.readings import Filter
from service.settings import Settings
from service.store.maintenance import NotPossible, back_up, restore
from service.wiring import system_clock, wire
from tests.acceptance.serving import WITHIN_S, ask, children_of, free_port, log_of, served, wait_until

BASE = "/v1/households/home"
IN_FLIGHT = 6
STARTED = "the fitting process looks after the households"


def lines(database: Path) -> list[dict[str, object]]:
    return [json.loads(line) for line in log_of(database).read_text(encoding="utf-8").splitlines()]


def messages(database: Path) -> list[object]:
    return [line["message"] for line in lines(database)]


def test_a_server_that_is_told_to_stop_answers_what_it_was_asked_and_leaves_no_process(tmp_path: Path) -> None:
    database, port = tmp_path / "stopped.sqlite", free_port()
    answers: list[int] = []
    with served(database, port, workers=1) as process:
        assert ask(port, "PUT", BASE, DESCRIPTION)[0] == 201
        reading = {"taken_at": "2026-01-05T08:00:00Z", "quantity": "holder_level", "value": 50.0, "unit": "%"}
        assert ask(port, "POST", f"{BASE}/readings", reading)[0] == 201
        wait_until(lambda: STARTED in messages(database), "the fitting process was not started")
        children = children_of(process)

        def question(day: int) -> None:  # each as of another day, so that each takes its time
            answers.append(ask(port, "GET", f"{BASE}/forecast?days=14&as_of=2026-01-{day:02d}T09:00:00Z")[0])

        asking = [threading.Thread(target=question, args=(6 + k,)) for k in range(IN_FLIGHT)]
        for thread in asking:
            thread.start()
        wait_until(lambda: bool(answers), "nothing was answered")
        os.kill(process.pid, signal.SIGTERM)
        for thread in asking:
            thread.join(WITHIN_S)
        process.join(WITHIN_S)

    assert answers == [200] * IN_FLIGHT
    assert process.exitcode == 0
    assert sorted(children.values()) == ["fitter", "worker"]
    assert not any(Path(f"/proc/{pid}").exists() for pid in children)
    assert "the fitting process was told to stop" in messages(database)


def test_what_the_server_says_is_one_json_object_a_line_and_holds_no_secret(tmp_path: Path) -> None:
    database, port = tmp_path / "told.sqlite", free_port()
    wired = wire(Settings(database=str(database)))
    wired.tokens.add(None, "write", token_hash("a-very-secret-token"), now=wired.clock())
    wired.database.close()
    secret = {"Authorization": "Bearer a-very-secret-token"}
    with served(database, port) as process:
        assert ask(port, "PUT", "/v1/households/kitchen%20%C3%A9", DESCRIPTION, secret)[0] == 201
        assert (
            ask(port, "GET", f"{BASE}?key=another-secret", headers={"Authorization": "Bearer guessed-token"})[0] == 401
        )
        wait_until(lambda: sum(line["message"] == "request" for line in lines(database)) >= 3, "requests were not told")
        os.kill(process.pid, signal.SIGTERM)
        process.join(WITHIN_S)

    told = lines(database)
    requests = [line for line in told if line["message"] == "request" and line["method"] != "HEAD"]
    assert all({"time", "level", "logger", "process", "message"} <= line.keys() for line in told)
    # Two workers tell of their requests when each comes to it, in either order.
    told_of = {line["path"]: line["status"] for line in requests[-2:]}
    assert told_of == {"/v1/households/kitchen é": 201, BASE: 401}
    assert all(line["duration_ms"] >= 0.0 for line in requests)
    text = log_of(database).read_text(encoding="utf-8")
    assert "secret" not in text
    assert "guessed" not in text
    assert token_hash("a-very-secret-token") not in text


def test_a_database_that_is_served_is_copied_meanwhile_and_not_replaced(tmp_path: Path) -> None:
    database, copy, port = tmp_path / "served.sqlite", tmp_path / "copy.sqlite", free_port()
    acknowledged: list[str] = []
    with served(database, port, workers=2) as process:
        assert ask(port, "PUT", BASE, DESCRIPTION)[0] == 201
        enough = threading.Event()

        def write() -> None:
            for k in range(100_000):
                if enough.is_set():
                    return
                reading = {"taken_at": f"2026-01-05T{k // 3600:02d}:{k // 60 % 60:02d}:{k % 60:02d}Z", "value": 1.0}
                answer = ask(port, "POST", f"{BASE}/readings", {**reading, "quantity": "feed", "item": "scraps"})
                acknowledged.append(str(answer[1]["id"]))

        writing = threading.Thread(target=write)
        writing.start()
        wait_until(lambda: len(acknowledged) > 30, "nothing was written")
        before = list(acknowledged)
        back_up(database, copy)
        wait_until(lambda: len(acknowledged) > len(before) + 30, "writing came to an end")
        with pytest.raises(NotPossible, match="is in use"):
            restore(copy, database, now=system_clock())
        enough.set()
        writing.join(WITHIN_S)
        os.kill(process.pid, signal.SIGTERM)
        process.join(WITHIN_S)
    restore(copy, tmp_path / "new.sqlite", now=system_clock())
    wired = wire(Settings(database=str(tmp_path / "new.sqlite")))
    kept, _ = wired.logs.page("home", Filter(), limit=10_000)
    wired.database.close()

    assert set(before) <= {reading.id for reading in kept} <= set(acknowledged)

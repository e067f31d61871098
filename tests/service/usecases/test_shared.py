"""Processes that share results: one works out, the others take it over, and none waits for one that was killed."""

from __future__ import annotations

import json
import os
import pickle
import resource
import signal
import subprocess
import sys
import threading
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from models.outlook import Outlook
from service.api.asking import places_of
from service.api.examples import DESCRIPTION, MEAL
from service.readings import Reading
from service.settings import Settings
from service.usecases.outlook import Moment, OutlookCache, Question, issue
from service.usecases.shared import Shared, files_in_memory
from service.wiring import wire

WITHIN_S = 30.0

pytestmark = pytest.mark.skipif(not files_in_memory(), reason="the system has no files without a name")


def process_that_makes(made: str, files: tuple[int, ...]) -> subprocess.Popen[str]:
    """Another process that asks for `("a",)`; `made` is what it makes, as Python."""
    code = (
        f"import sys, time; from service.usecases.shared import Shared; Shared({files}).get(('a',), {made}, place='a')"
    )
    command = [sys.executable, "-c", code]
    return subprocess.Popen(command, pass_fds=files, stdout=subprocess.PIPE, text=True)


def refuse() -> str:
    raise AssertionError("it was there already")


def test_what_one_process_made_the_others_take_over() -> None:
    files = files_in_memory()
    with process_that_makes("lambda: [0.1, 'b']", files) as process:
        assert process.wait(WITHIN_S) == 0

    assert Shared(files).get(("a",), refuse, place="a") == [0.1, "b"]


def test_who_asks_while_it_is_made_waits_for_it() -> None:
    files, made = files_in_memory(), list[str]()
    begun, go_on = threading.Event(), threading.Event()

    def slow() -> str:
        begun.set()
        assert go_on.wait(WITHIN_S)
        made.append("slow")
        return "slow"

    first = threading.Thread(target=lambda: Shared(files).get(("a",), slow, place="a"))
    second = threading.Thread(target=lambda: made.append(Shared(files).get(("a",), refuse, place="a") + ", again"))
    first.start()
    assert begun.wait(WITHIN_S)
    second.start()
    second.join(0.2)
    assert second.is_alive()
    go_on.set()
    for thread in (first, second):
        thread.join(WITHIN_S)

    assert made == ["slow", "slow, again"]


def test_who_has_waited_long_enough_makes_it(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("service.usecases.shared.PATIENCE_S", 0.05)
    files = files_in_memory()
    with process_that_makes("lambda: print('begun', flush=True) or time.sleep(600)", files) as process:
        assert process.stdout is not None
        assert process.stdout.readline() == "begun\n"
        os.kill(process.pid, signal.SIGSTOP)
        made = Shared(files).get(("a",), lambda: "made", place="a")
        process.kill()

    assert made == "made"


def test_what_there_is_no_room_for_is_made_by_each() -> None:
    shared, limits = Shared(files_in_memory()), resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (0, limits[1]))
    try:
        first = shared.get(("a",), lambda: "made", place="a")
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, limits)

    assert first == "made"
    assert shared.get(("a",), lambda: "made again", place="a") == "made again"


def test_of_a_place_the_latest_is_kept() -> None:
    shared = Shared(files_in_memory())

    told = [shared.get(key, lambda key=key: f"made {key}", place="a") for key in ((1,), (2,), (1,))]

    assert told == ["made (1,)", "made (2,)", "made (1,)"]
    assert shared.get((1,), refuse, place="a") == "made (1,)"


def test_what_could_not_be_made_is_tried_again() -> None:
    shared = Shared(files_in_memory())
    with pytest.raises(AssertionError, match="there already"):
        shared.get(("a",), refuse, place="a")

    assert shared.get(("a",), lambda: "made", place="a") == "made"


def test_a_process_that_is_killed_leaves_its_turn_to_the_next() -> None:
    files = files_in_memory()
    with process_that_makes("lambda: print('begun', flush=True) or time.sleep(600)", files) as process:
        assert process.stdout is not None
        assert process.stdout.readline() == "begun\n"
        process.kill()

    assert Shared(files).get(("a",), lambda: "made", place="a") == "made"


@pytest.mark.parametrize("share", [0.0, 0.1, 0.5, 0.999])
def test_what_was_half_written_is_made_anew(share: float) -> None:
    whole = b"".join(pickle.dumps(part, protocol=pickle.HIGHEST_PROTOCOL) for part in (("a",), np.arange(1000.0)))
    files = files_in_memory()
    for number in files:
        os.write(number, whole[: int(share * len(whole))])

    assert Shared(files).get(("a",), lambda: "made", place="a") == "made"
    assert Shared(files).get(("a",), refuse, place="a") == "made"


def test_where_the_system_has_no_such_files_everybody_makes_their_own(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("service.usecases.shared.OPEN_FILES", Path("nowhere"))
    alone = Shared(files_in_memory())

    made = [alone.get(("a",), object, place="a") for _ in range(2)]

    assert made[0] is not made[1]


def render(outlook: Outlook, _: Moment, __: bytes | None) -> bytes:
    assert outlook.told is not None
    return json.dumps({"mean_m3": outlook.told.run.level_sm3.mean(axis=0).tolist()}).encode()


def test_a_process_answers_from_the_outlook_of_another_to_the_last_bit(tmp_path: Path) -> None:
    wired = wire(Settings(database=str(tmp_path / "shared.sqlite")), shared=Shared(files_in_memory()))
    now = wired.clock()
    wired.homes.put("home", DESCRIPTION)
    wired.homes.put_meal("home", "dinner", MEAL)
    at_s = int(now.timestamp()) - 3600
    wired.logs.add("home", [Reading(quantity="holder_level", value=0.3, unit="m3", taken_s=at_s, recorded_s=at_s)])
    places = places_of(wired)
    first = issue(Question(household="home", kind="first"), places=places, now=now, render=render)
    unread = replace(places, outlooks=OutlookCache(), logs=None)  # who worked it out again would read the log
    second = issue(Question(household="home", kind="second"), places=unread, now=now, render=render)
    wired.database.close()

    assert second.body == first.body

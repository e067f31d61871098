"""How long `kettlecast import` takes over a long log, and how much memory, in a process of its own.

    .venv/bin/pytest tests/benchmarks/test_bench_import.py --benchmark-enable -s

Without `--benchmark-enable` a short log goes the same way, so that the benchmark itself does not rot.
"""

from __future__ import annotations

import os
import subprocess
import sys
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from pytest_benchmark.fixture import BenchmarkFixture

from service.api.examples import DESCRIPTION
from service.settings import Settings
from service.wiring import wire

SHORTER = 200
MOST_MB = 400.0
KB_PER_MB = 1024.0
SOME = (
    "holder_level,{:.0f},%,,,,",
    "cooking,{:.0f},min,ring,80,dinner,",
    'feed,{:.1f},kg,kitchen scraps,,,"peel, bread"',
    "ambient_temperature,{:.1f},Cel,,,,",
)


def write_log(path: Path, rows: int) -> None:
    """A log with a reading every five minutes, ended in 2025."""
    start = datetime(2025, 1, 1, tzinfo=UTC) - timedelta(minutes=5 * rows)
    with path.open("w", encoding="utf-8") as out:
        out.write("taken_at,quantity,value,unit,item,flame_pct,meal,note\n")
        for k in range(rows):
            moment = (start + timedelta(minutes=5 * k)).strftime("%Y-%m-%dT%H:%M:%SZ")
            out.write(f"{moment},{SOME[k % len(SOME)].format(k % 60)}\n")


def import_in_a_process(database: Path, log: Path) -> tuple[str, float]:
    """What the command says, and the most memory it held at once. [MB]"""
    command = [sys.executable, "-m", "service.cli", "--database", str(database), "import", "home", str(log)]
    process = subprocess.Popen(command, stdout=subprocess.PIPE, text=True)
    assert process.stdout is not None
    said = process.stdout.read()
    process.stdout.close()
    _, status, usage = os.wait4(process.pid, 0)
    process.returncode = os.waitstatus_to_exitcode(status)
    assert process.returncode == 0, said
    return said, usage.ru_maxrss / KB_PER_MB


@pytest.mark.parametrize(("rows", "most_s"), [(100_000, 10.0), (1_000_000, 120.0)])
def test_a_long_log_is_imported_in_bounded_time_and_memory(
    benchmark: BenchmarkFixture, tmp_path: Path, rows: int, most_s: float
) -> None:
    rows = rows if benchmark.enabled else rows // SHORTER
    database, log = tmp_path / "long.sqlite", tmp_path / "long.csv"
    write_log(log, rows)
    wired = wire(Settings(database=str(database)))
    wired.homes.put("home", DESCRIPTION)
    wired.database.close()

    said, held_mb = benchmark.pedantic(import_in_a_process, args=(database, log), rounds=1)

    assert said.startswith(f"{rows} added, 0 unchanged, 0 in conflict, 0 refused")
    if benchmark.enabled:
        print(f"\n{rows} rows: {benchmark.stats.stats.max:.1f} s, {held_mb:.0f} MB")
        assert benchmark.stats.stats.max < most_s
        assert held_mb < MOST_MB

"""The demonstration: an invented household, its log imported and fitted, its questions answered and served."""

from __future__ import annotations

import io
import tempfile
from dataclasses import replace
from pathlib import Path
from typing import Any

from flask import Flask
from rich.console import Console

from service.app import create_app
from service.cli_log import import_with_progress
from service.demo.world import World, demo_world, to_csv
from service.listening import refuse_taken
from service.refitting import refit_now
from service.settings import Settings
from service.usecases import household as describing
from service.wiring import Wiring, wire

NAME = "demo"
BASE = f"/v1/households/{NAME}"
QUESTIONS = (
    ("How much gas is there now?", "now"),
    ("May I cook on gas tomorrow?", "gas-budget?date=tomorrow"),
    ("How long does the holder last?", "storage"),
    ("When must the bottle come out?", "backup"),
    ("How long does a pan of two litres take?", "boil-time?water_l=2&from_c=15"),
)


def show(settings: Settings, console: Console, *, serving: bool) -> None:
    """Run the demonstration in a folder of its own that is gone afterwards."""
    if serving:
        refuse_taken(settings.bind)
    with tempfile.TemporaryDirectory(prefix="kettlecast-demo-") as folder:
        settings = replace(settings, database=str(Path(folder) / "demo.sqlite"))
        wired = wire(settings)
        console.print("[bold]An invented household[/bold] with real weather; nobody's home and nobody's data.")
        with console.status("living through the years"):
            world = demo_world(wired.clock())
        move_in(world, wired, console)
        with console.status("fitting the production model"):
            outcome = refit_now(NAME, wired.clock(), wired)
        console.print(f"production model: {outcome.message}")
        answer(create_app(wired), settings, console)
        wired.database.close()
        if serving:
            from service.server import serve

            console.print("Serving; stop with Ctrl-C.")
            serve(settings)


def move_in(world: World, wired: Wiring, console: Console) -> None:
    """Describe the invented household and import its log, as a user would."""
    describing.describe(NAME, world.description, homes=wired.homes, if_match=None, now=wired.clock())
    for meal in world.meals:
        describing.plan_meal(NAME, meal, homes=wired.homes, if_match=None)
    for number, override in enumerate(world.overrides):
        describing.change_meals(NAME, f"change-{number}", override, homes=wired.homes)
    body = io.BytesIO(to_csv(world.readings).encode())
    report = import_with_progress(NAME, body, wired=wired, console=console)
    console.print(f"log: {report.summary}")


def answer(app: Flask, settings: Settings, console: Console) -> None:
    """Ask the five questions as any client would, and print what a cook reads first."""
    client = app.test_client()
    for question, path in QUESTIONS:
        body: dict[str, Any] = client.get(f"{BASE}/{path}").get_json()
        console.print(f"\n[bold]{question}[/bold]\n{body['summary']}", soft_wrap=True, highlight=False)
        console.print(f"[dim]http://{settings.bind}{BASE}/{path}[/dim]", soft_wrap=True, highlight=False)
    console.print(
        f"\nThe whole contract, to read and try: http://{settings.bind}/docs", soft_wrap=True, highlight=False
    )

"""The command line: serve, fit, import, export, and a demonstration that needs nothing else."""

from __future__ import annotations

import os
import sys
import tempfile
from dataclasses import replace
from datetime import datetime
from importlib.metadata import version
from pathlib import Path

import click
import yaml
from rich.console import Console
from rich.progress import Progress
from sqlalchemy.exc import ArgumentError, DatabaseError

from models.errors import ModelError
from service.api.contract import contract_of
from service.cli_calendar import calendar_key_command
from service.cli_database import opened
from service.cli_log import export_command, import_command, undo_import_command
from service.cli_publish import publish_command
from service.cli_store import backup_command, check_command, restore_command
from service.cli_token import token_commands
from service.documents import DocumentError
from service.settings import BadSetting, Settings, read_settings
from service.store.errors import StoreError
from service.wiring import wire

CONSOLE = Console()
NICENESS = 19  # who fits in the background gives way to who answers


class Refusing(click.Group):
    """A group whose commands end with one clear line where something is refused."""

    def invoke(self, ctx: click.Context) -> object:
        """Run a command; a refusal is a message, not a traceback."""
        try:
            return super().invoke(ctx)
        except (BadSetting, StoreError, DocumentError, ModelError, ModuleNotFoundError) as error:
            raise click.ClickException(str(error)) from error
        except (DatabaseError, ArgumentError) as error:
            named = "of that URL" if "://" in ctx.obj.database else repr(ctx.obj.database)  # a URL may hold a password
            raise click.ClickException(
                f"the database {named} cannot be used: {getattr(error, 'orig', error)}"
            ) from error


@click.group(cls=Refusing, context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(version("kettlecast"), prog_name="kettlecast")
@click.option("--database", help="SQLite file or database URL; left out: KETTLECAST_DATABASE.")
@click.pass_context
def main(ctx: click.Context, database: str | None) -> None:
    """Forecasts a home digester's gas, the meals it can cook and the backup fuel to keep in the house."""
    settings = read_settings()
    ctx.obj = replace(settings, database=database) if database else settings


@main.command()
@click.option("--bind", help="host:port to listen on, or a port of this machine; left out: KETTLECAST_BIND.")
@click.option("--workers", type=click.IntRange(1, 64), help="Server processes; left out: KETTLECAST_WORKERS.")
@click.pass_obj
def serve(settings: Settings, bind: str | None, workers: int | None) -> None:
    """Serve the API, and fit models in the background."""
    from service.server import NotSafe
    from service.server import serve as serve_forever

    settings = replace(settings, bind=bind or settings.bind, workers=workers or settings.workers)
    try:
        serve_forever(settings, announce=click.echo)
    except NotSafe as error:
        raise click.ClickException(str(error)) from error


@main.command()
@click.option("--serve/--no-serve", "serving", default=True, help="Go on serving after the answers are printed.")
@click.option("--bind", default="127.0.0.1:8080", show_default=True, help="Loopback host:port to serve on, or a port.")
def demo(serving: bool, bind: str) -> None:
    """Show what Kettlecast answers, for an invented household living through real weather."""
    from service.demo.show import show

    settings = Settings(bind=bind, log_level="warning")
    if not settings.private:
        raise click.BadParameter(f"{bind} can be reached from elsewhere; name a loopback address", param_hint="--bind")
    show(settings, CONSOLE, serving=serving)


@main.command()
@click.argument("household", required=False)
@click.option("--all", "every", is_flag=True, help="Every household.")
@click.option("--as-of", help="Fit on the readings up to this time stamp (RFC 3339); left out: now.")
@click.option("--watch", "watching", is_flag=True, help="Stay, and fit daily and when asked; `serve` starts this.")
@click.option("--parent", type=int, hidden=True, help="End when this process, which started this one, is gone.")
@click.pass_obj
def refit(
    settings: Settings, household: str | None, every: bool, as_of: str | None, watching: bool, parent: int | None
) -> None:
    """Fit the production model of HOUSEHOLD to its log."""
    from service.logs import configure
    from service.refitting import refit_now, watch

    wired = opened(settings)
    if watching:
        configure(settings.log_level)
        os.nice(NICENESS)
        watch(wired, parent=parent)
        return
    names = wired.homes.names() if every else [household] if household else []
    if not names:
        raise click.UsageError("name a household, or say --all")
    moment = _moment(as_of) if as_of else wired.clock()
    failed = False
    for name in names:
        with CONSOLE.status(f"fitting {name}"):
            outcome = refit_now(name, moment, wired)
        failed |= outcome.outcome == "failed"
        click.echo(f"{name}: {outcome.outcome}: {outcome.message}")
    sys.exit(1 if failed else 0)


def _moment(text: str) -> datetime:
    try:
        moment = datetime.fromisoformat(text)
    except ValueError:
        raise click.BadParameter(f"{text!r} is no time stamp such as 2026-11-26T06:00:00+00:00") from None
    if moment.tzinfo is None:
        raise click.BadParameter(f"{text!r} has no offset; write 2026-11-26T06:00:00+00:00 or ...Z")
    return moment


@main.command()
@click.argument("household")
@click.option("--days", default=90, show_default=True, type=click.IntRange(1, 4000), help="Days of log.")
@click.option(
    "--every", "every_d", default=3, show_default=True, type=click.IntRange(1, 90), help="Days between forecasts."
)
@click.option("--as-of", help="As if it were this time stamp (RFC 3339); left out: now.")
@click.pass_obj
def backtest(settings: Settings, household: str, days: int, every_d: int, as_of: str | None) -> None:
    """Forecast again from past days of HOUSEHOLD's log, and compare with what came."""
    from service.tables import skill_table
    from service.terminal import print_table
    from service.usecases import skill

    wired = opened(settings)
    asked = skill.Backtest(as_of=_moment(as_of) if as_of else wired.clock(), days=days, every_d=every_d)
    with Progress(console=CONSOLE, transient=True) as progress:
        task = progress.add_task("forecasting", total=None)
        errors = skill.backtest(
            household,
            asked,
            homes=wired.homes,
            logs=wired.logs,
            fits=wired.fits,
            progress=lambda done, total: progress.update(task, completed=done, total=total),
        )
    skill.keep_skill(household, errors, kept=wired.forecasts, now=wired.clock())
    answer = skill.skill_answer(household, days, homes=wired.homes, kept=wired.forecasts)
    print_table(skill_table(answer))


@main.command()
@click.option("--check", is_flag=True, help="Say whether openapi.yaml is up to date, and change nothing.")
@click.option("--output", type=click.Path(dir_okay=False, path_type=Path), default=Path("openapi.yaml"))
def openapi(check: bool, output: Path) -> None:
    """Write the contract, generated from the schemas, to openapi.yaml."""
    from service.app import create_app

    with tempfile.TemporaryDirectory() as folder:
        app = create_app(wire(Settings(database=str(Path(folder) / "contract.sqlite"))))
    text = yaml.safe_dump(contract_of(app.extensions["kettlecast.api"]), sort_keys=False, allow_unicode=True, width=110)
    if not check:
        output.write_text(text, encoding="utf-8")
    elif not output.exists() or output.read_text(encoding="utf-8") != text:
        raise click.ClickException(f"{output} is not what the code says; run: kettlecast openapi")
    click.echo(f"{output} {'is up to date' if check else 'written'}")


@main.command()
@click.argument("household", default="home")
@click.option("--days", default=7, show_default=True, type=click.IntRange(1, 14), help="Days after today.")
@click.option("--date", "day", help="One day only, meal by meal: today, tomorrow or a date.")
@click.pass_obj
def budget(settings: Settings, household: str, days: int, day: str | None) -> None:
    """Print the gas budgets of HOUSEHOLD's next days, or of one day."""
    from service.tables import budget_table, days_table
    from service.terminal import print_table

    wired = opened(settings)
    print_table(budget_table(wired, household, day) if day else days_table(wired, household, days))


main.add_command(calendar_key_command)
main.add_command(token_commands)
for one in (backup_command, restore_command, check_command):
    main.add_command(one)
main.add_command(publish_command)
main.add_command(import_command)
main.add_command(undo_import_command)
main.add_command(export_command)


if __name__ == "__main__":
    main()

"""The command that makes and revokes the key of a calendar."""

from __future__ import annotations

import secrets
from urllib.parse import quote

import click

from service.api.guard import token_hash
from service.cli_database import opened
from service.settings import ORIGIN, Settings


@click.command("calendar-key")
@click.argument("household")
@click.option(
    "--url", help="Where clients reach the server, such as https://kitchen.example; left out: KETTLECAST_BIND."
)
@click.option("--revoke", is_flag=True, help="Make every key of this calendar useless, for good.")
@click.pass_obj
def calendar_key_command(settings: Settings, household: str, url: str | None, revoke: bool) -> None:
    """Make a key of HOUSEHOLD's calendar, and print the address to subscribe to.

    The key opens the calendar and nothing else. It is printed once and stored only as a hash.
    """
    if url is not None and not ORIGIN.fullmatch(url.rstrip("/")):
        raise click.BadParameter(f"{url!r} must be as https://kitchen.example:8080", param_hint="--url")
    wired = opened(settings)
    if revoke:
        click.echo(f"revoked: {wired.keys.revoke(household, now=wired.clock())}")
        return
    secret = secrets.token_urlsafe(32)
    wired.keys.add(household, token_hash(secret), now=wired.clock())
    if url is None:
        click.echo(f"as seen on this machine, where the server listens on {settings.bind}; else say --url", err=True)
    click.echo(
        f"{(url or f'http://{settings.bind}').rstrip('/')}/v1/households/{quote(household)}/plan.ics?key={secret}"
    )

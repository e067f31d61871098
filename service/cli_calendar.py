"""The command that makes and revokes the key of a calendar."""

from __future__ import annotations

import secrets
from urllib.parse import quote

import click

from service.api.guard import token_hash
from service.settings import Settings
from service.wiring import wire


@click.command("calendar-key")
@click.argument("household")
@click.option("--revoke", is_flag=True, help="Make every key of this calendar useless, for good.")
@click.pass_obj
def calendar_key_command(settings: Settings, household: str, revoke: bool) -> None:
    """Make a key of HOUSEHOLD's calendar, and print the address to subscribe to.

    The key opens the calendar and nothing else. It is printed once and stored only as a hash.
    """
    wired = wire(settings)
    if revoke:
        click.echo(f"revoked: {wired.keys.revoke(household, now=wired.clock())}")
        return
    secret = secrets.token_urlsafe(32)
    wired.keys.add(household, token_hash(secret), now=wired.clock())
    click.echo(f"http://{settings.bind}/v1/households/{quote(household)}/plan.ics?key={secret}")

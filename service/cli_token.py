"""Access tokens on the command line: made, listed and revoked."""

from __future__ import annotations

import secrets
from collections.abc import Sequence

import click
from rich.table import Table

from service.api.guard import token_hash
from service.api.naming import NAME_RULE, is_name
from service.cli_database import opened
from service.settings import Settings
from service.terminal import figures, print_table, short, words
from service.wiring import Wiring, wire

SHOWN_NAMES = 10
FIRST = "from now on every request to this installation needs a token: Authorization: Bearer ..."
READS_ONLY = "this one may read, not write; one that writes is made with: kettlecast token make --write"


@click.group("token")
def token_commands() -> None:
    """Make, list and revoke access tokens."""


@token_commands.command("make")
@click.option("--household", help="The one household it opens; left out: every household.")
@click.option("--write", is_flag=True, help="May write, not only read.")
@click.pass_obj
def make_token(settings: Settings, household: str | None, write: bool) -> None:
    """Make a token; it is printed once and stored only as a hash."""
    if household is not None and not is_name(household):
        raise click.BadParameter(f"{household!r} is no name; a name has {NAME_RULE}", param_hint="--household")
    wired: Wiring = wire(settings)
    if household is not None:
        _refuse_unknown(household, wired.homes.names())
    was_open = not wired.tokens.any()
    secret = secrets.token_urlsafe(32)
    number = wired.tokens.add(household, "write" if write else "read", token_hash(secret), now=wired.clock())
    click.echo(f"token {number}: {secret}")
    if was_open:
        click.echo(FIRST if write else f"{FIRST}; {READS_ONLY}", err=True)


def _refuse_unknown(household: str, known: Sequence[str]) -> None:
    """Refuse a household that is not described: its token would open nothing, and yet close the server."""
    if household in known:
        return
    others = f" and {len(known) - SHOWN_NAMES} more" if len(known) > SHOWN_NAMES else ""
    named = f"name one of those there are, {', '.join(known[:SHOWN_NAMES])}{others}; or " if known else ""
    raise click.BadParameter(
        f"there is no household {household!r}; {named}describe it first: PUT /v1/households/{household}; or leave "
        "--household out for a token that opens every household",
        param_hint="--household",
    )


# What `make` was called at first: scripts that use it go on.
token_commands.add_command(
    click.Command("add", callback=make_token.callback, params=make_token.params, help=make_token.help, hidden=True)
)


@token_commands.command("list")
@click.pass_obj
def list_tokens(settings: Settings) -> None:
    """List the tokens that were made, without their secrets."""
    table = Table(figures("token"), words("household"), short("scope"), words("made"), words("revoked"))
    for one in opened(settings).tokens.list():
        table.add_row(str(one.id), one.household or "every", one.scope, f"{one.created_at}", f"{one.revoked_at or ''}")
    print_table(table)


@token_commands.command("revoke")
@click.argument("number", type=int)
@click.pass_obj
def revoke_token(settings: Settings, number: int) -> None:
    """Make token NUMBER useless, for good."""
    wired = opened(settings)
    wired.tokens.revoke(number, now=wired.clock())
    click.echo(f"token {number} is revoked")

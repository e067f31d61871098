"""The command that puts what `/now` answers on an MQTT broker."""

from __future__ import annotations

import json

import click

from service.api.asking import tell
from service.api.budget import now_question
from service.api.schemas.answers import Now
from service.cli_database import opened
from service.settings import Settings
from service.usecases.answers import now_answer


@click.command("publish")
@click.argument("household")
@click.option("--to", "url", required=True, metavar="URL", help="mqtt://host:port, or mqtts://host:port with TLS.")
@click.option("--topic", "prefix", default="kettlecast", show_default=True, help="What every topic begins with.")
@click.option("--version", type=click.Choice(["3.1.1", "5"]), default="3.1.1", show_default=True, help="Of MQTT.")
@click.pass_obj
def publish_command(settings: Settings, household: str, url: str, prefix: str, version: str) -> None:
    """Publish what /now answers of HOUSEHOLD to an MQTT broker, once; run it from a timer.

    Retained and acknowledged: the whole as JSON under PREFIX/HOUSEHOLD/now, each field under .../now/FIELD, and
    online or offline under .../availability: offline where the figures may not be acted on, or this broke off.
    User and password: KETTLECAST_MQTT_USER and KETTLECAST_MQTT_PASSWORD, or in the URL.
    """
    try:
        from service.publish import PublishFailed, broker_at, check_prefix, messages, publish
    except ModuleNotFoundError as error:
        raise click.ClickException(
            "publishing needs the optional MQTT library: in the folder of this project, pip install -e '.[mqtt]'"
        ) from error
    try:
        broker = broker_at(url, user=settings.mqtt_user, password=settings.mqtt_password)
    except ValueError as error:
        raise click.BadParameter(str(error), param_hint="--to") from None
    try:
        check_prefix(prefix)
    except ValueError as error:
        raise click.BadParameter(str(error), param_hint="--topic") from None
    answer = json.loads(tell(now_question(household), Now, now_answer, wired=opened(settings)).body)
    try:
        sent = messages(answer, f"{prefix}/{household}")
        publish(sent, to=broker, version=version)
    except PublishFailed as error:
        raise click.ClickException(str(error)) from None
    click.echo(f"{len(sent)} topics under {prefix}/{household} are published")

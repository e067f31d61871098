"""One answer put on an MQTT broker: retained, acknowledged, and with word of whether it may be relied on."""

from __future__ import annotations

import secrets
import time
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any
from urllib.parse import unquote, urlsplit

from paho.mqtt.client import Client
from paho.mqtt.enums import CallbackAPIVersion, MQTTErrorCode, MQTTProtocolVersion
from paho.mqtt.reasoncodes import ReasonCode

from service.api.fields import dumped

PORTS = {"mqtt": 1883, "mqtts": 8883}
"""Schemes of a broker's address, the second with TLS, and the port of each where none is named."""
ADDRESS = "it must be mqtt://host:port, or mqtts://host:port with TLS"
VERSIONS = {"3.1.1": MQTTProtocolVersion.MQTTv311, "5": MQTTProtocolVersion.MQTTv5}
PATIENCE_S = 10.0
AT_LEAST_ONCE = 1
ONLINE, OFFLINE = "online", "offline"


class PublishFailed(RuntimeError):
    """Not everything was published; the message says what the broker would not do, and holds no secret."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Broker:
    """Where to publish. The user's secret shows in no message and no repr."""

    host: str
    port: int
    tls: bool = False
    user: str | None = None
    password: str | None = field(default=None, repr=False)

    def __str__(self) -> str:
        return f"the broker at {self.host}:{self.port}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Message:
    """What is said under a topic."""

    topic: str
    payload: str


def broker_at(url: str, *, user: str, password: str) -> Broker:
    """The broker of an address; what it says of the user goes before `user` and `password`.

    Raises
    ------
    ValueError
        An address of another form; the message does not repeat it, as it may hold a password.
    """
    parts = urlsplit(url)
    try:
        port = parts.port or PORTS[parts.scheme]
    except (ValueError, KeyError):
        raise ValueError(ADDRESS) from None
    if not parts.hostname or parts.path.strip("/") or parts.query:
        raise ValueError(ADDRESS)
    return Broker(
        host=parts.hostname,
        port=port,
        tls=parts.scheme == "mqtts",
        user=unquote(parts.username or "") or user or None,
        password=unquote(parts.password or "") or password or None,
    )


def check_prefix(prefix: str) -> str:
    """A beginning of topics that may be published under.

    Raises
    ------
    ValueError
        Where it is empty, holds a wildcard, or is one of the broker's own.
    """
    if not prefix or prefix.startswith(("$", "/")) or prefix.endswith("/") or set(prefix) & set("+#\0"):
        raise ValueError(f"{prefix!r} may not be empty, hold + or #, begin with $ or /, or end with /")
    return prefix


def messages(answer: Mapping[str, Any], beginning: str) -> list[Message]:
    """The whole answer as JSON under `now`, each of its fields under a topic of its own, and last the availability."""
    each = [Message(topic=f"{beginning}/now/{name}", payload=_plain(value)) for name, value in answer.items()]
    whole = Message(topic=f"{beginning}/now", payload=dumped(answer).decode())
    state = Message(topic=f"{beginning}/availability", payload=ONLINE if answer["valid"] else OFFLINE)
    return [whole, *each, state]


def _plain(value: object) -> str:
    """Words as they are, anything else as JSON has it: what is not known is `null`, as nothing would be a deletion."""
    return value if isinstance(value, str) else dumped(value).decode()


def publish(sent: Sequence[Message], *, to: Broker, version: str = "3.1.1") -> None:
    """Publish messages in order, the last of them the availability, and wait until each is acknowledged.

    Until then the broker is told to say `offline` under the last one's topic, should the connection break.

    Raises
    ------
    PublishFailed
        Where the broker cannot be reached, refuses, or does not acknowledge in time.
    """
    post = _Post(to, version, will=sent[-1].topic)
    post.open()
    for message in sent:
        post.put(message)
    post.close()


class _Post:
    """One connection, driven in this thread: what goes wrong is told where it happens."""

    def __init__(self, broker: Broker, version: str, *, will: str) -> None:
        self._broker = broker
        self._answered: ReasonCode | None = None
        self._acknowledged: dict[int, ReasonCode] = {}
        self._client = client = Client(
            CallbackAPIVersion.VERSION2,
            client_id=f"kettlecast{secrets.token_hex(6)}",  # letters and digits, 23 at most: what every broker takes
            protocol=VERSIONS[version],
            reconnect_on_failure=False,
        )
        client.will_set(will, OFFLINE, qos=AT_LEAST_ONCE, retain=True)
        if broker.user is not None:
            client.username_pw_set(broker.user, broker.password)
        if broker.tls:
            client.tls_set()
        client.on_connect = self._on_connect
        client.on_publish = self._on_publish

    def _on_connect(self, _: Client, __: Any, ___: Any, answered: ReasonCode, ____: Any) -> None:
        self._answered = answered

    def _on_publish(self, _: Client, __: Any, number: int, answered: ReasonCode, ____: Any) -> None:
        self._acknowledged[number] = answered

    def open(self) -> None:
        """Connect."""
        try:
            self._client.connect(self._broker.host, self._broker.port)
        except OSError as error:
            raise PublishFailed(f"{self._broker} cannot be reached: {error}") from error
        self._wait(lambda: self._answered is not None, "did not let us in (are user and password right?)")
        if self._answered is not None and self._answered.is_failure:
            raise PublishFailed(f"{self._broker} refused the connection: {self._answered}")

    def put(self, message: Message) -> None:
        """Publish one message, retained, and wait for the acknowledgement."""
        info = self._client.publish(message.topic, message.payload, qos=AT_LEAST_ONCE, retain=True)
        self._wait(lambda: info.mid in self._acknowledged, f"did not acknowledge {message.topic}")
        if self._acknowledged[info.mid].is_failure:
            raise PublishFailed(f"{self._broker} refused {message.topic}: {self._acknowledged[info.mid]}")

    def close(self) -> None:
        """Take leave: the broker forgets the will."""
        self._client.disconnect()

    def _wait(self, done: Callable[[], bool], failure: str) -> None:
        give_up = time.monotonic() + PATIENCE_S
        while not done():
            went = self._client.loop(timeout=0.1)
            if done():
                return
            if went != MQTTErrorCode.MQTT_ERR_SUCCESS:
                raise PublishFailed(f"{self._broker} {failure}: it closed the connection")
            if time.monotonic() > give_up:
                raise PublishFailed(f"{self._broker} {failure} within {PATIENCE_S:g} s")

"""MQTT brokers that tests start: one that comes as a package (iotcore), and Mosquitto where the machine has it."""

from __future__ import annotations

import shutil
import socket
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from paho.mqtt.client import Client
from paho.mqtt.enums import CallbackAPIVersion, MQTTErrorCode

from service.publish import VERSIONS

USER, PASSWORD = "kitchen", "s3cr:t/of @nobody"
OWN_TOPICS = "kettlecast/#"
WITHIN_S = 30.0
BROKERS = ("embedded", *(("mosquitto",) if shutil.which("mosquitto") else ()))


def free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


def _embedded(folder: Path, port: int, version: str) -> list[str]:
    settings = folder / "broker.toml"
    listener = {"3.1.1": "v4", "5": "v5"}[version]
    settings.write_text(
        f"""
        id = 0
        [router]
        id = 0
        max_connections = 100
        max_outgoing_packet_count = 200
        max_segment_size = 1048576
        max_segment_count = 10
        [{listener}.1]
        name = "one"
        listen = "127.0.0.1:{port}"
        next_connection_delay_ms = 1
        [{listener}.1.connections]
        connection_timeout_ms = 60000
        max_payload_size = 65536
        max_inflight_count = 100
        dynamic_filters = true
        [{listener}.1.connections.auth]
        {USER} = "{PASSWORD}"
        """
    )
    return [sys.executable, "-m", "iotcore", "--config", str(settings), "--log-level", "WARNING"]


def _mosquitto(folder: Path, port: int, _: str) -> list[str]:
    secrets, allowed, settings = folder / "passwords", folder / "topics", folder / "broker.conf"
    subprocess.run(["mosquitto_passwd", "-c", "-b", str(secrets), USER, PASSWORD], check=True)
    allowed.write_text(f"user {USER}\ntopic readwrite {OWN_TOPICS}\n")
    lines = {"listener": f"{port} 127.0.0.1", "user": "root", "allow_anonymous": "false"}
    lines |= {"password_file": str(secrets), "acl_file": str(allowed)}
    settings.write_text("".join(f"{name} {value}\n" for name, value in lines.items()))
    return ["mosquitto", "-c", str(settings)]


@contextmanager
def running(broker: str, folder: Path, version: str = "3.1.1") -> Iterator[int]:
    """A broker that lets one user in; its port on this machine."""
    port = free_port()
    command = {"embedded": _embedded, "mosquitto": _mosquitto}[broker](folder, port, version)
    with (folder / "said.log").open("wb") as said:
        process = subprocess.Popen(command, stdout=said, stderr=said)
    try:
        give_up = time.monotonic() + WITHIN_S
        while not (_listens(port) and _lets_in(port, version)):
            assert process.poll() is None and time.monotonic() < give_up, (folder / "said.log").read_text()
            time.sleep(0.05)
        yield port
    finally:
        process.terminate()
        process.wait(WITHIN_S)


def _listens(port: int) -> bool:
    with socket.socket() as probe:
        return probe.connect_ex(("127.0.0.1", port)) == 0


def _lets_in(port: int, version: str) -> bool:
    """Whether the broker is there for its user; one that has only just begun may close the connection."""
    answers: list[bool] = []
    client = Client(CallbackAPIVersion.VERSION2, client_id=f"first{port}", protocol=VERSIONS[version])
    client.username_pw_set(USER, PASSWORD)
    client.on_connect = lambda _, __, ___, reason, ____: answers.append(not reason.is_failure)
    client.connect("127.0.0.1", port)
    give_up = time.monotonic() + WITHIN_S
    while not answers and client.loop(timeout=0.05) == MQTTErrorCode.MQTT_ERR_SUCCESS and time.monotonic() < give_up:
        pass
    client.disconnect()
    return answers == [True]


def kept(port: int, beginning: str, *, at_least: int, version: str = "3.1.1") -> dict[str, str]:
    """What a subscriber that comes when its publisher is gone finds under a topic, once it is so much."""
    found: dict[str, str] = {}
    client = Client(CallbackAPIVersion.VERSION2, client_id=f"reader{free_port()}", protocol=VERSIONS[version])
    client.username_pw_set(USER, PASSWORD)
    client.on_connect = lambda *_: client.subscribe(f"{beginning}/#", qos=1)

    def take(_: object, __: object, message: object) -> None:
        found[message.topic] = message.payload.decode()

    client.on_message = take
    client.connect("127.0.0.1", port)
    give_up = time.monotonic() + WITHIN_S
    while len(found) < at_least and time.monotonic() < give_up:
        client.loop(timeout=0.05)
    client.disconnect()
    return found

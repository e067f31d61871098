"""Whether an address can be listened on, asked before any work is done."""

from __future__ import annotations

import errno
import socket

from service.settings import BadSetting


def refuse_taken(bind: str) -> None:
    """Refuse an address that something else listens on, or that this machine does not have.

    Raises
    ------
    BadSetting
        Naming the port and the way out.
    """
    host, _, port = bind.rpartition(":")
    try:
        found = socket.getaddrinfo(host.strip("[]"), int(port), type=socket.SOCK_STREAM)
        family, kind, protocol, _, address = found[0]
        with socket.socket(family, kind, protocol) as probe:
            probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
            probe.bind(address)
    except OSError as error:
        if error.errno == errno.EADDRINUSE:
            message = f"port {port} of {host} is taken already; stop what listens there, or choose another: --bind"
        else:
            message = f"port {port} of {host} cannot be had ({error}); choose another address: --bind"
        raise BadSetting(message) from None

"""An app on a port of this machine, for as long as a test needs it."""

from __future__ import annotations

import threading
from collections.abc import Iterator
from contextlib import contextmanager

from flask import Flask
from werkzeug.serving import make_server


@contextmanager
def serving(app: Flask) -> Iterator[str]:
    """The address that the app answers on."""
    server = make_server("127.0.0.1", 0, app, threaded=True)
    thread = threading.Thread(target=server.serve_forever)
    thread.start()
    try:
        yield f"http://127.0.0.1:{server.server_port}"
    finally:
        server.shutdown()
        thread.join()
        server.server_close()

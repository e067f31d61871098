"""What the processes say while they run: one JSON object a line, with nothing in it that opens anything.

A line of a request has its path without the query, which may hold a key, and no header; a database error comes without
the values it was about.
"""

from __future__ import annotations

import json
import logging
import sys
from datetime import UTC, datetime, timedelta
from typing import Any

from gunicorn.config import Config
from gunicorn.glogging import Logger

LONGEST_PATH = 300
REQUESTS = logging.getLogger("kettlecast.requests")


class JsonLines(logging.Formatter):
    """One JSON object a line: when, how grave, who says it, what, and whatever else was handed over as `told`."""

    def format(self, record: logging.LogRecord) -> str:
        """The line of a record."""
        line: dict[str, Any] = {
            "time": datetime.fromtimestamp(record.created, UTC).isoformat(timespec="milliseconds"),
            "level": record.levelname.lower(),
            "logger": record.name,
            "process": record.process,
            "message": record.getMessage(),
            **getattr(record, "told", {}),
        }
        if record.exc_info:
            line["traceback"] = self.formatException(record.exc_info)
        return json.dumps(line, ensure_ascii=False, default=str)


def configure(level: str) -> None:
    """Send what this process says to standard error as JSON lines, from `level` on."""
    handler = logging.StreamHandler(sys.stderr)
    handler.setFormatter(JsonLines())
    logging.basicConfig(level=level.upper(), handlers=[handler], force=True)
    for name in ("alembic", "matplotlib", "PIL"):
        logging.getLogger(name).setLevel(logging.WARNING)  # they tell at length what nobody asked


class ServerLog(Logger):
    """What gunicorn says, and a line for each request, through the handlers of `configure`."""

    def __init__(self, cfg: Config) -> None:
        super().__init__(cfg)
        self.error_log.propagate = True

    def setup(self, cfg: Config) -> None:
        """Leave handlers and formats to `configure`."""
        self.cfg = cfg
        self.error_log.setLevel(self.LOG_LEVELS[cfg.loglevel])

    @property
    def access_log_enabled(self) -> bool:
        """Whether requests are told at all."""
        return REQUESTS.isEnabledFor(logging.ERROR)

    def access(self, resp: Any, req: Any, environ: dict[str, Any], request_time: timedelta) -> None:
        """Tell of a request that was answered."""
        status = int(str(resp.status).split(None, 1)[0])
        level = logging.ERROR if status >= 500 else logging.INFO
        if not REQUESTS.isEnabledFor(level):
            return
        told = {
            "method": environ.get("REQUEST_METHOD"),
            "path": environ.get("PATH_INFO", "").encode("latin-1").decode("utf-8", "replace")[:LONGEST_PATH],
            "status": status,
            "duration_ms": round(request_time / timedelta(milliseconds=1), 1),
            "sent_bytes": resp.sent,
            "client": environ.get("REMOTE_ADDR"),
        }
        REQUESTS.log(level, "request", extra={"told": told})

"""Answers as pictures: drawn from the answer's own bytes, so that the same answer is the same picture."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

from flask import Response

from service.api.asking import places
from service.api.conditional import answered
from service.pictures import Answer, Format, Frame, drawn
from service.usecases.outlook import Told

if TYPE_CHECKING:
    from matplotlib.figure import Figure

MEDIA_TYPES: dict[Format, str] = {"svg": "image/svg+xml", "png": "image/png"}
PICTURE = {"type": "string", "format": "binary"}
STYLED = "default-src 'none'; style-src 'unsafe-inline'; frame-ancestors 'none'"
"""What a browser that opens the picture by itself may use of it: its own styles, and nothing else."""


def picture(told: Told, household: str, draw: Callable[[Answer, Frame], Figure], kind: Format) -> Response:
    """An answer drawn, with an ETag of its own; it holds as long as the answer."""
    document = places().homes.get(household).document
    frame = Frame(label=document.get("label") or household, capacity_m3=document["holder"]["capacity_m3"])
    body = drawn(told.body, frame, draw, kind)
    response = answered(body, valid_until=told.valid_until, media_type=MEDIA_TYPES[kind])
    response.headers["Content-Security-Policy"] = STYLED
    return response

"""How long a problem may be: what was sent is quoted, but not at any length."""

from __future__ import annotations

LONGEST_TEXT = 800
LONGEST_INSTANCE = 4094  # as long as the line of a request that the server takes
MOST_FAULTS = 100
ELLIPSIS = " ... "


def shortened(text: str, longest: int = LONGEST_TEXT) -> str:
    """A text with its middle left out where it is too long: what is wrong stands first, the way out last."""
    if len(text) <= longest:
        return text
    kept = longest - len(ELLIPSIS)
    return text[: kept // 2] + ELLIPSIS + text[-(kept - kept // 2) :]

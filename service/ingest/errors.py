"""What makes a whole file unreadable."""

from __future__ import annotations

from service.documents import DocumentError


class FileRefused(DocumentError):
    """A file that cannot be read at all, or a mapping that does not fit it; the message ends with the way out."""

"""The cells of a CSV file, line by line, whatever bytes it is made of."""

from __future__ import annotations

import csv
from collections.abc import Iterator
from typing import IO

from service.ingest.errors import FileRefused

LONGEST_LINE = 65_536


def cells_of(stream: IO[bytes], separator: str) -> Iterator[tuple[int, list[str] | None]]:
    """Each row with its line number; None in place of a row that is not CSV in UTF-8."""
    lines = Lines(stream)
    reader = csv.reader(lines, delimiter=separator, strict=True)
    while True:
        line = reader.line_num + 1
        try:
            row = next(reader, None)
        except csv.Error as error:
            if reader.line_num > line:
                message = f"a quote opened in line {line} is not closed where it should be; put the quotes right"
                raise FileRefused(message, pointer=f"/lines/{line}") from error
            yield line, None
            continue
        if row is None:
            return
        yield line, None if lines.take_garbled() else row


class Lines:
    """The lines of a file as text, none longer than a line can sensibly be; remembers whether one was not UTF-8."""

    def __init__(self, stream: IO[bytes]) -> None:
        self._stream = stream
        self._garbled = False
        self._encoding = "utf-8-sig"

    def __iter__(self) -> Iterator[str]:
        return self

    def __next__(self) -> str:
        line = self._stream.readline(LONGEST_LINE)
        if not line:
            raise StopIteration
        if len(line) == LONGEST_LINE:
            raise FileRefused(f"a line is longer than {LONGEST_LINE} bytes; is this a CSV file?", pointer="")
        encoding, self._encoding = self._encoding, "utf-8"
        try:
            return line.decode(encoding)
        except UnicodeDecodeError:
            self._garbled = True
            return line.decode(encoding, errors="replace")

    def take_garbled(self) -> bool:
        """Whether a line since the last call was not UTF-8."""
        garbled, self._garbled = self._garbled, False
        return garbled

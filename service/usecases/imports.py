"""A file into the log: planned and kept by the same steps, told row by row, and undone in one go."""

from __future__ import annotations

import shutil
import tempfile
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import AbstractContextManager, contextmanager
from dataclasses import asdict, dataclass, field
from datetime import datetime
from itertools import islice
from typing import IO, Any, Protocol
from zoneinfo import ZoneInfo

from service.ingest.csv_log import Form, Notes, Options, recognise, rows
from service.ingest.rows import Counts, FileRow, JudgedRow, Verdict
from service.readings import Complaint, Reading, ReadingRefused
from service.usecases.logbook import Homes, scope_of

CHUNK_ROWS = 5_000
MOST_COMPLAINTS = 1_000
Progress = Callable[[int], None]


class Stage(Protocol):
    """Where the rows of one file wait."""

    def add(self, rows: Sequence[FileRow]) -> None:
        """Stage some more rows."""

    def judged(self) -> Counts:
        """What would become of the rows."""

    def keep(self, *, partial: bool, summary: Mapping[str, Any], now: datetime) -> tuple[str | None, Counts]:
        """Keep the rows that can be; the id of the import and what became of the rows."""

    def rows(self, *, limit: int, after: int = 0, codes: Sequence[Verdict] = ()) -> tuple[list[JudgedRow], int | None]:
        """The rows with their verdicts, and the place to go on from."""


class StoredImport(Protocol):
    """An import that was kept."""

    @property
    def id(self) -> str:
        """Its id."""

    @property
    def nth(self) -> int:
        """Its place among the household's imports, in the order they were kept."""

    @property
    def imported_at(self) -> datetime:
        """When it was kept."""

    @property
    def undone_at(self) -> datetime | None:
        """When it was undone, if it was."""

    @property
    def summary(self) -> dict[str, Any]:
        """Its counts, and how the file was read."""


class Imports(Protocol):
    """Where imports are kept."""

    def staging(self, name: str) -> AbstractContextManager[Stage]:
        """An empty stage, gone afterwards."""

    def get(self, name: str, import_id: str) -> StoredImport:
        """One import that stands."""

    def page(self, name: str, *, limit: int, before: int | None = None) -> Sequence[StoredImport]:
        """Imports, newest first; those kept before the `nth` one, where that is named."""

    def rows(
        self, name: str, import_id: str, *, limit: int, after: int = 0, codes: Sequence[Verdict] = ()
    ) -> tuple[list[JudgedRow], int | None]:
        """Its rows with their verdicts, and the place to go on from."""

    def standing(self, name: str, import_id: str) -> int:
        """How many of the readings it added stand, as it added them or corrected since."""

    def undo(self, name: str, import_id: str, *, now: datetime) -> StoredImport:
        """Take out of the log what it added."""


class ImportRefused(ReadingRefused):
    """A file with rows that cannot be so; nothing of it was kept."""


class ImportConflict(ReadingRefused):
    """A file that says otherwise than the log; nothing of it was kept."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Listing:
    """Which rows of a report to list: at most `limit`, behind the `after`th, of some verdicts or of all."""

    limit: int = 1000
    after: int = 0
    codes: tuple[Verdict, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Report:
    """What becomes of a file's rows. `id` is None where nothing was kept: a dry run, or nothing new in it."""

    id: str | None
    dry_run: bool
    counts: Counts
    read_as: Mapping[str, Any]
    rows: Sequence[JudgedRow]
    next_cursor: int | None
    imported_at: datetime | None = None
    undone_at: datetime | None = None

    @property
    def summary(self) -> str:
        """One sentence."""
        c = self.counts
        verb = "would be added" if self.dry_run else "added"
        return f"{c.added} {verb}, {c.unchanged} unchanged, {c.conflict} in conflict, {c.refused} refused"


@dataclass(frozen=True, slots=True, kw_only=True)
class Order:
    """What is to be done with a file. `partial` keeps the good rows of a file with bad ones."""

    options: Options = field(default_factory=Options)
    dry_run: bool = False
    partial: bool = False
    listing: Listing = field(default_factory=Listing)


def import_csv(
    name: str,
    body: IO[bytes],
    order: Order,
    *,
    homes: Homes,
    imports: Imports,
    now: datetime,
    progress: Progress = lambda _: None,
) -> Report:
    """Import a CSV file, or plan to; `progress` is told how many bytes have been read.

    Raises
    ------
    FileRefused
        The file cannot be read at all.
    ImportRefused, ImportConflict
        Rows that cannot be so, or say otherwise than the log, in an import that is not partial; nothing is kept.
    """
    scope = scope_of(name, homes=homes, now=now)
    with _spooled(body) as file, imports.staging(name) as stage:
        form = recognise(file, order.options)
        notes = Notes()
        read = rows(file, form, scope, notes)
        while chunk := list(islice(read, CHUNK_ROWS)):
            stage.add(chunk)
            progress(file.tell())
        read_as = _read_as(form, notes)
        if order.dry_run:
            return _report(stage, None, stage.judged(), read_as, order)
        import_id, counts = stage.keep(partial=order.partial, summary=read_as, now=now)
        if not (counts.clean or order.partial):
            raise _refusal(stage, counts)
        return _report(stage, import_id, counts, read_as, order, now)


def list_kept(name: str, *, limit: int, cursor: int | None, imports: Imports) -> dict[str, Any]:
    """A page of the imports, undone or not, newest first, without their rows; and where the next page begins."""
    found = imports.page(name, limit=limit + 1, before=cursor)
    listed = [_kept(one, (), None) for one in found[:limit]]
    return {"imports": listed, "next_cursor": found[limit - 1].nth if len(found) > limit else None}


def look_up(name: str, import_id: str, listing: Listing, *, imports: Imports) -> Report:
    """The report of an import that was kept and stands."""
    return _kept(imports.get(name, import_id), *imports.rows(name, import_id, **asdict(listing)))


def undo(name: str, import_id: str, *, imports: Imports, now: datetime) -> Report:
    """Take out of the log what an import added, but for readings corrected since; its report."""
    return _kept(imports.undo(name, import_id, now=now), *imports.rows(name, import_id, **asdict(Listing())))


def take_out(name: str, import_id: str, *, imports: Imports, now: datetime) -> tuple[int, int]:
    """Undo an import: how many of its readings are taken out, and how many stay because they were corrected since."""
    before = imports.standing(name, import_id)
    imports.undo(name, import_id, now=now)
    stayed = imports.standing(name, import_id)
    return before - stayed, stayed


def understood(name: str, body: IO[bytes], options: Options, *, homes: Homes, now: datetime) -> Iterator[str]:
    """What each row of a file is read as, in the order in which a report numbers them; empty where it is refused."""
    scope = scope_of(name, homes=homes, now=now)
    for row in rows(body, recognise(body, options), scope, Notes()):
        yield _in_words(row.reading, scope.zone) if row.reading else ""


def _in_words(reading: Reading, zone: ZoneInfo) -> str:
    taken = f"{datetime.fromtimestamp(reading.taken_s, zone):%Y-%m-%d %H:%M}"
    unit = "" if reading.unit == "1" else reading.unit
    parts = (taken, reading.quantity, f"{reading.value:g}", unit, reading.item, reading.meal, reading.note)
    return " ".join(" ".join(parts).split())


def _kept(stored: StoredImport, rows: Sequence[JudgedRow], more: int | None) -> Report:
    counts = Counts(**{name: stored.summary[name] for name in asdict(Counts())})
    return Report(
        id=stored.id,
        dry_run=False,
        counts=counts,
        read_as={name: value for name, value in stored.summary.items() if name not in asdict(counts)},
        rows=rows,
        next_cursor=more,
        imported_at=stored.imported_at,
        undone_at=stored.undone_at,
    )


def _read_as(form: Form, notes: Notes) -> dict[str, Any]:
    said = [f"column {name!r} is not mapped and was not read" for name in form.layout.unread]
    if notes.at_noon:
        said.append(f"{notes.at_noon} rows have a date without a time of day and were read as taken at noon")
    return {"separator": form.separator, "decimal": form.decimal, "date_order": form.order, "notes": said}


def _report(
    stage: Stage,
    import_id: str | None,
    counts: Counts,
    read_as: Mapping[str, Any],
    order: Order,
    now: datetime | None = None,
) -> Report:
    found, more = stage.rows(**asdict(order.listing))
    return Report(
        id=import_id,
        dry_run=order.dry_run,
        counts=counts,
        read_as=read_as,
        rows=found,
        next_cursor=more,
        imported_at=now if import_id else None,
    )


def _refusal(stage: Stage, counts: Counts) -> ReadingRefused:
    code: Verdict = "refused" if counts.refused else "conflict"
    bad, _ = stage.rows(limit=MOST_COMPLAINTS, codes=(code,))
    complaints = [
        Complaint(field=(row.pointer or "").lstrip("/"), code=code, message=f"{place(row)}: {row.message}")
        for row in bad
    ]
    message = (
        f"nothing was imported: {counts.refused} rows are refused, {counts.conflict} say otherwise than the log; "
        f"the first is {complaints[0].message}. Mend them, list them all with dry_run=true, "
        "or keep the rest with partial=true"
    )
    return (ImportRefused if counts.refused else ImportConflict)(complaints, message)


def column_of(row: JudgedRow) -> str:
    """The column that a complaint is about; empty where it is about the whole line."""
    return ((row.pointer or "").split("/", 3) + [""] * 3)[3]


def place(row: JudgedRow) -> str:
    """The line of a row, and the column where what is wrong does not name it already."""
    column = column_of(row)
    told = not column or (row.message or "").startswith(column)
    return f"line {row.line}" if told else f"line {row.line}, column {column!r}"


@contextmanager
def _spooled(body: IO[bytes]) -> Iterator[IO[bytes]]:
    """A file that can be read twice."""
    if body.seekable():
        yield body
        return
    with tempfile.TemporaryFile() as file:
        shutil.copyfileobj(body, file, 1 << 20)
        yield file

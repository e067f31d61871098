"""One outlook for every question asked of the same state of a household, and answers kept as they were issued."""

from __future__ import annotations

import json
import zlib
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from datetime import UTC, date, datetime, timedelta
from typing import Any

from models.outlook import Outlook, look_ahead
from models.production.fit import state
from models.production.record import Record, record
from models.production.values import ProductionState
from models.reckoning import Said
from models.steady import said
from service.documents import zone_of
from service.usecases.history import History, PastLog, inputs_document, inputs_now, situation_from
from service.usecases.issued import Forecasts, Issued
from service.usecases.recent import Recent
from service.usecases.shared import Shared
from service.usecases.situation import Fits, Homes, Logs, Situation, situation
from service.usecases.steady import said_document, said_from

USUAL_DAYS, LONGEST_DAYS = 14, 90
KEPT_OUTLOOKS, KEPT_ANSWERS = 4, 12  # an outlook of 14 days is some 20 MB, of 90 days 100 MB
QUARTER_S = 900.0
MEMORY = "said"
"""Under what it is kept what was said of a household and is to hold; no question of this kind can be asked."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Learnt:
    """A household as it stands, its record, and where production stands."""

    standing: Situation
    known: Record
    now: ProductionState


@dataclass(frozen=True, slots=True, kw_only=True)
class Grounds:
    """What the answers of one hour to one state of a household are read off.

    `version` is the state's, `learnt` what the household's log teaches, both None where nothing is kept; `inputs` says
    what the outlook was made of.
    """

    outlook: Outlook
    as_of: datetime
    learnt: Learnt | None = None
    version: int | None = None
    inputs: Mapping[str, Any] = field(default_factory=dict)


class OutlookCache(Recent[Grounds]):
    """The latest outlooks of this process; `asked` says until when those of a household and so many days hold."""

    def __init__(self, size: int = KEPT_OUTLOOKS) -> None:
        super().__init__(size)
        self.asked: dict[tuple[str, int], datetime] = {}


class AnswerCache(Recent[dict[str, Any]]):
    """The latest answers of this process that are not kept as issued: they say what was, and can be told again."""

    def __init__(self, size: int = KEPT_ANSWERS) -> None:
        super().__init__(size)


@dataclass(frozen=True, slots=True, kw_only=True)
class Places:
    """Where everything an answer is made of is kept."""

    homes: Homes
    logs: Logs
    fits: Fits
    forecasts: Forecasts
    history: History
    outlooks: OutlookCache
    answers: AnswerCache = field(default_factory=AnswerCache)
    shared: Shared = field(default_factory=Shared)

    def told_lately(
        self, question: tuple[object, ...], name: str, now: datetime, make: Callable[[], dict[str, Any]]
    ) -> dict[str, Any]:
        """What is told of a household as it stands, worked out once until it changes or a quarter of an hour is over.

        In no zone a day begins at another minute than these.
        """
        version, quarter = self.homes.version(name), int(now.timestamp() // QUARTER_S)
        found = self.answers.get((name, version, quarter, *question), make)
        return found | {"as_of": now.astimezone(found["as_of"].tzinfo)}


@dataclass(frozen=True, slots=True, kw_only=True)
class Question:
    """One question on one household: `kind` and `asked` tell it from others, `as_of` None asks for now."""

    household: str
    kind: str
    asked: Mapping[str, object] = field(default_factory=dict)
    as_of: datetime | None = None
    days: int = USUAL_DAYS

    @property
    def which(self) -> str:
        """How the keys of its answers begin."""
        asked = ",".join(f"{name}={value}" for name, value in sorted({**self.asked, "days": self.days}.items()))
        return f"{self.kind}?{asked}@"

    @property
    def document(self) -> dict[str, Any]:
        """The question as plain JSON."""
        asked = {name: str(value) if isinstance(value, date) else value for name, value in self.asked.items()}
        return {"kind": self.kind, "asked": {**asked, "days": self.days}}


@dataclass(frozen=True, slots=True, kw_only=True)
class Moment:
    """When a question is asked and what for: `issued_at` is now, `as_of` the moment the answer looks ahead from."""

    issued_at: datetime
    as_of: datetime
    valid_until: datetime


def full_hour_after(name: str, moment: datetime, homes: Homes) -> datetime:
    """The next full hour on a household's own clock: there, not on every other, its days begin."""
    local = moment.astimezone(zone_of(homes.get(name).document["time_zone"]))
    past = timedelta(minutes=local.minute, seconds=local.second, microseconds=local.microsecond)
    return moment.astimezone(UTC) + timedelta(hours=1) - past


@dataclass(frozen=True, slots=True, kw_only=True)
class Told:
    """An answer and the time it holds until; `etag` is None where it was not kept."""

    body: bytes
    etag: str | None
    valid_until: datetime


Render = Callable[[Outlook, Moment, bytes | None], bytes]
"""From an outlook, the moment and the answer given before to the bytes of an answer."""


def issue(question: Question, *, places: Places, now: datetime, render: Render) -> Told:
    """The answer to a question, as stored where it was issued before, with the time it holds until.

    An answer stands until the log, the description or the hour changes; `render` turns an outlook into its bytes, given
    those of the answer before. Every answer of an hour to one state rests on the same outlook, which holds to what was
    said before it. An answer as of another moment is the one that would have been issued then: it can be worked out
    again at any time, and is not kept.

    Raises
    ------
    Whatever the stores and models refuse: an unknown household, a description that contradicts itself.
    """
    now = now.replace(microsecond=0)
    version = places.homes.version(question.household)
    if question.as_of is not None:
        whole = question.as_of.replace(microsecond=0)  # readings and steps of the balance are whole seconds
        until = full_hour_after(question.household, whole, places.homes)
        then = Moment(issued_at=whole, as_of=whole, valid_until=until)
        grounds = places.outlooks.get(
            (question.household, version, "as of", whole, question.days),
            lambda: Grounds(outlook=_then(question, whole, places), as_of=whole),
        )
        return Told(body=render(grounds.outlook, then, None), etag=None, valid_until=then.valid_until)
    valid_until = full_hour_after(question.household, now, places.homes)
    key = f"{question.which}{version}/{valid_until.isoformat()}"
    found = places.forecasts.find(question.household, key)
    if found is None:
        found = _issued(question, valid_until, now=now, places=places, render=render)
    return Told(body=found.body, etag=found.etag, valid_until=valid_until)


def _issued(question: Question, valid_until: datetime, *, now: datetime, places: Places, render: Render) -> Issued:
    """A new answer, kept."""
    grounds = grounds_of(question, valid_until, now=now, places=places)
    before = places.forecasts.latest(question.household, question.which)
    moment = Moment(issued_at=now, as_of=grounds.as_of, valid_until=valid_until)
    body = render(grounds.outlook, moment, before.body if before else None)
    key = f"{question.which}{grounds.version}/{valid_until.isoformat()}"
    return places.forecasts.add(question.household, key, now, body, {**grounds.inputs, **question.document})


def grounds_of(question: Question, valid_until: datetime, *, now: datetime, places: Places) -> Grounds:
    """What to answer from until `valid_until`: the same for every question and process, whoever asks first."""
    name, days = question.household, question.days
    places.outlooks.asked[name, days] = valid_until
    key = (name, places.homes.version(name), valid_until.isoformat(), days)
    return places.outlooks.get(key, lambda: shared_grounds(name, days, valid_until, now=now, places=places))


def shared_grounds(name: str, days: int, valid_until: datetime, *, now: datetime, places: Places) -> Grounds:
    """The same, for all processes of a server."""
    question, hour = Question(household=name, kind=MEMORY, days=days), valid_until.isoformat()

    def make() -> Grounds:
        # A log that is written to all the time is read as it stood at one moment in the end.
        tries = (_grounds(question, hour, now, places, final=final) for final in (False, False, True))
        return next(found for found in tries if found is not None)

    if days > USUAL_DAYS:
        return make()  # seldom asked for, and twice to four times as large
    return places.shared.get((name, places.homes.version(name), hour, days), make, place=(name, days))


def _grounds(memory: Question, hour: str, now: datetime, places: Places, *, final: bool) -> Grounds | None:
    """The same, made now; None where something was written meanwhile, or another process was first."""
    name = memory.household
    version = places.homes.version(name)
    key = f"{memory.which}{version}/{hour}"
    kept = places.forecasts.find(name, key)
    as_of = now if kept is None else datetime.fromisoformat(kept.inputs["as_of"])
    inputs = inputs_now(name, as_of, now, homes=places.homes, fits=places.fits, history=places.history)
    logs = PastLog(history=places.history, mark=inputs.mark) if final else places.logs
    standing = situation_from(name, inputs, logs=logs)
    if not final and places.homes.version(name) != version:
        return None
    learnt = learnt_from(standing)
    outlook = outlooks_from(learnt, memory.days, sets=1)[0]
    made_of = inputs_document(name, inputs, now, history=places.history) if kept is None else kept.inputs
    if kept is None:
        before = places.forecasts.latest(name, memory.which)
        told = _said(outlook, Said() if before is None else said_from(before.body))
        body = json.dumps(said_document(told), allow_nan=False).encode()
        kept = places.forecasts.add(name, key, now, body, made_of)
        if not final and kept.inputs != made_of:
            return None
    held = None if outlook.told is None else replace(outlook.told, before=said_from(kept.body))
    return Grounds(outlook=replace(outlook, told=held), as_of=as_of, learnt=learnt, version=version, inputs=made_of)


def learnt_now(name: str, now: datetime, places: Places) -> Learnt:
    """What a household's answers of this hour are made of."""
    question = Question(household=name, kind=MEMORY)
    found = grounds_of(question, full_hour_after(name, now, places.homes), now=now, places=places).learnt
    assert found is not None
    return found


def _then(question: Question, as_of: datetime, places: Places) -> Outlook:
    """The outlook as of a moment: nothing was said before."""
    standing = situation(question.household, as_of, homes=places.homes, logs=places.logs, fits=places.fits)
    return outlooks_from(learnt_from(standing), question.days, sets=1)[0]


def _said(outlook: Outlook, before: Said) -> Said:
    """What answers from an outlook say and is to hold."""
    return before if outlook.told is None else said(replace(outlook.told, before=before), outlook.household.backup)


def learnt_from(standing: Situation) -> Learnt:
    """What a household's log teaches, as it stands."""
    known = record(standing.household, standing.log, standing.posted, standing.as_of_d, standing.plan)
    return Learnt(standing=standing, known=known, now=state(known, standing.fitted))


def outlooks_from(learnt: Learnt, days: int, *, sets: int) -> list[Outlook]:
    """Outlooks of a household, each on a set of sample paths of its own; the first is what is issued."""
    own = zlib.crc32(learnt.standing.name.encode())  # the same draws each time: answers move only with what is known
    plan = learnt.standing.plan
    return [look_ahead(learnt.known, learnt.now, plan, days, seed=own + number) for number in range(sets)]

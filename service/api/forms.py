"""What stands together in a document and what does not: declared once, checked on the way in, told in the contract."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from collections.abc import Set as AbstractSet
from typing import Any

from marshmallow.exceptions import ValidationError


class Form:
    """Fields that are given together, and those that may stand beside them."""

    def __init__(self, *needs: str, may: Sequence[str] = ()) -> None:
        self.needs = needs
        self.names = (*needs, *may)

    def takes(self, given: AbstractSet[str]) -> bool:
        """Whether these fields are this form."""
        return set(self.needs) <= given <= set(self.names)

    def __str__(self) -> str:
        return _listed(self.needs)


class Forms:
    """A document has one of several forms, or none of them where it is `needless`; they say `what`."""

    def __init__(self, *forms: Form, what: str = "what is meant", needless: bool = False) -> None:
        self._told = forms
        self._forms = (Form(), *forms) if needless else forms
        self._needless = needless
        self._what = what
        self._names = tuple(dict.fromkeys(name for form in forms for name in form.names))

    def check(self, fields: AbstractSet[str]) -> None:
        """Refuse fields that are no form, naming what is missing or too much."""
        given = [name for name in self._names if name in fields]
        if any(form.takes(set(given)) for form in self._forms):
            return
        ways = f"{'at most' if self._needless else 'exactly'} one of these: {'; or '.join(map(str, self._told))}"
        begun = [form for form in self._told if given and set(given) <= set(form.names)]
        if len(begun) == 1:
            missing = next(name for name in begun[0].needs if name not in given)
            raise ValidationError(f"required|is missing; {given[0]} says nothing without it", missing)
        if given and not begun:
            meant = max(self._told, key=lambda form: len(set(given) & set(form.names)))
            beside = [name for name in given if name in meant.names]
            surplus = next(name for name in given if name not in meant.names)
            raise ValidationError(f"one_way|cannot stand beside {_listed(beside)}; give {ways}", surplus)
        missing = next(name for name in (begun or self._told)[0].needs if name not in given)
        lacking = f"{_listed(given)} alone {'does' if len(given) == 1 else 'do'} not say" if given else "nothing says"
        raise ValidationError(f"form|is missing; {lacking} {self._what}: give {ways}", missing)

    def schema(self, nullable: AbstractSet[str]) -> dict[str, Any]:
        """The same as JSON Schema: what no form names is left out, or null where it may be."""
        return {"oneOf": [dict(self._keywords(form, nullable)) for form in self._forms]}

    def _keywords(self, form: Form, nullable: AbstractSet[str]) -> Iterator[tuple[str, Any]]:
        others = [name for name in self._names if name not in form.names]
        said: dict[str, Any] = {name: {"type": "null"} if name in nullable else {"not": {}} for name in others}
        said |= {name: {"not": {"type": "null"}} for name in form.needs if name in nullable}
        if form.needs:
            yield "required", list(form.needs)
        if said:
            yield "properties", said


def _listed(names: Sequence[str]) -> str:
    *others, last = names
    return f"{', '.join(others)} and {last}" if others else last


def either(*names: str, what: str) -> Forms:
    """Exactly one of these fields, which say `what`."""
    return Forms(*map(Form, names), what=what)


def at_most_one(*names: str) -> Forms:
    """One of these fields, or none."""
    return Forms(*map(Form, names), needless=True)

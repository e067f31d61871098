"""The edge of the API: strict parsing, problems for every error, and the contract generated from the schemas."""

from __future__ import annotations

import json
from collections.abc import Callable
from typing import Any

from apispec.ext.marshmallow import MarshmallowPlugin
from apispec.ext.marshmallow.common import resolve_schema_instance
from apispec.ext.marshmallow.openapi import OpenAPIConverter
from flask import Request
from flask_smorest import Api as SmorestApi
from flask_smorest import Blueprint as SmorestBlueprint
from marshmallow import RAISE, ValidationError
from webargs.flaskparser import FlaskParser
from werkzeug.exceptions import BadRequest, UnsupportedMediaType
from werkzeug.routing import BaseConverter

from service.api.fields import Schema, fields, many, text, whole
from service.api.illustrations import illustrate, parameters_of
from service.api.links import link
from service.api.naming import NAME, NAME_PATTERN, NAME_RULE, NAMED
from service.api.shortening import LONGEST_INSTANCE, LONGEST_TEXT

TITLE = "Kettlecast"
VERSION = "1"
BEARER = {
    "type": "http",
    "scheme": "bearer",
    "description": "a token of `kettlecast token make`; needed once one was made, or where others reach the server",
}

NAME_SCHEMA = {
    "type": "string",
    **NAME,
    "description": f"{NAME_RULE}; beyond the first 65,536 characters of Unicode none counts as either",
    "x-ucum": "{text}",
    "examples": ["home"],
}
UUIDS = {"reading_id": {"format": "uuid"}, "import_id": {"format": "uuid"}}
"""Parts of a path that are ids of the log."""
IF_MATCH = {
    "in": "header",
    "name": "If-Match",
    "description": (
        "the ETag of what is replaced or deleted, as it was last read, or several of them, or * for any; "
        "another version is left as it is"
    ),
    "schema": {"type": "string", "minLength": 1, "pattern": r"\S", "x-ucum": "{text}"},
    "example": '"5f3c1b0a9d8e7f60123456789abcdef0"',
}


class FaultOut(Schema):
    """One thing wrong with a request."""

    pointer = fields.String(
        metadata={"description": "JSON pointer of the field to mend; empty: the whole", "x-ucum": "{text}"}
    )
    code = text("what is wrong, for scripts")
    message = text("what is wrong and the way out, for people", longest=LONGEST_TEXT, quotes=True)


class ProblemOut(Schema):
    """An error, as RFC 9457 has it."""

    type = text("the kind of problem, a URI reference")
    title = text("the status in words")
    status = whole("1", "the HTTP status", 400, 599)
    detail = text("what happened and the way out", longest=LONGEST_TEXT, quotes=True)
    instance = text("the request it happened to", longest=LONGEST_INSTANCE)
    errors = many(FaultOut, "what is wrong, field by field")


class StrictParser(FlaskParser):
    """Refuses what a schema does not know, wherever it stands in the request."""

    DEFAULT_UNKNOWN_BY_LOCATION: dict[str, str | None] = {"json": RAISE, "query": RAISE, "path": RAISE}  # noqa: RUF012
    DEFAULT_VALIDATION_STATUS = 400

    def load_json(self, req: Request, schema: Any) -> Any:
        """The JSON body; another content type is 415, and what is no strict JSON is 400."""
        if not req.content_length and not req.mimetype and not schema.many:
            return {}  # nothing was sent: what is missing is then said field by field
        if req.content_length and not req.is_json:
            raise UnsupportedMediaType("send the body as Content-Type: application/json")
        try:
            if not req.get_data().strip():
                raise BadRequest(f"the body is empty; send {wanted(schema)}, as /docs shows it whole")
            document = strict_json(req.get_data())
        except RecursionError:
            raise BadRequest("the JSON is nested too deeply to be read") from None
        except ValueError as error:
            raise BadRequest(f"the body is no JSON: {error}") from None
        if schema.many and not isinstance(document, list):
            raise ValidationError(f"type|must be {wanted(schema)}, even where it holds one")
        return document


def wanted(schema: Schema) -> str:
    """What a body must be, in words, with what it cannot do without."""
    needed = ", ".join(f'"{one.data_key or name}": ...' for name, one in schema.load_fields.items() if one.required)
    return f"a JSON array (a list) such as [{{{needed}}}]" if schema.many else f"a JSON object such as {{{needed}}}"


def strict_json(body: bytes) -> Any:
    """What a JSON text says, in UTF-8; refused where it says one thing twice, or a number that is none.

    Raises
    ------
    ValueError
        Not JSON as RFC 8259 and I-JSON (RFC 7493) have it.
    """
    return json.loads(body.decode("utf-8-sig"), object_pairs_hook=_once, parse_constant=_no_number)


def _once(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    document = dict(pairs)
    if len(document) < len(pairs):
        names = [name for name, _ in pairs]
        twice = next(name for name in names if names.count(name) > 1)
        raise ValueError(f"the name {twice!r} stands twice in one object; keep one of them")
    return document


def _no_number(word: str) -> float:
    raise ValueError(f"{word} is no number; leave the field out, or send null where that is allowed")


class ReadingId(BaseConverter):
    """The id of a reading in a path: whatever is not the name of something else there."""

    regex = r"(?!imports\Z)[^/]+"
    part_isolating = True


class Blueprint(SmorestBlueprint):
    """A blueprint that parses strictly, documents the problem answers, and calls an operation as its function."""

    ARGUMENTS_PARSER = StrictParser()

    def arguments(self, schema: type[Schema] | Schema, *, location: str = "json", **options: Any) -> Any:
        """Parse the body or the query by a schema; of a query it says what it takes, since no document is at hand."""
        if location == "query":
            schema = schema() if isinstance(schema, type) else schema
            taken = ", ".join(one.data_key or name for name, one in schema.load_fields.items())
            schema.error_messages["unknown"] = f"unknown|is no query parameter here; this path takes {taken}"
        return super().arguments(schema, location=location, **options)

    def _store_endpoint_docs(self, endpoint: str, obj: Any, *args: Any, **options: Any) -> None:
        super()._store_endpoint_docs(endpoint, self.doc(operationId=obj.__name__)(obj), *args, **options)

    def if_match(self, *, required: bool) -> Callable[[Any], Any]:
        """Tell that an operation takes the header If-Match."""
        found: Callable[[Any], Any] = self.doc(parameters=[IF_MATCH | {"required": required}])
        return found


class FormsConverter(OpenAPIConverter):
    """Tells in a schema which of its fields stand together."""

    def schema2jsonschema(self, schema: Any) -> dict[str, Any]:
        """The JSON Schema of a marshmallow schema."""
        told: dict[str, Any] = OpenAPIConverter.schema2jsonschema(self, schema)
        instance = resolve_schema_instance(schema)
        nullable = {field.data_key or name for name, field in instance.fields.items() if field.allow_none}
        forms = [one.schema(nullable) for one in getattr(instance, "forms", ())]
        forms += map(dict, getattr(instance, "told", ()))
        return told | (forms[0] if len(forms) == 1 else {"allOf": forms} if forms else {})


class FormsPlugin(MarshmallowPlugin):
    """Schemas of marshmallow for the contract, with their forms."""

    Converter = FormsConverter


class Api(SmorestApi):
    """The API document; errors are handled by `service.api.problems` alone."""

    ERROR_SCHEMA = ProblemOut

    def _register_pagination_header(self) -> None:
        """Pages are fields of the answer here, not a header."""

    def _register_error_handlers(self) -> None:
        """Leave the app's error handlers as `problems.register` sets them."""


def contract_of(api: Api) -> dict[str, Any]:
    """The OpenAPI document, with the token and with every error answer under its media type."""
    document: dict[str, Any] = api.spec.to_dict()
    document["components"]["securitySchemes"] = {"token": BEARER}
    document["security"] = [{"token": []}, {}]
    for response in document["components"].get("responses", {}).values():
        content = response.get("content", {})
        if "application/json" in content:
            content["application/problem+json"] = content.pop("application/json")
    link(document)
    illustrate(document)
    for parameter in parameters_of(document):
        if parameter["in"] == "path":
            parameter["schema"].update(NAME if parameter["name"] in NAMED else UUIDS.get(parameter["name"], {}))
    document = _names_once(document)
    document["components"]["schemas"]["Name"] = NAME_SCHEMA
    return document


def _names_once(part: Any) -> Any:
    """A part of a document that refers to the one schema of a name wherever there is one: its expression is long."""
    if isinstance(part, list):
        return [_names_once(one) for one in part]
    if not isinstance(part, dict):
        return part
    if part.get("pattern") == NAME_PATTERN:
        others = {keyword: told for keyword, told in part.items() if keyword not in ("type", *NAME)}
        return others | {"$ref": "#/components/schemas/Name"}
    return {keyword: _names_once(told) for keyword, told in part.items()}

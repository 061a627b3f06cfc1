"""Writes the API part of DEVELOPERS.md from real calls, so that the guide says what the service answers.

    STOCKPLAN_DEBUG=1 python -m tests.api.examples

runs them on an empty test database and replaces what stands between the markers in DEVELOPERS.md.
"""

from __future__ import annotations

import json
import re
import tempfile
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Any

if __name__ == "__main__":
    import os

    import django

    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "stockplan.settings")
    django.setup()

from drf_spectacular.generators import SchemaGenerator

from tests.api.example_calls import Exchange, example_exchanges

GUIDE = Path("DEVELOPERS.md")
BEGIN, END = "<!-- api:begin -->", "<!-- api:end -->"
WIDTH = 116
# What no two runs share, and what a processor may round in its own way.
LIST_ID = "5a1c52e0-8d7b-4f6a-9f50-6d1c1f0e2b11"
UUID = re.compile(r"[0-9a-f]{8}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{12}")
DIGITS = 3
ANY = {"compute_seconds": 0.5, "seen": "f7f805c479b701898f9d"}

INTRODUCTION = """\
Every address below stands under `/api/v1/` and takes and gives JSON. The schema (OpenAPI 3.1) is at
`/api/v1/schema/`, a page to try it at `/api/v1/docs/`. An integration sends `Authorization: Bearer <token>`; make
one with `python manage.py create_token web-shop --scopes orders stock:read --channel SHOP --days 365`. People who
are logged in get the scopes of their groups (`sales`, `planner`, `floor`, `owner`).
- **Time.** A report takes `occurred_at`, when it happened, at or before now; left out it is now. With the scope
  `replay` that is also when the books learned of it, an order takes `received_at`, and every read takes `as_of`.
  Without it these two are refused with 403. Instants carry their offset from UTC.
- **Lists** come in pages: `results`, and `next`, the address of the page after it. `limit` is 100 unless stated, at
  most 500.
- **Repeats.** Every POST takes an `Idempotency-Key` (IETF draft): the same key with the same body is done once and
  answered the same, even after a crash; with another body or address it answers 422, while the first still runs 409
  (on SQLite the repeat waits instead). Keys belong to the integration and are kept for 7 days (`manage.py
  forget_answers` deletes older ones). An error is not stored, for it changed nothing: the key may be tried again.
- **Orders without a key** are safe as well: posted again under the same channel and reference with the same body an
  order answers 200, `replayed` is true and nothing changes; with another body it answers 409.
- **What has not changed.** The stock list carries an `ETag`; sent back as `If-None-Match` it answers 304 while no row
  of the page has changed (`as_of` does not count). An order carries one for its state: a PATCH with it as `If-Match`
  answers 412 where the order, or what it is promised, has changed since.
- **What has changed.** `GET /stock/changes/` tells each SKU whose stock changed since the cursor of the answer before.
  It tells a change when its transaction and all that began before it are over, so that none is missed.
- **Versions.** The version is part of the address. Within `v1` members, addresses and optional fields are added and
  none is taken away or changes its meaning: take what you know and ignore the rest. What has to change otherwise comes
  as `v2` beside it. A version that will go works on for at least a year: each of its answers carries `Deprecation`
  (RFC 9745, since when), `Sunset` (RFC 8594, until when) and a `Link` with the relation `deprecation` to what to do;
  after its sunset it answers 410. `stockplan/api_versions.py` says which versions there are and which have an end.
- **Fewer members.** The lists of stock, SKUs, orders and runs take `fields=sku,free`: rows hold these members only.
- **Names of requests.** Every answer carries `X-Request-ID`, the client's own (up to 64 letters, digits, `.`, `_`, `-`)
  or a new one; the log of the server names it on each line.
- **Limits.** A body has at most 256 KiB, an order 100 lines, a line 100,000 spools. Members that are not listed
  here are refused.
- **Requests a minute.** A token makes 60,000, or as many as `create_token --requests-per-minute` gave it, a minute's
  worth at once; beyond it answers 429 with `Retry-After` in seconds. Many orders go in one body (`/orders/bulk/`).
- **A token of one channel** sees and posts that channel's orders only; others answer 404.
- **Errors** are problem documents (RFC 9457), `application/problem+json`. 400: the shape is wrong; 401, 403: who
  you are, what you may; 404: nothing at the address that you may see; 409: clashes with the present state; 413: too
  long; 422: right shape, but a value names nothing or is outside a rule. `code` stays the same for good; `errors`
  has one entry for each bad field with a JSON pointer into the body, or the query parameter, or the header.

The examples are real: `tests/api/examples.py` loads the small plant of `tests/inventory/plant_dir.py` as of Monday
2027-03-01 07:00 UTC and makes these calls in this order (ids of lists, `seen` and seconds of computing stand for any,
figures are rounded). A test compares them.
"""


def api_section(exchanges: Sequence[Exchange]) -> str:
    """Return the API part of the guide, in Markdown."""
    document = SchemaGenerator().get_schema(request=None, public=True)
    seen: set[str] = set()
    parts = [INTRODUCTION]
    parts += [_endpoint(exchange, document, seen) for exchange in exchanges]
    return "\n".join(parts)


def guide_with(section: str, guide: str) -> str:
    """Put the API part between the markers of the guide."""
    head, rest = guide.split(BEGIN)
    tail = rest.split(END)[1]
    return f"{head}{BEGIN}\n{section}{END}{tail}"


def _endpoint(exchange: Exchange, document: dict[str, Any], seen: set[str]) -> str:
    operation = document["paths"][exchange.path][exchange.method.lower()]
    request = f"{exchange.method} {exchange.address}"
    lines = [f"### {exchange.method} {exchange.path}", "", operation["description"], ""]
    lines += ["```", *UUID.sub(LIST_ID, request).splitlines()]
    lines += [] if exchange.sent is None else ["", *_json(exchange.sent)]
    lines += ["", str(exchange.status), "", *_json(exchange.answer), "```", ""]
    lines += _query_table(operation)
    if "requestBody" in operation:
        lines += _tables("sent", operation["requestBody"]["content"]["application/json"]["schema"], document, seen)
    answer = operation["responses"][str(exchange.status)]["content"]["application/json"]["schema"]
    lines += _tables("answer", answer, document, seen)
    return "\n".join(lines)


def _query_table(operation: dict[str, Any]) -> list[str]:
    asked = [row for row in operation.get("parameters", []) if row["in"] == "query"]
    rows = [
        f"| `{row['name']}` | {_type(row['schema'])} | {_meaning(row, is_required=row.get('required', False))} |"
        for row in asked
    ]
    return ["| query | type | meaning |", "| --- | --- | --- |", *rows, ""] if rows else []


def _tables(title: str, schema: dict[str, Any], document: dict[str, Any], seen: set[str]) -> list[str]:
    """A table of the fields of a schema, and one more for each schema inside that was not told yet."""
    name = schema["$ref"].rsplit("/", 1)[1]
    if name in seen:
        return [f"{title.capitalize()}: the fields of {_plain(name)}, above.", ""]
    seen.add(name)
    members = document["components"]["schemas"][name]
    required = members.get("required", [])
    is_answer = title == "answer"
    rows = [
        f"| `{field}` | {_type(row)} | {_meaning(row, is_required=is_answer or field in required)} |"
        for field, row in members["properties"].items()
    ]
    lines = [f"| {title}: {_plain(name)} | type | meaning |", "| --- | --- | --- |", *rows, ""]
    for row in members["properties"].values():
        for inner in _inner(row):
            is_object = "properties" in document["components"]["schemas"][inner["$ref"].rsplit("/", 1)[1]]
            if is_object and inner["$ref"].rsplit("/", 1)[1] not in seen:
                lines += _tables(title, inner, document, seen)
    return lines


def _inner(row: dict[str, Any]) -> Iterator[dict[str, Any]]:
    for part in (row, row.get("items", {}), *row.get("allOf", []), *row.get("oneOf", [])):
        if "$ref" in part:
            yield part


def _plain(name: str) -> str:
    words = re.sub(r"(?<=[a-z])(?=[A-Z])", " ", name.removesuffix("Body").removeprefix("Patched"))
    return words.lower()


def _type(row: dict[str, Any]) -> str:
    refs = list(_inner(row))
    if refs:
        name = _plain(refs[0]["$ref"].rsplit("/", 1)[1])
        return f"list of {name}" if row.get("type") == "array" else name
    kind = row.get("type", "any")
    kinds = kind if isinstance(kind, list) else [kind]
    words = [row.get("format", each) if each == "string" else each for each in kinds]
    return " or ".join(f"list of {_type(row['items'])}" if word == "array" else word for word in words)


def _meaning(row: dict[str, Any], *, is_required: bool) -> str:
    text = row.get("description", "").split("\n")[0]
    return text if is_required else f"optional; {text}" if text else "optional"


def _json(value: Any) -> list[str]:
    return _folded(_steady(value), indent=0)


def _steady(value: Any) -> Any:
    if isinstance(value, dict):
        return {key: ANY.get(key, _steady(inner)) for key, inner in value.items()}
    if isinstance(value, list):
        return [_steady(inner) for inner in value]
    if isinstance(value, float):
        return round(value, DIGITS)
    return UUID.sub(LIST_ID, value) if isinstance(value, str) else value


def _folded(value: Any, *, indent: int) -> list[str]:
    """JSON in few lines: what fits stands on one, and plain members of an object share lines."""
    flat = json.dumps(value, ensure_ascii=False)
    if len(flat) + indent <= WIDTH or not isinstance(value, dict | list) or not value:
        return [" " * indent + flat]
    items = value.items() if isinstance(value, dict) else [("", inner) for inner in value]
    lines: list[str] = []
    for key, inner in items:
        block = _folded(inner, indent=indent + 2)
        prefix = json.dumps(key) + ": " if key else ""
        block[0] = " " * (indent + 2) + prefix + block[0].lstrip()
        if lines and not isinstance(inner, dict | list) and len(lines[-1]) + len(block[0].lstrip()) + 2 <= WIDTH:
            lines[-1] += " " + block[0].lstrip() + ","
            continue
        lines += block
        lines[-1] += ","
    lines[-1] = lines[-1].removesuffix(",")
    opening, closing = "{}" if isinstance(value, dict) else "[]"
    return [" " * indent + opening, *lines, " " * indent + closing]


def main() -> None:
    """Write the section into the guide."""
    from django.db import connection

    connection.creation.create_test_db(verbosity=0)
    try:
        with tempfile.TemporaryDirectory() as directory:
            section = api_section(list(example_exchanges(Path(directory))))
    finally:
        connection.creation.destroy_test_db(connection.settings_dict["NAME"], verbosity=0)
    GUIDE.write_text(guide_with(section, GUIDE.read_text(encoding="utf-8")), encoding="utf-8")


if __name__ == "__main__":
    main()

"""Bodies and tables that nobody would send on purpose: right ones with something strange in them, and plain noise."""

from __future__ import annotations

import csv
import io
import json
from typing import Any

from hypothesis import strategies as st

# Texts that have broken parsers, sheets and logs elsewhere: signs of sizes, times, formulas, ends of lines.
ODD_TEXTS = (
    "", " ", "\x00", "\n", "\r\n", '"', "'", ",", ";", "=1+1", "@SUM(A1)", "-1", "+1", "0", "00", "1e9", "1E400", "-0",
    "NaN", "Infinity", "1_000", "1.0", "1,5", "٣", "½", "true", "null", "\ufeff", "\u202e", "\ud800", "😀", "e\u0301",
    "9" * 400, "A" * 70_000, "2027-02-30", "0001-01-01", "9999-12-31", "2027-03-01T24:00:00Z", "2027-03-01T06:30:00",
    "2027-03-01T06:30:00+23:59", "../../etc/passwd", "<script>", "%s", "{0}", "' OR 1=1 --",
)  # fmt: skip
texts = st.sampled_from(ODD_TEXTS) | st.text(max_size=40) | st.text(st.characters(), max_size=8)
numbers = st.integers() | st.sampled_from([0, 1, -1, 2**31, 2**63, 2**64, 10**400]) | st.floats()
plain_values = st.none() | st.booleans() | numbers | texts
values = st.recursive(
    plain_values, lambda below: st.lists(below, max_size=4) | st.dictionaries(texts, below, max_size=4), max_leaves=8
)


def mostly(right: st.SearchStrategy[Any], strange: st.SearchStrategy[Any] = values) -> st.SearchStrategy[Any]:
    """The right thing about eleven times in twelve; hypothesis draws the ends of a range far more often."""
    return st.integers(0, 11).flatmap(lambda drawn: strange if drawn == 7 else right)


@st.composite
def order_bodies(draw: st.DrawFn, *, skus: list[str]) -> bytes:
    """The body of an order's post."""
    line = st.fixed_dictionaries(
        {"sku": mostly(st.sampled_from(skus)), "quantity": mostly(st.integers(1, 9))},
        optional={"note": st.none()} if draw(st.integers(0, 9)) == 7 else {},
    )
    body = draw(
        st.fixed_dictionaries(
            {
                "channel": mostly(st.just("WEB")),
                "reference": mostly(st.integers(0, 10**9).map("R-{}".format)),
                "lines": mostly(st.lists(line, min_size=1, max_size=3)),
            },
            optional={
                "kind": mostly(st.sampled_from(["regular", "project", "own_use"])),
                "may_part_ship": mostly(st.booleans()),
                "wanted_day": mostly(st.sampled_from([None, "2027-03-01", "2027-03-06"]), st.dates().map(str) | texts),
                "ship_to": mostly(st.text(max_size=200), texts),
                "received_at": mostly(st.just("2027-03-01T06:30:00Z")),
            },
        )
    )
    if draw(st.integers(0, 9)) == 7:
        body[draw(texts)] = draw(values)
    return draw(mangled(json.dumps(body).encode()))


@st.composite
def order_tables(draw: st.DrawFn, *, skus: list[str]) -> bytes:
    """The content of an order table."""
    columns = {
        "reference": mostly(st.integers(0, 10**9).map("R-{}".format), texts),
        "received_at": mostly(st.just("2027-03-01T06:30:00Z"), texts),
        "sku": mostly(st.sampled_from(skus), texts),
        "quantity": mostly(st.integers(1, 9).map(str), texts),
        "channel": mostly(st.just("WEB"), texts),
        "wanted_day": mostly(st.just(""), texts),
        "shipped": mostly(st.just(""), texts),
    }
    names = list(columns)[: draw(st.integers(4, len(columns)))]
    rows = draw(st.lists(st.tuples(*(columns[name] for name in names)), min_size=1, max_size=4))
    sheet = io.StringIO()
    head = [draw(mostly(st.just(name), texts)) for name in names] if draw(st.integers(0, 9)) == 7 else names
    csv.writer(sheet, escapechar="\\").writerows([head, *rows])
    encoding = draw(mostly(st.just("utf-8"), st.sampled_from(["utf-16", "utf-8-sig", "latin-1"])))
    return draw(mangled(sheet.getvalue().encode(encoding, "replace")))


@st.composite
def mangled(draw: st.DrawFn, content: bytes) -> bytes:
    """The content as it is about seven times in eight, else cut, with noise in it, or noise alone."""
    if draw(st.integers(0, 7)) != 5:
        return content
    at, noise = draw(st.integers(0, len(content))), draw(st.binary(max_size=8))
    return draw(st.sampled_from([content[:at], content[:at] + noise + content[at:], noise, content * 2]))

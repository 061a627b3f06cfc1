"""Long lists in pages: every list answers `results` and `next`, the address of the page after it.

The cursor is the key of the last row seen, so that a page costs the same wherever it is and rows that arrive
meanwhile neither repeat nor hide others.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any, TypeVar

from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.utils.urls import replace_query_param

from inventory.api.fields import TextField

Row = TypeVar("Row")

MAX_PAGE_ROWS = 500
DEFAULT_PAGE_ROWS = 100


class PageQuery(serializers.Serializer[Any]):
    """The query parameters of every list."""

    cursor = TextField(required=False, max_length=64, help_text="where the page begins; take it from `next`")
    limit = serializers.IntegerField(
        required=False, default=DEFAULT_PAGE_ROWS, min_value=1, max_value=MAX_PAGE_ROWS, help_text="rows of a page"
    )


class IdPageQuery(PageQuery):
    """The query parameters of a list in the order of ids."""

    cursor = serializers.RegexField(  # type: ignore[assignment]  # a narrower field of the same name
        r"^[0-9]{1,18}$", required=False, default="0", help_text="where the page begins; take it from `next`"
    )


def page_of(
    rows: Sequence[Row], *, key: Callable[[Row], str], limit: int, request: Request
) -> tuple[Sequence[Row], str | None]:
    """Cut a page from the rows after the cursor, of which one more than `limit` is enough."""
    page = rows[:limit]
    if len(rows) <= limit:
        return page, None
    return page, replace_query_param(request.build_absolute_uri(), "cursor", key(page[-1]))


class PageSerializer(serializers.Serializer[Any]):
    """What every list answers beside its `results`."""

    as_of = serializers.DateTimeField(help_text="the instant as of which the books were read")
    next = serializers.URLField(allow_null=True, help_text="address of the page after this one; null: this is the last")

"""Make lists and their runs by what an address names."""

from __future__ import annotations

from datetime import datetime
from uuid import UUID

from stockplan.planner.models import ListedRun
from stockplan.planner.selectors.make_list_details import MakeListDetail
from stockplan.planner.selectors.make_lists import MakeListNotFoundError, make_list_detail


def make_list_known(make_list_id: UUID, *, as_of: datetime | None) -> MakeListDetail:
    """Return one list.

    Raises
    ------
    MakeListNotFoundError
        If there is none, or it was made of facts known only after `as_of`.
    """
    detail = make_list_detail(make_list_id)
    if as_of is not None and detail.as_of > as_of:
        raise MakeListNotFoundError(
            "Make list {make_list} did not exist as of {as_of}.", make_list=make_list_id, as_of=as_of.isoformat()
        )
    return detail


def listed_run_of(make_list_id: UUID, *, rank: int) -> int:
    """Return the id of the run of a rank on a list. One query.

    Raises
    ------
    MakeListNotFoundError
        If the list has no such rank.
    """
    found = ListedRun.objects.filter(make_list=make_list_id, rank=rank).values_list("id", flat=True).first()
    if found is None:
        raise MakeListNotFoundError(
            "Make list {make_list} has no run of rank {rank}.", make_list=make_list_id, rank=rank
        )
    return found

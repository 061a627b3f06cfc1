"""How the lines spend their hours under the newest make list."""

from __future__ import annotations

from dataclasses import dataclass

from django.db.models import Count, Sum

from stockplan.planner.models import ListedRun
from stockplan.planner.selectors.make_lists import newest_list_id


@dataclass(frozen=True)
class LineLoad:
    """Planned hours of one line over the days of the newest list."""

    line_code: str
    runs: int
    winding_h: float
    changeover_h: float
    purge_kg: float

    @property
    def changeover_share(self) -> float:
        """Changeovers as a share of the hours that the list takes of the line."""
        return self.changeover_h / (self.winding_h + self.changeover_h)


def line_loads() -> list[LineLoad]:
    """Return the load of every line that the newest list uses. Two queries."""
    rows = (
        ListedRun.objects.filter(make_list_id=newest_list_id(), line__isnull=False)
        .values("line__code")
        .annotate(runs=Count("id"), wind=Sum("run_min"), change=Sum("changeover_min"), purge=Sum("purge_kg"))
        .order_by("line__code")
    )
    return [LineLoad(r["line__code"], r["runs"], r["wind"] / 60, r["change"] / 60, r["purge"]) for r in rows]

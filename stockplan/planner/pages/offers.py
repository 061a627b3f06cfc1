"""What a field for a code offers while somebody types: a fragment that the page's script puts behind the field."""

from __future__ import annotations

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from stockplan.planner.pages.site import working_page
from stockplan.planner.selectors.offered_codes import OFFERED, offered_codes


@require_safe
@working_page("inventory.view_item")
def offers(request: HttpRequest, kind: str) -> HttpResponse:
    """Give the codes of a kind that hold what was typed (`?q=`)."""
    if kind not in OFFERED:
        raise Http404(f"No codes are called {kind!r}.")
    codes = offered_codes(kind, request.GET.get("q", ""))
    return render(request, "planner/parts/offers.html", {"codes": codes})

"""Addresses that only take a form. Whoever merely opens one, as after a log-in, is led to the page it belongs to."""

from __future__ import annotations

from collections.abc import Callable
from functools import wraps
from typing import Concatenate, ParamSpec

from django.http import HttpRequest, HttpResponse, HttpResponseNotAllowed
from django.shortcuts import redirect
from django.urls import Resolver404, resolve

Args = ParamSpec("Args")
View = Callable[Concatenate[HttpRequest, Args], HttpResponse]


def takes_form(view: View[Args]) -> View[Args]:
    """Call the view with what is sent to it; what is only looked at leads to the page above, with its query."""

    @wraps(view)
    def guarded(request: HttpRequest, /, *args: Args.args, **kwargs: Args.kwargs) -> HttpResponse:
        if request.method == "POST":
            return view(request, *args, **kwargs)
        if request.method not in ("GET", "HEAD"):
            return HttpResponseNotAllowed(["POST"])
        query = request.META.get("QUERY_STRING", "")
        return redirect(_address_above(request.path) + (f"?{query}" if query else ""))

    return guarded


def _address_above(path: str) -> str:
    """Return the nearest address above a working page's that is one's too; the start page is above them all."""
    above = path.rstrip("/").rsplit("/", 1)[0] + "/"
    try:
        # The admin site answers to every other address below its own, to say that it is not there.
        is_page = "pages" in resolve(above).namespaces
    except Resolver404:
        is_page = False
    return above if is_page else _address_above(above)

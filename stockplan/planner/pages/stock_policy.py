"""The owner's two questions of stock: what a share of orders costs, and which SKUs deserve their shelf."""

from __future__ import annotations

from django import forms
from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy
from django.views.decorators.http import require_safe

from inventory.errors import BooksError
from inventory.selectors.plant import parameters
from inventory.selectors.skus import sku_cards
from inventory.wording import in_words
from stockplan.planner.errors import PlanningError
from stockplan.planner.pages.form_address import takes_form
from stockplan.planner.pages.owner import ROWS_PER_PAGE, SEES
from stockplan.planner.pages.site import page, person_of, working_page
from stockplan.planner.selectors.shelf_advice import newest_shelf_advice
from stockplan.planner.services.order_targets import TargetAdvice, advise_order_target, set_order_target
from stockplan.planner.services.shelf_advice import advise_shelf

USUAL_PERCENT = 97


class ShareForm(forms.Form):
    """One number. The service holds the rules."""

    percent = forms.DecimalField(
        label=gettext_lazy("Orders that ship complete on their day, %"),
        max_digits=4,
        decimal_places=1,
        min_value=1,
        max_value=100,
        widget=forms.NumberInput(attrs={"step": "0.1"}),
    )

    @property
    def share(self) -> float:
        """Return the share of a valid form."""
        return float(self.cleaned_data["percent"]) / 100


@require_safe
@working_page(SEES)
def target(request: HttpRequest) -> HttpResponse:
    """Show the share that the stock is set by, and ask for another."""
    own = parameters().order_target_share
    return _show_target(request, ShareForm(initial={"percent": USUAL_PERCENT if own is None else 100 * own}))


@takes_form
@working_page(SEES)
def try_target(request: HttpRequest) -> HttpResponse:
    """Say what a share would cost in stock; nothing changes."""
    form = ShareForm(request.POST)
    if not form.is_valid():
        return _show_target(request, form, status=422)
    try:
        advice = advise_order_target(share=form.share, as_of=timezone.now())
    except (PlanningError, BooksError) as error:
        form.add_error(None, in_words(error))
        return _show_target(request, form, status=422)
    return _show_target(request, form, advice=advice)


@takes_form
@working_page(SEES)
def set_target(request: HttpRequest) -> HttpResponse:
    """Set the stock by a share of orders from now on, or, without a number, by one target for every SKU."""
    form = ShareForm(request.POST)
    wanted = bool(request.POST.get("percent"))
    if wanted and not form.is_valid():
        return _show_target(request, form, status=422)
    try:
        set_order_target(share=form.share if wanted else None, by=person_of(request))
    except PlanningError as error:
        form.add_error(None, in_words(error))
        return _show_target(request, form, status=422)
    messages.success(request, _("Set. The next forecast sets its levels by it."))
    return redirect("pages:order-target")


@require_safe
@working_page(SEES)
def shelf_worth(request: HttpRequest) -> HttpResponse:
    """Show which SKUs deserve their shelf, those of `?show=changes` kept otherwise now."""
    return _show_worth(request)


@takes_form
@working_page(SEES)
def advise_worth(request: HttpRequest) -> HttpResponse:
    """Compute the worth of the shelf from what the books know now."""
    now = timezone.now()
    try:
        advise_shelf(as_of=now, now=now)
    except (PlanningError, BooksError) as error:
        messages.error(request, _("Nothing was computed: %(why)s") % {"why": in_words(error)})
        return _show_worth(request, status=422)
    return redirect("pages:shelf-worth")


def _show_target(
    request: HttpRequest, form: ShareForm, *, advice: TargetAdvice | None = None, status: int = 200
) -> HttpResponse:
    own = parameters()
    return page(
        request,
        "planner/order_target.html",
        status=status,
        title=_("How many orders shall ship complete"),
        form=form,
        advice=advice,
        saved_share=_saved(advice) if advice else None,
        share=own.order_target_share,
        one_for_all=own.target_share,
        currency=own.currency,
    )


def _saved(advice: TargetAdvice) -> float:
    target = advice.verified.target
    return 1 - target.stock_value / target.single_sku_value


def _show_worth(request: HttpRequest, *, status: int = 200) -> HttpResponse:
    advice, asked = newest_shelf_advice(), request.GET.get("show", "")
    rows = () if advice is None else advice.changes if asked == "changes" else advice.rows
    found = Paginator(rows, ROWS_PER_PAGE).get_page(request.GET.get("page"))
    return page(
        request,
        "planner/shelf_worth.html",
        status=status,
        title=_("What the shelf is worth"),
        advice=advice,
        asked=asked,
        found=found,
        cards=sku_cards([row.sku for row in found]),
        currency=parameters().currency,
    )

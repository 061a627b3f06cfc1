"""Tags and filters of the working pages. They show; they look nothing up and decide nothing."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date, datetime
from typing import Any

from django import template
from django.template.context import Context, RequestContext
from django.template.defaultfilters import floatformat
from django.utils import formats, timezone
from django.utils.html import format_html
from django.utils.safestring import SafeString
from django.utils.translation import gettext

from forecasting.messages import Message
from inventory.wording import in_percent, in_words
from stockplan.planner import wording
from stockplan.planner.pages.replay_form import POLICY_NAMES
from stockplan.planner.pages.typed import Fault
from stockplan.planner.pages.working_pages import pages_for

register = template.Library()

# The international avoirdupois ounce: 1/16 of 0.45359237 kg.
GRAMS_PER_OUNCE, OUNCES_PER_POUND = 28.349523125, 16


@register.inclusion_tag("planner/parts/work_nav.html", takes_context=True)
def work_nav(context: RequestContext) -> dict[str, Any]:
    """Return what the row of working pages shows to this user."""
    request = context["request"]
    match = request.resolver_match
    return {"pages": pages_for(request.user), "here": f"{match.namespace}:{match.url_name}" if match else ""}


@register.simple_tag
def swatch(colour_hex: str, size: str = "") -> SafeString:
    """Draw the colour of a filament. The name stands beside it, so assistive technology skips the drawing."""
    return format_html(
        '<svg class="swatch {}" viewBox="0 0 24 24" aria-hidden="true" focusable="false">'
        '<rect x="1" y="1" width="22" height="22" rx="5" fill="{}"/></svg>',
        size,
        colour_hex,
    )


@register.simple_tag(takes_context=True)
def to_page(context: RequestContext, number: int, name: str = "", anchor: str = "") -> str:
    """Return the address of another page of one of the page's tables; the others stay where they are."""
    asked = context["request"].GET.copy()
    asked[name or "page"] = str(number)
    # What a script asked for is a part of a page; the link leads to the whole.
    asked.pop("part", None)
    return f"?{asked.urlencode()}{f'#{anchor}' if anchor else ''}"


@register.filter
def of(values: Mapping[Any, Any], key: Any) -> Any:
    """Return the value of a key, None without one."""
    return values.get(key)


@register.simple_tag
def typed_in(typed: Mapping[str, str], *name: str) -> str:
    """Return what was typed into the field of that name, whose words are parted by blanks."""
    return typed.get(" ".join(name), "")


@register.simple_tag(takes_context=True)
def faulty(context: Context, *name: str, described_by: str = "") -> SafeString:
    """Return the attributes of a field that may be at fault: it says so, is described by why, and has the focus.

    `name` as of `typed_in`; `described_by` is the id of the field's hint.
    """
    fault: Fault | None = context.get("fault")
    if fault is None or fault.field != " ".join(name):
        return format_html(' aria-describedby="{}"', described_by) if described_by else SafeString("")
    return format_html(' aria-invalid="true" aria-describedby="{}" autofocus', f"{described_by} fault".strip())


@register.simple_tag(takes_context=True)
def why_faulty(context: Context, *name: str) -> SafeString:
    """Return why a field is at fault, nothing where it is not; `name` as of `typed_in`."""
    fault: Fault | None = context.get("fault")
    if fault is None or fault.field != " ".join(name):
        return SafeString("")
    return format_html('<span class="fault" id="fault"><strong>{}</strong></span>', fault.why)


@register.filter
def said(words: Message | None) -> str:
    """Put a message of the core into the reader's words."""
    return "" if words is None else wording.said(words)


register.filter("in_words", in_words)
register.filter("method_said", wording.method_said)


@register.filter
def translated(text: str) -> str:
    """Put a word that is marked where it is defined into the reader's language."""
    return gettext(text)


@register.filter
def day(value: date | None) -> str:
    """Write a day with its weekday, in English: Thu 25 Nov."""
    return formats.date_format(value, "SHORT_DATE_FORMAT") if value else ""


@register.filter
def moment(value: datetime | None) -> str:
    """Write an instant in the plant's zone, in English: Thu 25 Nov 13:40."""
    return formats.date_format(timezone.localtime(value), "SHORT_DATETIME_FORMAT") if value else ""


@register.filter
def clock(value: datetime | None) -> str:
    """Write the time of day of an instant in the plant's zone."""
    return formats.time_format(timezone.localtime(value), "TIME_FORMAT") if value else ""


@register.filter
def percent(value: float | None) -> str:
    """Write a share as per cent with one decimal."""
    return "" if value is None else in_percent(f"{100 * value:.1f}")


@register.filter
def percent_points(value: float) -> str:
    """Write a small share as per cent with two decimals."""
    return in_percent(f"{100 * value:.2f}")


@register.filter
def policy(value: str) -> str:
    """Return what decides the runs of a replay, in words."""
    return str(POLICY_NAMES.get(value, value))


@register.filter
def hours(value_min: float) -> str:
    """Return minutes as hours with one decimal."""
    return floatformat(value_min / 60, "1g")


@register.filter
def quantile(value: float) -> str:
    """Write a quantile as per cent, without decimals that it has not: 95%."""
    return in_percent(f"{100 * value:g}")


@register.filter
def moment_after(value: datetime | None, earlier: datetime | None) -> str:
    """Write an instant; only its time of day when it is on the same local day as the earlier one."""
    if value and earlier and timezone.localtime(value).date() == timezone.localtime(earlier).date():
        return clock(value)
    return moment(value)


@register.filter
def kilograms(net_g: int) -> str:
    """Write the net mass of a spool as it is sold: 750 g below a kilogram, 2.5 kg above."""
    return f"{net_g} g" if net_g < 1000 else f"{formats.number_format(f'{net_g / 1000:g}')} kg"


@register.filter
def avoirdupois(net_g: int) -> str:
    """Write the net mass of a spool in ounces, from a pound on in pounds: 8.8 oz, 2.20 lb."""
    ounces = net_g / GRAMS_PER_OUNCE
    if ounces < OUNCES_PER_POUND:
        return f"{formats.number_format(f'{ounces:.1f}')} oz"
    return f"{formats.number_format(f'{ounces / OUNCES_PER_POUND:.2f}')} lb"


@register.filter
def minutes(value: float | None) -> str:
    """Write a duration given in minutes: 45 min, 3 h 20 min."""
    if value is None:
        return ""
    hours, rest = divmod(round(value), 60)
    return f"{hours} h {rest:02d} min" if hours else f"{rest} min"

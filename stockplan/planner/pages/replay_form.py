"""The form by which a planner asks for a replay. Shape only; the service holds the rules."""

from __future__ import annotations

from datetime import date, timedelta

from django import forms
from django.utils.translation import gettext_lazy as _

from stockplan.planner.services.replays import POLICIES, REORDER_POINT, ReplayQuestion

POLICY_NAMES = {
    POLICIES[0]: _("Make list"),
    POLICIES[1]: _("Index without look-ahead"),
    REORDER_POINT: _("Reorder points, the best of six"),
}
ONCE, CURVE = "once", "curve"
USUAL_WEEKS = 4


class ReplayForm(forms.Form):
    """Which days, under which policy, once or for every level of stock."""

    first_day = forms.DateField(label=_("First day"), widget=forms.DateInput(attrs={"type": "date"}))
    last_day = forms.DateField(label=_("Last day"), widget=forms.DateInput(attrs={"type": "date"}))
    policy = forms.ChoiceField(label=_("What decides the runs"), choices=list(POLICY_NAMES.items()))
    how = forms.ChoiceField(
        label=_("With which stock"),
        choices=[
            (ONCE, _("The levels as they are, week by week")),
            (CURVE, _("Nine levels, from a third to double: what more stock would have bought")),
        ],
    )

    @property
    def question(self) -> ReplayQuestion:
        """Return what a valid form asks."""
        given = self.cleaned_data
        return ReplayQuestion(
            given["first_day"], given["last_day"], policy=given["policy"], is_curve=given["how"] == CURVE
        )


def usual_days(today: date) -> dict[str, date]:
    """Return the last whole weeks that are over."""
    sunday = today - timedelta(days=today.isoweekday())
    return {"first_day": sunday - timedelta(days=7 * USUAL_WEEKS - 1), "last_day": sunday}

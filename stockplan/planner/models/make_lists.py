"""Make lists as they were computed: runs, their sizes, and why a filament is not on one."""

from __future__ import annotations

import uuid

from django.conf import settings
from django.db import models
from django.db.models import F, Q
from django.utils.translation import gettext_lazy as _

from inventory.models import Filament, Line, Run, Sku
from inventory.rules.texts import text
from inventory.wording import in_words
from stockplan.planner.models.forecasts import ForecastRun
from stockplan.planner.models.messages import MessageField


class MakeList(models.Model):
    """A ranked list of runs for the coming days, with what it assumed."""

    class State(models.TextChoices):
        PROPOSED = "proposed", _("proposed")
        RELEASED = "released", _("released")

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    forecast_run = models.ForeignKey(ForecastRun, on_delete=models.PROTECT, related_name="make_lists")
    as_of = models.DateTimeField(db_index=True)
    created_at = models.DateTimeField()
    created_by = models.ForeignKey(settings.AUTH_USER_MODEL, null=True, blank=True, on_delete=models.PROTECT)
    first_day = models.DateField()
    last_day = models.DateField()
    state = models.CharField(max_length=8, choices=State, default=State.PROPOSED)
    parameters = models.JSONField(default=dict)
    data_digest = models.CharField(max_length=64)
    code_version = models.CharField(max_length=40)
    assumptions = MessageField(default=list, help_text="sentences")
    misses_without = models.FloatField(help_text="expected units missed if nothing is made")
    misses_with = models.FloatField(help_text="expected units missed with this list")
    misses_on_its_days = models.FloatField(
        null=True, help_text="spools due on the list's days that will not ship on their due day; null: not counted then"
    )
    limit = MessageField(null=True, help_text="what limits the list most on its days; null: not counted then")
    hours_short_per_week = models.FloatField(help_text="line hours a week that are missing to keep the promise")
    compute_seconds = models.FloatField()

    class Meta:
        ordering = ["-as_of", "-created_at"]
        constraints = [
            models.CheckConstraint(name="makelist_days_ordered", condition=Q(first_day__lte=F("last_day"))),
        ]

    def __str__(self) -> str:
        return in_words(text("{first} to {last}", first=self.first_day, last=self.last_day))


class ListedRun(models.Model):
    """One run on a make list. Rank is by worth; place is its position on its line."""

    make_list = models.ForeignKey(MakeList, on_delete=models.CASCADE, related_name="runs")
    rank = models.PositiveIntegerField()
    filament = models.ForeignKey(Filament, on_delete=models.PROTECT, related_name="+")
    line = models.ForeignKey(Line, null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    place_on_line = models.PositiveIntegerField(null=True, blank=True)
    changeover_from = models.ForeignKey(Filament, null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    changeover_min = models.FloatField(default=0)
    run_min = models.FloatField(default=0)
    purge_kg = models.FloatField(default=0)
    resin_kg = models.FloatField(default=0)
    concentrate_kg = models.FloatField(default=0)
    hopper = models.ForeignKey("inventory.Hopper", null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    drying_from = models.DateTimeField(null=True, blank=True)
    start = models.DateTimeField(null=True, blank=True)
    end = models.DateTimeField(null=True, blank=True)
    shelf_at = models.DateTimeField(null=True, blank=True)
    shelf_day = models.DateField(null=True, blank=True)
    misses_avoided = models.FloatField(help_text="expected units, marginal in rank order")
    worth_per_hour = models.FloatField(help_text="expected misses avoided per line hour, changeover included")
    runs_out_on = models.DateField(null=True, blank=True, help_text="day on which the shelf is expected to run out")
    reason = MessageField()
    explanation = MessageField(default=list, help_text="sentences: what it is for, and why there")
    more_if_dropped = models.FloatField(null=True, help_text="misses more without it, all other runs in place")
    more_a_day_later = models.FloatField(null=True, help_text="misses more with its spools shelved a ship day later")
    is_blocked = models.BooleanField(default=False)
    missing = models.JSONField(default=list, help_text="[{item, kg_or_pieces, buy_by}]")
    is_pinned = models.BooleanField(default=False)
    run = models.OneToOneField(Run, null=True, blank=True, on_delete=models.PROTECT, related_name="listed")

    class Meta:
        verbose_name = "run on a make list"
        verbose_name_plural = "runs on make lists"
        ordering = ["make_list", "rank"]
        constraints = [
            models.UniqueConstraint(fields=["make_list", "rank"], name="listedrun_rank_unique_in_list"),
            models.UniqueConstraint(
                fields=["make_list", "line", "place_on_line"], name="listedrun_place_unique_on_line"
            ),
            models.CheckConstraint(
                name="listedrun_placed_or_blocked",
                condition=Q(is_blocked=True) | Q(line__isnull=False, start__isnull=False, end__isnull=False),
            ),
        ]

    def __str__(self) -> str:
        return f"{self.rank}. {self.filament_id}"


class ListedRunSize(models.Model):
    """Spools of one size on a listed run, with the figures that justify them."""

    listed_run = models.ForeignKey(ListedRun, on_delete=models.CASCADE, related_name="sizes")
    sku = models.ForeignKey(Sku, on_delete=models.PROTECT, related_name="+")
    spools = models.PositiveIntegerField()
    free = models.IntegerField(help_text="shelf less open orders due, when the list was made")
    order_up_to = models.PositiveIntegerField()
    misses_avoided = models.FloatField()
    arrivals = models.JSONField(default=list, help_text="[{day, spools}]: the first ship day that they can serve")

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["listed_run", "sku"], name="listedrunsize_one_per_run_and_sku"),
        ]

    def __str__(self) -> str:
        return f"{self.spools} x {self.sku_id}"


class NotListed(models.Model):
    """Why a filament is not on the list, in one sentence."""

    class Cause(models.TextChoices):
        ENOUGH = "enough", _("enough on hand")
        BLOCKED = "blocked", _("blocked")
        NOT_WORTH = "not_worth", _("not worth its changeover")
        NO_ROOM = "no_room", _("no line time left")
        FORBIDDEN = "forbidden", _("forbidden by the planner")
        NO_LINE = "no_line", _("no line can make it")

    make_list = models.ForeignKey(MakeList, on_delete=models.CASCADE, related_name="not_listed")
    filament = models.ForeignKey(Filament, on_delete=models.PROTECT, related_name="+")
    cause = models.CharField(max_length=9, choices=Cause)
    sentence = MessageField()

    class Meta:
        verbose_name = "filament not listed"
        verbose_name_plural = "filaments not listed"
        ordering = ["filament__code"]
        constraints = [
            models.UniqueConstraint(fields=["make_list", "filament"], name="notlisted_one_per_list_and_filament")
        ]

    def __str__(self) -> str:
        return str(self.sentence)

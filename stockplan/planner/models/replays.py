"""What replays of past days came to."""

from __future__ import annotations

from django.conf import settings
from django.db import models
from django.db.models import F, Q
from django.db.models.lookups import IsNull

from inventory.rules.texts import text
from inventory.wording import in_words
from stockplan.planner.models.messages import MessageField


class StoredReplay(models.Model):
    """What a replay of past days came to, as the replay page shows it."""

    policy = models.CharField(max_length=20)
    is_curve = models.BooleanField(help_text="rows are points of an exchange curve, else weeks and their total")
    first_day = models.DateField()
    last_day = models.DateField()
    computed_at = models.DateTimeField()
    conditions = MessageField(help_text="sentences")
    rows = models.JSONField(help_text="label, days, orders, lines, units, stock and line use of each row")

    class Meta:
        ordering = ["-computed_at", "-id"]
        constraints = [
            models.CheckConstraint(name="storedreplay_days_ordered", condition=Q(first_day__lte=F("last_day"))),
        ]

    def __str__(self) -> str:
        days = {"first": self.first_day, "last": self.last_day}
        return in_words(text("{policy}, {first} to {last}", policy=self.policy, **days))


class AskedReplay(models.Model):
    """A replay that somebody asked for on a page: how far it is, and why it failed if it did."""

    policy = models.CharField(max_length=20)
    is_curve = models.BooleanField(help_text="once for each point of an exchange curve, else once")
    first_day = models.DateField()
    last_day = models.DateField()
    asked_at = models.DateTimeField()
    asked_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    seen_at = models.DateTimeField(help_text="when its process was last heard of")
    days_done = models.PositiveIntegerField(default=0)
    days_in_all = models.PositiveIntegerField(default=0, help_text="0 until the books are read")
    ended_at = models.DateTimeField(null=True, blank=True)
    failure = MessageField(null=True, blank=True, help_text="empty if it came to its end")

    class Meta:
        ordering = ["-asked_at", "-id"]
        constraints = [
            models.CheckConstraint(name="askedreplay_days_ordered", condition=Q(first_day__lte=F("last_day"))),
            models.CheckConstraint(name="askedreplay_done_within_all", condition=Q(days_done__lte=F("days_in_all"))),
            models.CheckConstraint(
                name="askedreplay_fails_when_it_ends", condition=Q(failure__isnull=True) | Q(ended_at__isnull=False)
            ),
            models.UniqueConstraint(
                IsNull(F("ended_at"), True), name="askedreplay_one_under_way", condition=Q(ended_at__isnull=True)
            ),
        ]

    def __str__(self) -> str:
        days = {"first": self.first_day, "last": self.last_day}
        return in_words(text("{policy}, {first} to {last}", policy=self.policy, **days))

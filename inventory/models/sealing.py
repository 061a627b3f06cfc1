"""Seals of the ledger, each chained to the one before."""

from __future__ import annotations

from django.db import models
from django.db.models import F, Q

from inventory.rules.seals import SealBody


class LedgerSeal(models.Model):
    """One batch of movements, sealed. It is written once and refers to movements by their ids, without a key.

    A key would lock rows of the posting path, and a movement that was taken away must be found missing, not be
    kept from being looked for.
    """

    number = models.PositiveIntegerField()
    first_id = models.PositiveBigIntegerField(help_text="first id of a movement that it answers for")
    last_id = models.PositiveBigIntegerField()
    open_ranges = models.JSONField(default=list, help_text="first and last of ids that no movement had then")
    late_ids = models.JSONField(default=list, help_text="ids that earlier seals left open and that it seals")
    root = models.CharField(max_length=64, help_text="Merkle root over the movements")
    previous_hash = models.CharField(max_length=64)
    seal_hash = models.CharField(max_length=64)
    sealed_at = models.DateTimeField()

    class Meta:
        ordering = ["number"]
        constraints = [
            models.UniqueConstraint(fields=["number"], name="ledgerseal_one_per_number"),
            models.CheckConstraint(name="ledgerseal_number_from_one", condition=Q(number__gte=1)),
            # One less for the first id: a seal of late movements only answers for no new ids.
            models.CheckConstraint(name="ledgerseal_ids_ordered", condition=Q(last_id__gte=F("first_id") - 1)),
        ]

    @property
    def body(self) -> SealBody:
        """What its hash covers."""
        return SealBody(
            number=self.number,
            first_id=self.first_id,
            last_id=self.last_id,
            open_ranges=tuple((first, last) for first, last in self.open_ranges),
            late_ids=tuple(self.late_ids),
            root=self.root,
            previous_hash=self.previous_hash,
            sealed_at=self.sealed_at,
        )

    def __str__(self) -> str:
        return f"{self.number} {self.seal_hash}"

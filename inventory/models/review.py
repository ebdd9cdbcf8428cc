"""Contradictions between the record and the ground, kept until a person has settled them."""

from __future__ import annotations

from django.db import models


class ReviewQuerySet(models.QuerySet["ReviewItem"]):
    def open(self) -> ReviewQuerySet:
        return self.filter(settled_at=None)

    def one_a_card(self) -> ReviewQuerySet:
        """Of the open items that share an event and a code the first: a card is one decision, however many pieces."""
        same = ReviewItem.objects.open().filter(event=models.OuterRef("event"), code=models.OuterRef("code"))
        return self.filter(~models.Exists(same.filter(pk__lt=models.OuterRef("pk"))))


class ReviewItem(models.Model):
    """One card: a finding of the fold, an unmatched code, a conflict, or a clock in doubt."""

    code = models.CharField(max_length=40)
    event = models.ForeignKey("inventory.Event", models.PROTECT, null=True, related_name="reviews")
    submission = models.ForeignKey("inventory.Submission", models.PROTECT, null=True, related_name="reviews")
    piece = models.ForeignKey("inventory.Piece", models.PROTECT, null=True, related_name="reviews")
    loud = models.BooleanField(default=False, help_text="Somebody could be hurt: unfit gear in use.")
    opened_at = models.DateTimeField()
    settled_at = models.DateTimeField(null=True, blank=True)
    settled_by = models.ForeignKey("inventory.Person", models.PROTECT, null=True, related_name="+")
    how = models.CharField(max_length=200, blank=True)

    objects = ReviewQuerySet.as_manager()

    class Meta:
        ordering = ["-loud", "opened_at", "id"]
        constraints = [
            models.UniqueConstraint(fields=["event", "piece", "code"], name="a_contradiction_is_raised_once"),
        ]
        indexes = [models.Index(fields=["settled_at", "-loud", "opened_at"], name="review_waiting")]

    def __str__(self) -> str:
        return f"{self.code} ({'settled' if self.settled_at else 'open'})"

"""Places where gear can be. Which place is which job's site or pour is for jobs to know."""

from __future__ import annotations

from collections.abc import Iterable

from django.db import connection, models

from inventory.lifecycle.kinds import PlaceKind
from inventory.lifecycle.world import Places

KINDS = {kind.value: kind for kind in PlaceKind}


class PlaceQuerySet(models.QuerySet["Place"]):
    def yards(self) -> PlaceQuerySet:
        return self.filter(kind=PlaceKind.YARD)

    def sites(self) -> PlaceQuerySet:
        return self.filter(kind=PlaceKind.SITE)

    def in_use(self) -> PlaceQuerySet:
        return self.filter(closed=False)

    def as_world(self) -> Places:
        """Kinds and parents of all places, as the fold wants them: one query."""
        with connection.cursor() as cursor:  # asked with every scan: see inventory.selectors.rows
            cursor.execute(self.world_sql())
            return self.world_of(cursor.fetchall())

    def world_sql(self) -> str:
        return f'SELECT "id", "kind", "parent_id" FROM "{self.model._meta.db_table}"'

    def world_of(self, rows: Iterable[tuple[int, str, int | None]]) -> Places:
        kinds, parents = {}, {}
        for pk, kind, parent in rows:
            kinds[pk] = KINDS[kind]
            if parent is not None:
                parents[pk] = parent
        return Places(kinds, parents)


class Place(models.Model):
    name = models.CharField(max_length=80)
    kind = models.CharField(max_length=20, choices=[(k.value, k.value) for k in PlaceKind])
    parent = models.ForeignKey("self", models.PROTECT, null=True, blank=True, related_name="parts")
    address = models.TextField(blank=True)
    closed = models.BooleanField(default=False, help_text="Hidden from choices; what happened here stays.")

    objects = PlaceQuerySet.as_manager()

    class Meta:
        ordering = ["name", "id"]
        constraints = [
            models.UniqueConstraint(fields=["name", "parent"], name="a_name_is_used_once_within_a_place"),
            models.UniqueConstraint(
                fields=["name"],
                condition=models.Q(parent=None),
                name="a_name_is_used_once_at_the_top",
                violation_error_message="There is a place of this name already: open that one, or choose another name.",
            ),
            models.CheckConstraint(
                condition=models.Q(parent=None) | ~models.Q(kind__in=["yard", "site"]),
                name="yards_and_sites_are_not_inside_another_place",
                violation_error_message="A yard or a site is not part of another place: leave that empty.",
            ),
        ]

    def __str__(self) -> str:
        return self.name if self.parent_id is None else f"{self.parent}, {self.name}"

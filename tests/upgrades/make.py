"""Writes down a small database as this version leaves it, for the upgrade test of every version after it.

python -m tests.upgrades.make 0.1.0
"""

from __future__ import annotations

import json
import os
import sys
import tempfile
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

HERE = Path(__file__).parent
START = datetime(2026, 3, 2, 6, 0, tzinfo=UTC)
APPS = ("auth", "inventory", "jobs")
LEFT_OUT = {"auth.Permission", "auth.Group_permissions"}  # made by every migrate, so never in the way


def _yard() -> None:
    """A pour set, cast, stripped and partly returned; a late scan, a reversal, counted goods, a job with a panel."""
    from inventory.lifecycle.events import Group
    from inventory.lifecycle.kinds import GroupKind, Kind, PlaceKind
    from inventory.models import Docket, GearType, Person, Place
    from inventory.services.recording import record
    from inventory.services.registering import NewPiece, register_pieces
    from inventory.services.reports import Report
    from inventory.tags import code

    by = Person.objects.create(name="Hand One")
    yard = Place.objects.create(name="North yard", kind=PlaceKind.YARD)
    site = Place.objects.create(name="Quay site", kind=PlaceKind.SITE)
    pour = Place.objects.create(name="Pour 1", kind=PlaceKind.POUR, parent=site)
    form = GearType.objects.create(
        code="EF150-3000-1", name="Edge form", kind="edge form", section_mm=150, length_mm=3000,
        splayed_ends=1, mass_kg="14.4", replacement_value="180", clean_after_every_pour=True,
    )  # fmt: skip
    bolt = GearType.objects.create(code="BOLT", name="Stud bolt", kind="bolt", tracked="by count", mass_kg="0.1")
    docket = Docket.objects.create(
        number="D-1", direction="out", from_place=yard, to_place=site, opened_at=START, opened_by=by
    )
    new = [NewPiece(form.pk, (code.make(),), yard.pk) for _ in range(6)]
    pieces = register_pieces(new, by=by, happened_at=START, now=START)

    def say(kind: Kind, hours: float, **said: Any) -> Report:
        report = Report(kind, START + timedelta(hours=hours), **said)
        record([report], by=by, now=START + timedelta(hours=hours + 1))
        return report

    whole = Group(GroupKind.POUR, pour.pk)
    for piece in pieces[:5]:
        say(Kind.SENT, 1, piece=piece.pk, docket=docket.pk)
    say(Kind.COUNTED, 1, type=bolt.pk, quantity=200, place=yard.pk)
    say(Kind.SENT, 2, group=Group(GroupKind.DOCKET, docket.pk), docket=docket.pk)
    say(Kind.RECEIVED, 4, group=Group(GroupKind.DOCKET, docket.pk), docket=docket.pk, place=site.pk)
    for piece in pieces[:4]:
        say(Kind.SET, 5, piece=piece.pk, place=pour.pk)
    say(Kind.CAST, 8, group=whole, place=pour.pk)
    say(Kind.STRIPPED, 30, group=whole, place=site.pk)
    wrong = say(Kind.FOUND_DAMAGED, 31, piece=pieces[0].pk, place=site.pk, data={"grade": "unfit"})
    say(Kind.REVERSED, 32, piece=pieces[0].pk, target=wrong.id)
    say(Kind.RETURNED, 33, piece=pieces[1].pk, place=yard.pk, data={"dirty": True})
    say(Kind.SET, 6, piece=pieces[4].pk, place=pour.pk)  # arrives after the cast and still gets it
    _job(site, yard, pour)


def _job(site: Any, yard: Any, place: Any) -> None:
    from jobs.models import Customer, Job, Panel, Pour

    customer = Customer.objects.create(code="QUAY", name="Quay Panels (invented)")
    job = Job.objects.create(
        code="J-1", name="Quay shed", customer=customer, site=site, yard=yard, starts_on=START.date(), asked_at=START
    )
    pour = Pour.objects.create(job=job, name="Pour 1", place=place, cast_on=START.date())
    Panel.objects.create(
        job=job, pour=pour, mark="P1", stack="A", level=1, thickness_mm=150, width_mm=6000, height_mm=4000
    )


def _rows() -> dict[str, list[dict[str, Any]]]:
    from django.apps import apps
    from django.core.serializers.json import DjangoJSONEncoder

    found = {}
    for app in APPS:
        for model in apps.get_app_config(app).get_models(include_auto_created=True):
            rows = list(model._base_manager.order_by("pk").values())
            if rows and model._meta.label not in LEFT_OUT:
                found[model._meta.label] = json.loads(json.dumps(rows, cls=DjangoJSONEncoder))
    return found


def _standing_at() -> list[list[str]]:
    from django.db import connection
    from django.db.migrations.loader import MigrationLoader

    loader = MigrationLoader(connection, replace_migrations=False)
    squashed = loader.replacements.keys()
    return sorted(list(leaf) for leaf in loader.graph.leaf_nodes() if leaf[0] in APPS and leaf not in squashed)


def main(name: str) -> Path:
    os.environ["POURBACK_DATABASE_URL"] = f"sqlite:///{tempfile.mkdtemp()}/made.sqlite3"
    os.environ.setdefault("POURBACK_DEMO", "1")
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "config.settings")
    import django
    from django.core.management import call_command

    django.setup()
    call_command("migrate", verbosity=0)
    _yard()
    path = HERE / f"{name}.json"
    path.write_text(json.dumps({"migrations": _standing_at(), "rows": _rows()}, indent=1) + "\n")
    return path


if __name__ == "__main__":
    print(main(sys.argv[1]))

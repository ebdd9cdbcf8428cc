from django.db import migrations


def plan_the_cuts(apps, schema_editor):
    """Wishes counted for nothing; each that still stands becomes a plan for lengths that lie in a yard."""
    get = apps.get_model
    cuts, parts, types = get("inventory", "PlannedCut"), get("inventory", "PlannedPart"), get("inventory", "GearType")
    for wish in get("jobs", "RecutWish").objects.filter(settled_at=None).order_by("by_day", "id"):
        for line in wish.lines:
            into = [types.objects.filter(code=code).first() for code in line["into"]]
            free = get("inventory", "Piece").objects.filter(
                type__code=line["from"], standing="held", place__kind="yard", hired_in=None, planned_cuts=None
            )
            for piece in free.exclude(fitness="unfit").order_by("dirty", "-uses", "pk")[: line["times"]]:
                cut = cuts.objects.create(
                    piece=piece,
                    ready_on=wish.by_day,
                    why=f"wanted for {wish.job.code}",
                    asked_at=wish.asked_at,
                    asked_by=wish.asked_by,
                )
                parts.objects.bulk_create(parts(cut=cut, type=kind) for kind in into if kind is not None)


class Migration(migrations.Migration):
    dependencies = [
        ("inventory", "0021_lengths_are_planned_to_be_cut_down"),
        ("jobs", "0014_how_far_the_yards_are_apart"),
    ]

    operations = [
        migrations.RunPython(plan_the_cuts, migrations.RunPython.noop),
        migrations.DeleteModel(name="RecutWish"),
    ]

"""Common practice, no source: a yard puts its own words in their place under Yard settings."""

from django.db import migrations

REASONS = (
    ("bent out of line", "watch"),
    ("concrete set hard on it", "watch"),
    ("end burred or worn", "watch"),
    ("hook or thread worn", "unfit"),
    ("twisted along its length", "unfit"),
    ("weld or body cracked", "unfit"),
)


def seed(apps, schema_editor):
    """Without a reason to choose, a phone could not mark damage on a yard's first day. A yard that has its own keeps
    them as they are."""
    reasons = apps.get_model("inventory", "DamageReason")
    if not reasons.objects.exists():
        reasons.objects.bulk_create(reasons(words=words, usual_grade=grade) for words, grade in REASONS)


class Migration(migrations.Migration):
    dependencies = [("inventory", "0017_lots_and_their_months_runs_of_uses_and_dirty_spells")]
    operations = [migrations.RunPython(seed, migrations.RunPython.noop)]

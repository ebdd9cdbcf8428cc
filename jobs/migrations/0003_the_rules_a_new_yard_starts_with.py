"""Common practice, no source: placeholders until the maker's and the engineer's figures are put in."""

from django.db import migrations

from jobs.planning.seeded_rules import seeded_rules


def _seed(apps, schema_editor):
    rules = apps.get_model("jobs", "TakeOffRule")
    for rule in seeded_rules():
        spacing = rule.spacing
        rules.objects.get_or_create(
            name=rule.code,
            defaults={
                "what": rule.what,
                "per": rule.per,
                "levels": rule.levels,
                "quantity": rule.quantity,
                "spacing_mm": spacing and spacing.greatest_mm,
                "end_distance_mm": spacing and spacing.end_mm,
                "sets_positions": rule.sets_positions,
                "used_up": rule.used_up,
                "spare_percent": rule.spare_percent,
            },
        )


class Migration(migrations.Migration):
    dependencies = [("jobs", "0002_take_off_rules_name_an_article_and_its_type")]
    operations = [migrations.RunPython(_seed, migrations.RunPython.noop)]

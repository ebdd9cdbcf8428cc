from django.db import migrations

SUMMARIES = ("FiguresMark", "LotMonth", "PieceStay", "PieceMonth", "PieceRun", "PieceDirty", "PieceLife", "Lot")


def forget(apps, schema_editor):
    """What was summed before has neither counted spans nor sets, so it is summed anew when next asked for.

    By itself, before the tables change: PostgreSQL alters no table whose rows it has still to look after.
    """
    alias = schema_editor.connection.alias
    for name in SUMMARIES:
        rows = apps.get_model("inventory", name).objects.using(alias).all()
        rows._raw_delete(alias)


class Migration(migrations.Migration):
    dependencies = [
        ("inventory", "0022_batches_are_called_batches"),
    ]

    operations = [
        migrations.RunPython(forget, migrations.RunPython.noop),
    ]

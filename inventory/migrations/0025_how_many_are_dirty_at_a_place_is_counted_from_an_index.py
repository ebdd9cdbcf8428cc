
from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [
        ('inventory', '0024_the_figures_keep_counted_spans_and_sets'),
    ]

    operations = [
        migrations.AddIndex(
            model_name='piece',
            index=models.Index(condition=models.Q(('dirty', True)), fields=['standing', 'place'], name='piece_dirty_at_a_place'),
        ),
    ]

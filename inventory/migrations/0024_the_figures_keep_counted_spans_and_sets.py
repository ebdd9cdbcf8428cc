import django.db.models.deletion
from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [
        ('inventory', '0023_what_was_summed_of_lives_is_forgotten'),
    ]

    operations = [
        migrations.CreateModel(
            name='CastSet',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('month', models.DateField()),
                ('pieces', models.BinaryField()),
            ],
            options={
                'ordering': ['month', 'id'],
            },
        ),
        migrations.CreateModel(
            name='SpanCount',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('cell', models.CharField(max_length=120, unique=True)),
                ('by', models.CharField(max_length=8)),
                ('maker_batch', models.CharField(blank=True, max_length=40)),
                ('year', models.PositiveIntegerField(null=True)),
                ('entry', models.PositiveIntegerField()),
                ('exit', models.PositiveIntegerField()),
                ('ended', models.CharField(blank=True, max_length=12)),
                ('fit', models.BooleanField(default=False)),
                ('n', models.IntegerField()),
            ],
            options={
                'ordering': ['id'],
            },
        ),
        migrations.RemoveField(
            model_name='piecerun',
            name='ended',
        ),
        migrations.RemoveField(
            model_name='piecerun',
            name='lot',
        ),
        migrations.AddField(
            model_name='lot',
            name='pieces',
            field=models.BinaryField(default=b'', help_text='Packed, as inventory.selectors.piece_sets has it.'),
        ),
        migrations.AddField(
            model_name='lotmonth',
            name='shed_us',
            field=models.BigIntegerField(default=0),
        ),
        migrations.AddField(
            model_name='lotmonth',
            name='soiled_us',
            field=models.BigIntegerField(default=0),
        ),
        migrations.AddField(
            model_name='lotmonth',
            name='stayed_us',
            field=models.BigIntegerField(default=0),
        ),
        migrations.AddField(
            model_name='piecelife',
            name='told',
            field=models.TextField(default=''),
        ),
        migrations.AlterField(
            model_name='piecelife',
            name='lot',
            field=models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='lives', to='inventory.lot'),
        ),
        migrations.AddIndex(
            model_name='piecelife',
            index=models.Index(condition=models.Q(('entered_anew', True)), fields=['piece'], name='piece_life_astray'),
        ),
        migrations.AddField(
            model_name='castset',
            name='place',
            field=models.ForeignKey(null=True, on_delete=django.db.models.deletion.CASCADE, related_name='+', to='inventory.place'),
        ),
        migrations.AddField(
            model_name='spancount',
            name='place',
            field=models.ForeignKey(null=True, on_delete=django.db.models.deletion.CASCADE, related_name='+', to='inventory.place'),
        ),
        migrations.AddField(
            model_name='spancount',
            name='type',
            field=models.ForeignKey(null=True, on_delete=django.db.models.deletion.CASCADE, related_name='+', to='inventory.geartype'),
        ),
        migrations.DeleteModel(
            name='PieceDirty',
        ),
        migrations.DeleteModel(
            name='PieceMonth',
        ),
        migrations.DeleteModel(
            name='PieceStay',
        ),
        migrations.AddIndex(
            model_name='spancount',
            index=models.Index(fields=['by'], name='span_count_by'),
        ),
    ]


import django.db.models.deletion
from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [
        ('production', '0004_records'),
    ]

    operations = [
        migrations.AddField(
            model_name='entry',
            name='before_sha256',
            field=models.CharField(blank=True, max_length=64),
        ),
        migrations.AddField(
            model_name='entry',
            name='by_login',
            field=models.CharField(default='', max_length=160),
            preserve_default=False,
        ),
        migrations.CreateModel(
            name='Checkpoint',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('size', models.PositiveBigIntegerField()),
                ('root_sha256', models.CharField(max_length=64)),
                ('note', models.TextField()),
                ('signed_at', models.DateTimeField()),
                ('key_id', models.CharField(max_length=16)),
                ('kitchen', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='checkpoints', to='production.kitchen')),
            ],
            options={
                'ordering': ('size', 'pk'),
                'constraints': [models.UniqueConstraint(fields=('kitchen', 'size', 'key_id'), name='checkpoint_once_per_kitchen_size_key_id')],
            },
        ),
    ]

import django.db.models.deletion
from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [
        ("production", "0005_checkpoints"),
    ]

    operations = [
        migrations.AddField(
            model_name="reading",
            name="confirmed",
            field=models.BooleanField(default=False),
        ),
        migrations.CreateModel(
            name="SafetyPlan",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("reheats_allowed", models.PositiveIntegerField(default=1)),
                ("second_person_excludes", models.BooleanField(default=False)),
                ("kitchen", models.OneToOneField(on_delete=django.db.models.deletion.PROTECT, related_name="safety_plan", to="production.kitchen")),
            ],
            options={
                "constraints": [models.CheckConstraint(condition=models.Q(("reheats_allowed__lte", 1)), name="safety_plan_one_reheat_at_most")],
            },
        ),
        migrations.RemoveConstraint(
            model_name="document",
            name="document_kind_allowed",
        ),
        migrations.AlterField(
            model_name="document",
            name="kind",
            field=models.CharField(
                choices=[
                    ("batch_sheet", "Batch Sheet"),
                    ("cooling_log", "Cooling Log"),
                    ("purchase_list", "Purchase List"),
                    ("week_overview", "Week Overview"),
                    ("completed_cooling_log", "Completed Cooling Log"),
                ],
                max_length=40,
            ),
        ),
        migrations.AlterField(
            model_name="document",
            name="key",
            field=models.CharField(max_length=160),
        ),
        migrations.AddConstraint(
            model_name="document",
            constraint=models.CheckConstraint(
                condition=models.Q(("kind__in", ["batch_sheet", "cooling_log", "purchase_list", "week_overview", "completed_cooling_log"])),
                name="document_kind_allowed",
            ),
        ),
    ]

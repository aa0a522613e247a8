"""How a person wants the steps shown; verdicts of steps that are struck, not done or not known."""

import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("jobs", "0003_pinned_procedures"),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]
    operations = [
        migrations.CreateModel(
            name="StepsShown",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("one_a_page", models.BooleanField(default=False)),
                (
                    "who",
                    models.OneToOneField(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="steps_shown",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
            ],
        ),
        migrations.AlterField(
            model_name="stepentry",
            name="verdict",
            field=models.CharField(
                choices=[
                    ("started", "started"),
                    ("passed", "passed"),
                    ("failed", "failed"),
                    ("stopped", "stopped, safe"),
                    ("struck", "struck"),
                    ("not-done", "not done"),
                    ("not-known", "not known"),
                ],
                max_length=10,
            ),
        ),
    ]

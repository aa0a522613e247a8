"""A verdict for a leak hold's reading that can't be told yet."""

from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("jobs", "0006_names_as_they_were_counters_sheets")]
    operations = [
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
                    ("not-yet", "read, can’t be told yet"),
                ],
                max_length=10,
            ),
        ),
    ]

"""An owner's signed reason stays with the plan that it let through. Plans frozen before have none."""

from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("jobs", "0004_steps_shown_and_left")]

    operations = [
        migrations.AddField(
            model_name="frozenplan", name="reason", field=models.CharField(blank=True, default="", max_length=500)
        )
    ]

"""A small index over the step entries: what failed. What must not be opened is asked of the whole workshop."""

from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("jobs", "0012_on_the_bench")]
    operations = [
        migrations.AddIndex(
            model_name="stepentry",
            index=models.Index(fields=["verdict"], condition=models.Q(verdict="failed"), name="step_failed"),
        ),
    ]

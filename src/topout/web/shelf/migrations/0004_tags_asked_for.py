"""That a tag was asked for, for the printer: by whom, when, and what it said."""

import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("shelf", "0003_stroke_reducers"), migrations.swappable_dependency(settings.AUTH_USER_MODEL)]
    operations = [
        migrations.CreateModel(
            name="TagPrint",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("number", models.PositiveIntegerField()),
                ("who_name", models.CharField(max_length=310)),
                ("at", models.DateTimeField()),
                ("words", models.TextField(max_length=1000)),
                ("stop", models.BooleanField()),
                (
                    "tag",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="prints", to="shelf.tag"
                    ),
                ),
                (
                    "who",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to=settings.AUTH_USER_MODEL
                    ),
                ),
            ],
            options={
                "ordering": ["tag", "number"],
                "constraints": [models.UniqueConstraint(fields=["tag", "number"], name="tag_print_number")],
            },
        ),
    ]

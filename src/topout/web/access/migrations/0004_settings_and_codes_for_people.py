"""Settings of the workshop with every change of them; one-time codes for each person; wrong passwords by address."""

import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models


def set_up_before(apps, schema_editor):
    """A workshop that has accounts was set up before there were questions for it."""
    alias = schema_editor.connection.alias
    if apps.get_model("auth", "User").objects.using(alias).exists():
        for row in apps.get_model("access", "Workshop").objects.using(alias).all():
            row.set_up_at = row.started_at
            row.save(update_fields=["set_up_at"])


def person(**more):
    return models.ForeignKey(
        null=True, on_delete=django.db.models.deletion.PROTECT, related_name="+", to=settings.AUTH_USER_MODEL, **more
    )


class Migration(migrations.Migration):
    dependencies = [("access", "0003_key_before_answer"), ("auth", "0012_alter_user_first_name_max_length")]

    operations = [
        migrations.AddField("workshop", "time_zone", models.CharField(blank=True, default="", max_length=60)),
        migrations.AddField("workshop", "pressure_unit", models.CharField(default="psi", max_length=8)),
        migrations.AddField("workshop", "length_unit", models.CharField(default="mm", max_length=8)),
        migrations.AddField("workshop", "paper", models.CharField(default="a4", max_length=12)),
        migrations.AddField("workshop", "currency", models.CharField(blank=True, default="", max_length=8)),
        migrations.AddField("workshop", "set_up_at", models.DateTimeField(null=True)),
        migrations.RunPython(set_up_before, migrations.RunPython.noop),
        migrations.CreateModel(
            name="SettingChange",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("at", models.DateTimeField()),
                ("who", person()),
                ("name", models.CharField(max_length=60)),
                ("was", models.CharField(blank=True, max_length=200)),
                ("became", models.CharField(blank=True, max_length=200)),
            ],
        ),
        migrations.SeparateDatabaseAndState(
            state_operations=[
                migrations.RenameModel("StartCode", "OneTimeCode"),
                migrations.AlterModelTable("OneTimeCode", "access_startcode"),
            ]
        ),
        migrations.AddField("onetimecode", "user", person()),
        migrations.AddField("onetimecode", "made_by", person()),
        migrations.AlterField("wrongtries", "device", models.CharField(blank=True, default="", max_length=60)),
    ]

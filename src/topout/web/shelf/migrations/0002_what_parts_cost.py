from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("shelf", "0001_initial")]

    operations = [
        migrations.AddField("part", "cost", models.DecimalField(decimal_places=2, max_digits=9, null=True)),
        migrations.AddField("part", "waiting_days", models.PositiveSmallIntegerField(null=True)),
        migrations.AddField("part", "changed_at", models.DateTimeField(null=True)),
        migrations.AddField("part", "changed_by", models.CharField(blank=True, default="", max_length=150)),
        migrations.AlterField(
            "part",
            "kind",
            models.CharField(
                choices=[
                    ("air shaft", "air shaft"), ("volume spacer", "volume spacer"), ("coil", "coil spring"), ("seal", "seal"),
                    ("ring", "retaining ring"), ("oil", "oil"), ("tyre", "tyre"), ("other", "other"),
                ],
                max_length=20,
            ),
        ),
    ]

from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("shelf", "0002_what_parts_cost")]

    operations = [
        migrations.AlterField(
            "part",
            "kind",
            models.CharField(
                choices=[
                    ("air shaft", "air shaft"), ("volume spacer", "volume spacer"), ("coil", "coil spring"), ("seal", "seal"),
                    ("ring", "retaining ring"), ("oil", "oil"), ("tyre", "tyre"), ("stroke reducer", "stroke reducer"),
                    ("other", "other"),
                ],
                max_length=20,
            ),
        ),
    ]

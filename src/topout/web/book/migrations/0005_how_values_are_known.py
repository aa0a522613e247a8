"""How each value of a unit is known: measured here, from the maker's sheet, a guess."""

from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("book", "0004_in_order_of_names")]
    operations = [
        migrations.AddField("unit", "worth", models.JSONField(default=dict)),
        migrations.AddField("historicalunit", "worth", models.JSONField(default=dict)),
    ]

"""An instrument's kind is spelt as the pages spell it."""

from django.db import migrations


def respelt(old, new):
    def change(apps, schema_editor):
        rows = apps.get_model("jobs", "Instrument").objects.using(schema_editor.connection.alias)
        rows.filter(kind=old).update(kind=new)

    return change


class Migration(migrations.Migration):
    dependencies = [("jobs", "0008_rider_notes")]

    operations = [migrations.RunPython(respelt("calliper", "caliper"), respelt("caliper", "calliper"))]

"""Two vehicles, or two items of a kind, may not differ by capital letters alone."""

from django.db import migrations, models
from django.db.models.functions import Upper


def let_guards_be_made_anew(apps, schema_editor):
    """
    Take the two exclusion constraints off PostgreSQL; after migrating they come back.

    On SQLite the guards are made anew after every migration anyway.
    """
    if schema_editor.connection.vendor != "postgresql":
        return
    for table, guard in (
        ("register_vehicleversion", "register_vehicle_number_taken"),
        ("register_equipmentversion", "register_equipment_serial_taken"),
    ):
        schema_editor.execute(
            f'ALTER TABLE "{table}" DROP CONSTRAINT IF EXISTS "{guard}"'
        )


class Migration(migrations.Migration):
    dependencies = [("register", "0002_reservoir_walls")]

    operations = [
        migrations.AddIndex(
            model_name="equipmentversion",
            index=models.Index(Upper("serial"), name="register_item_serialled"),
        ),
        migrations.AddIndex(
            model_name="vehicleversion",
            index=models.Index(Upper("number"), name="register_vehicle_numbered"),
        ),
        migrations.RunPython(let_guards_be_made_anew, migrations.RunPython.noop),
    ]

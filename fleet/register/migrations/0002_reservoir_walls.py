from decimal import Decimal

import django.core.validators
from django.db import migrations, models

import fleet.register.vocabulary


class Migration(migrations.Migration):
    dependencies = [
        ("register", "0001_initial"),
    ]

    operations = [
        migrations.AddField(
            model_name="reservoirparticulars",
            name="allowable_stress_mpa",
            field=models.DecimalField(
                blank=True,
                decimal_places=2,
                help_text="Of the material, as the drawing or its standard gives it; not its tensile strength.",
                max_digits=6,
                null=True,
                validators=[django.core.validators.MinValueValidator(Decimal("0.01"))],
                verbose_name="allowable stress (MPa)",
            ),
        ),
        migrations.AddField(
            model_name="reservoirparticulars",
            name="crown_radius_mm",
            field=models.DecimalField(
                blank=True,
                decimal_places=1,
                help_text="Inside; of dished and flanged ends only.",
                max_digits=6,
                null=True,
                validators=[django.core.validators.MinValueValidator(Decimal("0.01"))],
                verbose_name="crown radius of the ends (mm)",
            ),
        ),
        migrations.AddField(
            model_name="reservoirparticulars",
            name="diameter_at",
            field=models.CharField(
                blank=True,
                choices=[
                    ("", "Not stated"),
                    ("inside", "Inside"),
                    ("outside", "Outside"),
                ],
                default=fleet.register.vocabulary.DiameterAt["NONE"],
                max_length=7,
                verbose_name="diameter measured",
            ),
        ),
        migrations.AddField(
            model_name="reservoirparticulars",
            name="diameter_mm",
            field=models.DecimalField(
                blank=True,
                decimal_places=1,
                help_text="What follows is asked only where no minimum thickness is on drawing or plate: then it is worked out by formula, if all of it is given.",
                max_digits=6,
                null=True,
                validators=[django.core.validators.MinValueValidator(Decimal("0.01"))],
                verbose_name="diameter (mm)",
            ),
        ),
        migrations.AddField(
            model_name="reservoirparticulars",
            name="end_shape",
            field=models.CharField(
                blank=True,
                choices=[
                    ("", "Not stated"),
                    ("hemisphere", "Hemisphere"),
                    ("ellipse", "Ellipse 2:1"),
                    ("torisphere", "Dished and flanged, knuckle 6 % of the crown"),
                ],
                default=fleet.register.vocabulary.VesselEnd["NONE"],
                max_length=12,
                verbose_name="shape of the ends",
            ),
        ),
        migrations.AddField(
            model_name="reservoirparticulars",
            name="joint_efficiency",
            field=models.DecimalField(
                blank=True,
                decimal_places=2,
                help_text="Of the worst joint: above 0, up to 1.",
                max_digits=3,
                null=True,
                validators=[
                    django.core.validators.MinValueValidator(Decimal("0.01")),
                    django.core.validators.MaxValueValidator(1),
                ],
            ),
        ),
        migrations.AddField(
            model_name="reservoirparticulars",
            name="material",
            field=models.CharField(blank=True, default="", max_length=60),
        ),
        migrations.AlterField(
            model_name="reservoirparticulars",
            name="minimum_thickness_mm",
            field=models.DecimalField(
                blank=True,
                decimal_places=2,
                max_digits=5,
                null=True,
                validators=[django.core.validators.MinValueValidator(Decimal("0.01"))],
                verbose_name="minimum thickness from plate or drawing (mm)",
            ),
        ),
        migrations.AlterField(
            model_name="reservoirparticulars",
            name="volume_l",
            field=models.DecimalField(
                blank=True,
                decimal_places=2,
                max_digits=7,
                null=True,
                validators=[django.core.validators.MinValueValidator(Decimal("0.01"))],
                verbose_name="volume (l)",
            ),
        ),
        migrations.AlterField(
            model_name="reservoirparticulars",
            name="working_pressure_bar",
            field=models.DecimalField(
                blank=True,
                decimal_places=2,
                max_digits=5,
                null=True,
                validators=[django.core.validators.MinValueValidator(Decimal("0.01"))],
                verbose_name="working pressure (bar)",
            ),
        ),
    ]

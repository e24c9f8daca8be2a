"""The defects slice."""

from django.apps import AppConfig


class DefectsConfig(AppConfig):
    """Defects, work in hand and isolations."""

    name = "fleet.defects"
    label = "defects"
    default_auto_field = "django.db.models.BigAutoField"

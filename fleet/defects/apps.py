"""The app of this slice."""

from django.apps import AppConfig


class DefectsConfig(AppConfig):
    """Defect tickets and isolations."""

    name = "fleet.defects"
    verbose_name = "Defects"

"""The upkeep slice."""

from django.apps import AppConfig


class UpkeepConfig(AppConfig):
    """Requirements and due dates."""

    name = "fleet.upkeep"
    label = "upkeep"
    default_auto_field = "django.db.models.BigAutoField"

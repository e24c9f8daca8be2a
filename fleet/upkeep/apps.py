"""The app of this slice."""

from django.apps import AppConfig


class UpkeepConfig(AppConfig):
    """Requirements, due dates and concessions."""

    name = "fleet.upkeep"
    verbose_name = "Upkeep"

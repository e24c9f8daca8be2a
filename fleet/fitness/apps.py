"""The app of this slice."""

from django.apps import AppConfig


class FitnessConfig(AppConfig):
    """What the records say about each brake system on each day."""

    name = "fleet.fitness"
    verbose_name = "Fitness"

"""The fitness slice."""

from django.apps import AppConfig


class FitnessConfig(AppConfig):
    """Brake status: vehicle files, rules, findings, spans."""

    name = "fleet.fitness"
    label = "fitness"
    default_auto_field = "django.db.models.BigAutoField"

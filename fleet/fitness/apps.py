"""The fitness slice; it listens to every deed."""

from django.apps import AppConfig


class FitnessConfig(AppConfig):
    """Brake status: vehicle files, rules, findings, spans."""

    name = "fleet.fitness"
    label = "fitness"
    default_auto_field = "django.db.models.BigAutoField"

    def ready(self) -> None:
        """Have brake status follow the facts."""
        from fleet.fitness.services import on_deed
        from fleet.records.deeds import listen

        listen(on_deed)

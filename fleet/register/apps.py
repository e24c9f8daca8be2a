"""The register slice."""

from django.apps import AppConfig


class RegisterConfig(AppConfig):
    """Vehicles, types and positions, equipment, fittings, usage, storage."""

    name = "fleet.register"
    label = "register"
    default_auto_field = "django.db.models.BigAutoField"

"""The app of this slice."""

from django.apps import AppConfig


class RegisterConfig(AppConfig):
    """Vehicles, equipment, positions and fittings: what is where, since when."""

    name = "fleet.register"
    verbose_name = "Register"

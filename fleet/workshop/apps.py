"""The workshop slice."""

from django.apps import AppConfig


class WorkshopConfig(AppConfig):
    """Forecast, running diary, capacity, exchange units, programme."""

    name = "fleet.workshop"
    label = "workshop"
    default_auto_field = "django.db.models.BigAutoField"

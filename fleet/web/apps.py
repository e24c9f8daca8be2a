"""The app of this slice."""

from django.apps import AppConfig


class WebConfig(AppConfig):
    """Screens that join slices."""

    name = "fleet.web"
    verbose_name = "Screens"

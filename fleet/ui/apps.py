"""The app of this slice."""

from django.apps import AppConfig


class UiConfig(AppConfig):
    """Pieces of pages that any slice uses."""

    name = "fleet.ui"
    verbose_name = "Pages"

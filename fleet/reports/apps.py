"""The app of this slice."""

from django.apps import AppConfig


class ReportsConfig(AppConfig):
    """Every printed paper."""

    name = "fleet.reports"
    verbose_name = "Reports"

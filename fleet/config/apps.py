"""The app of this slice."""

from django.apps import AppConfig


class ConfigConfig(AppConfig):
    """Settings, root addresses and the commands that run everything."""

    name = "fleet.config"
    verbose_name = "Configuration"

"""The records slice; puts the guards back after every migration."""

from django.apps import AppConfig
from django.db.models.signals import post_migrate


class RecordsConfig(AppConfig):
    """What makes a row a fact."""

    name = "fleet.records"
    label = "records"
    default_auto_field = "django.db.models.BigAutoField"

    def ready(self) -> None:
        """Install guards on every slice's tables once they exist."""
        from fleet.records.guards import install_after_migrate

        post_migrate.connect(install_after_migrate, dispatch_uid="records.guards")

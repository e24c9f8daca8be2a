"""The people slice; puts the roles back after every migration."""

from django.apps import AppConfig
from django.db.models.signals import post_migrate


class PeopleConfig(AppConfig):
    """People: users who log in, persons who do and sign, roles."""

    name = "fleet.people"
    label = "people"
    default_auto_field = "django.db.models.BigAutoField"

    def ready(self) -> None:
        """Install groups and permissions once the tables exist."""
        from fleet.people.roles import install_after_migrate

        post_migrate.connect(
            install_after_migrate, sender=self, dispatch_uid="people.roles"
        )

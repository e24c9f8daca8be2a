"""The people slice."""

from django.apps import AppConfig


class PeopleConfig(AppConfig):
    """People: users who log in, persons who do and sign, roles."""

    name = "fleet.people"
    label = "people"
    default_auto_field = "django.db.models.BigAutoField"

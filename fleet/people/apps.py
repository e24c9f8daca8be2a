"""The app of this slice."""

from django.apps import AppConfig


class PeopleConfig(AppConfig):
    """Who logs in, who does and signs, and what they may."""

    name = "fleet.people"
    verbose_name = "People"

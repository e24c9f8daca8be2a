"""The examination slice."""

from django.apps import AppConfig


class ExaminationConfig(AppConfig):
    """Procedures, test records and readings."""

    name = "fleet.examination"
    label = "examination"
    default_auto_field = "django.db.models.BigAutoField"

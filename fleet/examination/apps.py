"""The app of this slice."""

from django.apps import AppConfig


class ExaminationConfig(AppConfig):
    """Procedures, instruments, tests and their readings."""

    name = "fleet.examination"
    verbose_name = "Examination"

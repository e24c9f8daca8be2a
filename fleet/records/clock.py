"""The one place that reads the clock."""

import datetime as dt

from django.utils import timezone


def now() -> dt.datetime:
    """Return the present time, aware."""
    return timezone.now()


def today() -> dt.date:
    """Return the present day where the register is kept."""
    return timezone.localdate()

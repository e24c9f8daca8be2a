"""Running numbers within a year; who takes one holds the lock of numbers."""

from django.db import models
from django.db.models import Max


def next_count(model: type[models.Model], year: int) -> int:
    """Return the next count of a year for a model with `year` and `count`, from 1."""
    taken = model._base_manager.filter(year=year).aggregate(most=Max("count"))
    return int(taken["most"] or 0) + 1

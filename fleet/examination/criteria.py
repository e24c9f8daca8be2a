"""Lines that do not say what is good enough."""

import datetime as dt

from django.db.models import Q, QuerySet

from fleet.examination.models.procedures import ProcedureLine, ProcedureRevision
from fleet.examination.vocabulary import LineKind, Stage


def lines_without_criterion(day: dt.date) -> "QuerySet[ProcedureLine]":
    """Return the lines in force on a day that leave the judgement to whoever tests."""
    in_force = ProcedureRevision.objects.in_force(day)
    lines = ProcedureLine.objects.filter(lacking(), revision__in=in_force)
    return lines.select_related("revision__procedure").order_by(
        "revision__title", "order"
    )


def lacking(prefix: str = "") -> Q:
    """
    Return what picks such lines; `prefix` is the way from another table to them.

    What was found is judged by what was left; a trace and a survey have limits of
    their own.
    """
    question = Q(**{f"{prefix}kind": LineKind.QUESTION})
    unlimited = Q(
        **{
            f"{prefix}kind": LineKind.MEASURED,
            f"{prefix}low__isnull": True,
            f"{prefix}high__isnull": True,
        }
    )
    found = Q(**{f"{prefix}stage": Stage.AS_FOUND})
    return Q(**{f"{prefix}criterion": ""}) & (question | unlimited) & ~found

"""Figures of a number such as 2026-0012, as columns the database works out itself."""

from django.db.models import IntegerField
from django.db.models.fields.generated import GeneratedField
from django.db.models.functions import Cast, Substr


def figure(first: int, length: int | None = None) -> GeneratedField:
    """
    Return a column that holds part of `number` as an integer, from its nth sign on.

    Text sorts 10000 before 9999; the figure does not, and cannot differ from the number.
    """
    return GeneratedField(
        expression=Cast(Substr("number", first, length), IntegerField()),
        output_field=IntegerField(),
        db_persist=True,
    )

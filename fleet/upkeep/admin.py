"""Upkeep in the admin: to look, never to change."""

from django.contrib import admin

from fleet.records.admin import ReadOnlyAdmin
from fleet.upkeep.models import (
    ConditionsRevision,
    MatrixRevision,
    RequirementRevision,
)


@admin.register(RequirementRevision)
class RequirementRevisionAdmin(ReadOnlyAdmin):
    """Requirements in all their revisions."""

    list_display = (
        "requirement",
        "number",
        "title",
        "effective_from",
        "withdrawn_from",
        "change",
    )
    list_filter = ("subject", "effect", "change")
    list_select_related = ("requirement",)
    search_fields = ("title", "requirement__code")


@admin.register(MatrixRevision)
class MatrixRevisionAdmin(ReadOnlyAdmin):
    """Lines of the change → test matrix in all their revisions."""

    list_display = (
        "line",
        "number",
        "change_kind",
        "kind",
        "effective_from",
        "withdrawn_from",
        "change",
    )
    list_filter = ("change_kind", "effect", "change")
    list_select_related = ("line",)


@admin.register(ConditionsRevision)
class ConditionsRevisionAdmin(ReadOnlyAdmin):
    """General conditions in all their revisions."""

    list_display = ("number", "effective_from", "source", "change")

"""Admin of this slice: to look, never to change."""

from django.contrib import admin

from fleet.defects.models import (
    ClearingPolicy,
    Defect,
    DefectStep,
    Isolation,
    IsolationLine,
    IsolationVersion,
    MoveAuthority,
    WorkInHand,
)
from fleet.records.admin import ReadOnlyAdmin


@admin.register(Defect)
class DefectAdmin(ReadOnlyAdmin):
    """Defect tickets."""

    list_display = ("pk", "title", "vehicle", "equipment", "position")
    list_select_related = ("vehicle", "equipment")
    search_fields = ("title",)


@admin.register(DefectStep)
class DefectStepAdmin(ReadOnlyAdmin):
    """Steps of defects, with every version."""

    list_display = ("defect", "number", "step", "scope", "effect", "by", "change")
    list_filter = ("step", "effect", "change")
    list_select_related = ("defect", "by")


@admin.register(WorkInHand)
class WorkInHandAdmin(ReadOnlyAdmin):
    """Work in hand, with every version."""

    list_display = ("vehicle", "what", "since_earliest", "until_earliest", "change")
    list_select_related = ("vehicle",)


@admin.register(Isolation)
class IsolationAdmin(ReadOnlyAdmin):
    """Isolations."""

    list_display = ("pk", "vehicle", "system")
    list_filter = ("system",)
    list_select_related = ("vehicle",)


@admin.register(IsolationVersion)
class IsolationVersionAdmin(ReadOnlyAdmin):
    """Isolation records, with every version."""

    list_display = ("isolation", "extent", "complete", "since_earliest", "change")
    list_filter = ("complete", "change")
    list_select_related = ("isolation",)


@admin.register(IsolationLine)
class IsolationLineAdmin(ReadOnlyAdmin):
    """Lines of isolation records."""

    list_display = ("version", "label", "found", "left", "done")
    list_select_related = ("version",)


@admin.register(MoveAuthority)
class MoveAuthorityAdmin(ReadOnlyAdmin):
    """Authorities to move, with every version."""

    list_display = ("isolation", "destination", "given_by", "since_earliest", "change")
    list_select_related = ("isolation", "given_by")


@admin.register(ClearingPolicy)
class ClearingPolicyAdmin(ReadOnlyAdmin):
    """What is asked before work is cleared."""

    list_display = ("number", "effective_from", "release_needed_from", "change")

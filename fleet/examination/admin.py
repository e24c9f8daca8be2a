"""Admin of examination: to look, never to change."""

from django.contrib import admin

from fleet.examination.models import (
    Calibration,
    InstrumentVersion,
    ProcedureRevision,
    TestRecord,
)
from fleet.records.admin import ReadOnlyAdmin


@admin.register(ProcedureRevision)
class ProcedureRevisionAdmin(ReadOnlyAdmin):
    """Procedures, revision by revision."""

    list_display = ("procedure", "number", "title", "subject", "effective_from")
    list_filter = ("subject",)
    list_select_related = ("procedure",)


@admin.register(TestRecord)
class TestRecordAdmin(ReadOnlyAdmin):
    """Test records, every version."""

    list_display = ("test", "procedure_revision", "on_latest", "passed", "change")
    list_filter = ("passed", "change")
    list_select_related = ("test", "procedure_revision")


@admin.register(InstrumentVersion)
class InstrumentVersionAdmin(ReadOnlyAdmin):
    """Instruments, every version."""

    list_display = ("number", "what", "state", "since_earliest", "change")
    list_filter = ("state", "change")


@admin.register(Calibration)
class CalibrationAdmin(ReadOnlyAdmin):
    """Calibrations, every version."""

    list_display = ("instrument", "on_latest", "as_found_good", "good_until", "change")
    list_filter = ("as_found_good", "change")
    list_select_related = ("instrument",)

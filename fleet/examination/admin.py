"""Admin of examination: to look, never to change."""

from django.contrib import admin

from fleet.examination.models import ProcedureRevision, TestRecord
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

"""Looking at tests: the list, and the page of one with all its versions."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render

from fleet.examination.filters import TestFilter
from fleet.examination.models import Test, TestRecord
from fleet.examination.sheet import sheet_of
from fleet.examination.subjects import tested_in
from fleet.examination.survey_forms import thicknesses_of
from fleet.examination.tables import TestTable
from fleet.examination.trace_pages import traces_of
from fleet.people.access import may
from fleet.ui.tables import paged


def test_list(request: HttpRequest) -> HttpResponse:
    """Show tests, newest first, narrowed as asked."""
    narrowed = TestFilter(request.GET, queryset=TestRecord.objects.current().for_list())
    table = paged(TestTable(narrowed.qs), request)
    context = {
        "filter": narrowed,
        "table": table,
        "may_record": may(request.user, "record_facts"),
    }
    return render(request, "examination/test_list.html", context)


def test_page(request: HttpRequest, pk: int) -> HttpResponse:
    """Show a test: its newest record, and every one before it."""
    test = get_object_or_404(Test, pk=pk)
    newest, *earlier = (
        sheet_of(record) for record in test.records.for_page().order_by("-pk")
    )
    context = {
        "test": test,
        "sheet": newest,
        "record": newest.record,
        "earlier": earlier,
        "tested": tested_in(newest.record),
        "may_record": may(request.user, "record_facts"),
        "traces": traces_of(newest.record),
        "thicknesses": thicknesses_of(newest.record),
    }
    return render(request, "examination/test.html", context)

"""Looking at tests: the list, and the page of one with all its versions."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render

from fleet.engineering.calendar import Moment
from fleet.examination.filters import TestFilter
from fleet.examination.flags import flags_of
from fleet.examination.forces import forces_of
from fleet.examination.models import Test, TestRecord
from fleet.examination.sheet import sheet_of
from fleet.examination.subjects import tested_in
from fleet.examination.surveys import surveys_of
from fleet.examination.tables import TestTable
from fleet.examination.trace_pages import traces_of
from fleet.people.access import may, person_of, signed_in
from fleet.people.competence import competent_persons
from fleet.people.models import Person
from fleet.records.clock import today
from fleet.ui.tables import paged


def test_list(request: HttpRequest) -> HttpResponse:
    """Show tests, newest first, narrowed as asked."""
    narrowed = TestFilter(request.GET, queryset=TestRecord.objects.current().for_list())
    table = paged(TestTable(narrowed.qs), request)
    table.flags = flags_of(row.record for row in table.page.object_list)
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
    flags = flags_of([newest.record])[newest.record.pk]
    signers = _signers(newest.record) if flags.unsigned else []
    context = {
        "flags": flags,
        "signers": signers,
        "may_sign": bool(signers) and person_of(signed_in(request)) in signers,
        "test": test,
        "sheet": newest,
        "record": newest.record,
        "earlier": earlier,
        "tested": tested_in(newest.record),
        "may_record": may(request.user, "record_facts"),
        "forces": forces_of(newest.record) if newest.record.is_current else [],
        "traces": traces_of(newest.record),
        "surveys": surveys_of(newest.record),
    }
    return render(request, "examination/test.html", context)


def _signers(record: TestRecord) -> list[Person]:
    """Return who may counter-sign a record today."""
    skill = record.procedure_revision.skill
    competent = competent_persons(skill, Moment.on(today()))
    return [person for person in competent if person.pk != record.done_by_id]

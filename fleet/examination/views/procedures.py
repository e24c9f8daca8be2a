"""Looking at procedures: the list, and the page of one with its revisions."""

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render

from fleet.examination.criteria import lines_without_criterion
from fleet.examination.models import Procedure, ProcedureRevision
from fleet.examination.revisions import changes_of
from fleet.examination.tables import ProcedureTable
from fleet.people.access import may
from fleet.records.clock import today
from fleet.ui.tables import paged


def procedure_list(request: HttpRequest) -> HttpResponse:
    """Show the procedures in force."""
    in_force = ProcedureRevision.objects.in_force(today()).for_list()
    table = paged(ProcedureTable(in_force), request)
    return render(request, "examination/procedure_list.html", {"table": table})


def procedure_page(request: HttpRequest, code: str) -> HttpResponse:
    """Show a procedure's lines, by the revision in force or the one asked for."""
    procedure = get_object_or_404(Procedure, code=code)
    revisions = list(procedure.revisions.for_page())
    shown = _shown(revisions, request.GET.get("revision", ""))
    before = _before(revisions, shown, request.GET.get("against", ""))
    context = {
        "procedure": procedure,
        "shown": shown,
        "revisions": revisions[::-1],
        "in_force": _in_force(revisions),
        "before": before,
        "changes": before and changes_of(before, shown),
        "draft": procedure.drafts.first(),
        "may_draft": may(request.user, "plan_work"),
    }
    return render(request, "examination/procedure.html", context)


def criteria(request: HttpRequest) -> HttpResponse:
    """Show the lines in force that do not say what is good enough."""
    day = today()
    context = {"lines": list(lines_without_criterion(day)), "day": day}
    return render(request, "examination/criteria.html", context)


def _before(
    revisions: list[ProcedureRevision], shown: ProcedureRevision, asked: str
) -> ProcedureRevision | None:
    """Return what a revision is held against: as asked, else the one before it."""
    by_number = {str(revision.number): revision for revision in revisions}
    if asked and asked not in by_number:
        raise Http404
    if asked:
        return by_number[asked]
    return next((r for r in revisions[::-1] if r.number < shown.number), None)


def _shown(revisions: list[ProcedureRevision], asked: str) -> ProcedureRevision:
    by_number = {str(revision.number): revision for revision in revisions}
    if asked and asked not in by_number:
        raise Http404
    return by_number.get(asked) or _in_force(revisions) or revisions[0]


def _in_force(revisions: list[ProcedureRevision]) -> ProcedureRevision | None:
    begun = [r for r in revisions if r.effective_from <= today()]
    return begun[-1] if begun else None

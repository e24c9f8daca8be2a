"""The papers people print, as PDF."""

from csp.decorators import csp_exempt
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.utils import timezone
from django.utils.http import content_disposition_header
from django.utils.text import slugify
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_safe

from fleet.examination.models import Procedure
from fleet.people.access import needs
from fleet.records.clock import now, today
from fleet.records.knowledge import Knowledge
from fleet.reports.asked import (
    NotAsked,
    day_asked,
    depot_asked,
    known_asked,
    tested_asked,
)
from fleet.reports.blank_loading import blank_sheet_of
from fleet.reports.certificate_loading import certificate_of
from fleet.reports.loading import fleet_report_of, printed_at, statement_of
from fleet.reports.release_loading import release_of
from fleet.reports.sheet import Printed


# Browsers show a PDF inside a page of their own making, which the policy would blank.
@csp_exempt()
@require_safe
@never_cache
@needs("print_reports")
def statement(request: HttpRequest, pk: int) -> HttpResponse:
    """Print the fitness statement of a vehicle."""
    try:
        on = day_asked(request.GET, today=today())
        known = known_asked(request.GET)
    except NotAsked as error:
        return refusal(request, error)
    sheet = statement_of(pk, on=on, printed=printing(known))
    if sheet is None:
        raise Http404
    from fleet.reports.statement_paper import draw_statement  # loads the PDF library

    return paper(draw_statement(sheet), f"statement {sheet.head.subject} {on}")


@csp_exempt()
@require_safe
@never_cache
@needs("print_reports")
def fleet_report(request: HttpRequest) -> HttpResponse:
    """Print the fitness report of the fleet, or of one depot."""
    try:
        on = day_asked(request.GET, today=today())
        depot = depot_asked(request.GET)
    except NotAsked as error:
        return refusal(request, error)
    sheet = fleet_report_of(depot, on=on, printed=printing())
    from fleet.reports.fleet_paper import draw_fleet_report  # loads the PDF library

    return paper(draw_fleet_report(sheet), f"fleet {depot or ''} {on}")


@csp_exempt()
@require_safe
@never_cache
@needs("print_reports")
def certificate(request: HttpRequest, pk: int) -> HttpResponse:
    """Print the certificate of a test."""
    sheet = certificate_of(pk, printed=printing())
    if sheet is None:
        raise Http404
    from fleet.reports.certificate_paper import (
        draw_certificate,
    )  # loads the PDF library

    return paper(draw_certificate(sheet), f"test {pk} {sheet.head.subject}")


@csp_exempt()
@require_safe
@never_cache
@needs("print_reports")
def release(request: HttpRequest, pk: int) -> HttpResponse:
    """Print the signed release of a vehicle to traffic."""
    sheet = release_of(pk, printed=printing())
    if sheet is None:
        raise Http404
    from fleet.reports.release_paper import draw_release  # loads the PDF library

    return paper(draw_release(sheet), f"release {sheet.head.subject} {pk}")


@csp_exempt()
@require_safe
@never_cache
@needs("print_reports")
def blank_sheet(request: HttpRequest, code: str) -> HttpResponse:
    """Print the sheet of a procedure to be filled in with a pencil."""
    procedure = get_object_or_404(Procedure, code=code)
    try:
        on = day_asked(request.GET, today=today())
        sheet = blank_sheet_of(
            procedure,
            tested_asked(request.GET),
            on=on,
            printed=printing(),
            home=request.build_absolute_uri("/"),
        )
    except NotAsked as error:
        return refusal(request, error)
    from fleet.reports.blank_paper import draw_blank_sheet  # loads the PDF library

    return paper(draw_blank_sheet(sheet), f"sheet {sheet.head.subject} {on}")


def printing(known: Knowledge | None = None) -> Printed:
    """Return when the paper asked for is made, and on which records."""
    at = timezone.localtime(now())
    if known is None:
        return printed_at(at)
    return Printed(at, known.number, timezone.localtime(known.at))


def paper(pdf: bytes, name: str) -> HttpResponse:
    """Answer with a PDF to be looked at, and named when it is kept."""
    kept_as = content_disposition_header(
        as_attachment=False, filename=f"{slugify(name)}.pdf"
    )
    headers = {"Content-Disposition": kept_as or "inline"}
    return HttpResponse(pdf, content_type="application/pdf", headers=headers)


def refusal(request: HttpRequest, error: NotAsked) -> HttpResponse:
    """Answer an address that asks for what cannot be printed."""
    return render(request, "reports/refusal.html", {"reason": error}, status=400)

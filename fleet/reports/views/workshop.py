"""The papers of a published programme: its wall sheet, and the sheet of each visit."""

from csp.decorators import csp_exempt
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404
from django.urls import reverse
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_safe

from fleet.people.access import needs
from fleet.records.clock import today
from fleet.reports.asked import NotAsked
from fleet.reports.views.papers import paper, printing, refusal
from fleet.upkeep.due import written
from fleet.workshop.engine.written import read_problem, read_programme
from fleet.workshop.models import PlannedVisit, Programme
from fleet.workshop.wall import visit_sheet, wall_sheet


@csp_exempt()
@require_safe
@never_cache
@needs("print_reports")
def wall(request: HttpRequest, number: int) -> HttpResponse:
    """Print a programme for the wall, `?size=a4` or `a3`."""
    found = get_object_or_404(
        Programme.objects.select_related("published_by"), number=number
    )
    from fleet.reports.wall_paper import (  # loads the PDF library
        PAPERS,
        WallPaper,
        draw_wall_sheet,
    )

    size = request.GET.get("size", "a4").lower()
    if size not in PAPERS:
        reason = NotAsked(f"There is no paper {size} here. Ask for size=a4 or size=a3.")
        return refusal(request, reason)
    sheet = wall_sheet(read_problem(found.problem), read_programme(found.result))
    published = f"Published {written(found.published_on)} by {found.published_by}"
    printed = WallPaper(found.number, found.title, published, found.note, sheet)
    pdf = draw_wall_sheet(printed, printing(), PAPERS[size])
    return paper(pdf, f"programme {number} {size}")


@csp_exempt()
@require_safe
@never_cache
@needs("print_reports")
def visit(request: HttpRequest, number: int, pk: int) -> HttpResponse:
    """Print the sheet of a visit of a published programme."""
    found = get_object_or_404(
        PlannedVisit.objects.select_related("programme"),
        pk=pk,
        programme__number=number,
    )
    from fleet.reports.visit_paper import draw_visit_sheet  # loads the PDF library

    sheet = visit_sheet(found, today())
    page = reverse("workshop:planned-visit", args=[number, pk])
    pdf = draw_visit_sheet(sheet, printing(), request.build_absolute_uri(page))
    return paper(pdf, f"visit {sheet.number} {sheet.monday}")

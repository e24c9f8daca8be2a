"""The page of what is required of each kind of equipment in use, and what tests it."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render

from fleet.records.clock import today
from fleet.web.coverage import coverage


def coverage_page(request: HttpRequest) -> HttpResponse:
    """Show the kinds in use, those nothing is required of and nothing tests first."""
    rows = coverage(today())
    context = {
        "rows": rows,
        "day": today(),
        "unrequired": sum(not row.required for row in rows),
        "untested": sum(not row.tested for row in rows),
    }
    return render(request, "web/coverage.html", context)

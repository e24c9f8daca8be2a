"""Pages of the workshop sums: the list of them, and one sum with its working."""

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render

from fleet.records.clock import today
from fleet.register.models import Vehicle
from fleet.ui.cautions import caution
from fleet.web.sums.book import GROUPS, SUMS
from fleet.web.sums.filling import Filled, filled_from
from fleet.web.sums.parts import Answer, Sum

LONGEST_KEY = 18  # digits a key of the database can have


def sums(request: HttpRequest) -> HttpResponse:
    """List the workshop sums."""
    context = {"groups": GROUPS, "filled": _filled(request, None)}
    return render(request, "web/sums.html", context)


def sum_page(request: HttpRequest, name: str) -> HttpResponse:
    """Show one sum: its form, and once it is filled in, what it comes to."""
    asked = SUMS.get(name)
    if asked is None:
        raise Http404
    filled = _filled(request, asked)
    initial = filled.initial if filled else {}
    form = asked.form(request.GET if "go" in request.GET else None, initial=initial)
    answer: Answer | None = None
    if form.is_bound and form.is_valid():
        try:
            answer = asked.work(form.cleaned_data)
        except ValueError as refusal:
            form.add_error(None, str(refusal))
    cautions = [caution(key) for key in asked.cautions]
    context = {"sum": asked, "form": form, "answer": answer, "filled": filled}
    return render(request, "web/sum.html", context | {"cautions": cautions})


def _filled(request: HttpRequest, asked: Sum | None) -> Filled | None:
    key = request.GET.get("vehicle", "")
    if not key:
        return None
    if not key.isdecimal() or len(key) > LONGEST_KEY:
        raise Http404
    vehicle = get_object_or_404(Vehicle, pk=int(key))
    return filled_from(vehicle, asked.system if asked else None, today())

"""Screens that join the slices: board, vehicle, due list, rules, practice, search."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render

from fleet.defects.models import DefectStep, WorkInHand
from fleet.examination.instruments import particulars_of
from fleet.examination.judging import plain
from fleet.examination.models import Instrument, TestRecord
from fleet.fitness.deferring import deferring
from fleet.fitness.rules import BOOK
from fleet.fitness.snapshots import held
from fleet.fitness.status import is_stale
from fleet.records.clock import today
from fleet.register.models import Vehicle, VehicleVersion
from fleet.register.search import find
from fleet.ui.tables import paged
from fleet.web.asked import BoardForm, DayForm, DueForm
from fleet.web.board import board_page
from fleet.web.due_list import due_rows, overrun
from fleet.web.history import log_of
from fleet.web.if_done_part import if_done_part
from fleet.web.isolated_part import isolated_part
from fleet.web.known_part import known_part
from fleet.web.leaning import leaning_page
from fleet.web.practice import practice_page
from fleet.web.rule_pages import rule_page, rule_rows
from fleet.web.tables import DueTable
from fleet.web.vehicle_page import vehicle_page

LONGEST_SEARCH = 80  # letters


def board(request: HttpRequest) -> HttpResponse:
    """Show who may run braked on a day."""
    asked = BoardForm.asked(request.GET)
    context = {
        "asked": asked,
        "depot": asked.value("depot"),
        "today": today(),
        "page": board_page(asked, request),
    }
    return render(request, "web/board.html", context)


def vehicle(request: HttpRequest, pk: int) -> HttpResponse:
    """Show all that is recorded of a vehicle, and what follows from it on a day."""
    found = get_object_or_404(Vehicle, pk=pk)
    asked = DayForm(request.GET)
    day = asked.day
    known = asked.known_at
    tests = TestRecord.objects.known_at(known).by_day(day)
    defects = DefectStep.objects.newest(day, known)
    newest = (
        VehicleVersion.objects.known_at(known).holding_on(day).filter(vehicle=found)
    )
    context = {
        "page": vehicle_page(found, day, known_at=known),
        "ahead": if_done_part(found, day, request.GET) if known is None else None,
        "asked": asked,
        "today": today(),
        "tare": plain(newest.values_list("tare_t", flat=True).first()),
        "known": known_part(asked, found),
        "holds": held(pk) if known is None else (),
        "stale": known is None and is_stale(found.pk),
        "tests": tests.filter(vehicle=found).for_list()[:8],
        "defects": defects.of_vehicle(found, day, known).for_list()[:8],
        "isolated": isolated_part(found, day, known),
        "released": WorkInHand.objects.known_at(known).newest_released(found, day)[:3],
        "log": log_of(found, known_at=known),
    }
    return render(request, "web/vehicle.html", context)


def due_list(request: HttpRequest) -> HttpResponse:
    """Show what falls due across the fleet."""
    asked = DueForm.asked(request.GET)
    day = today()
    context = {
        "asked": asked,
        "table": paged(
            DueTable(due_rows(asked, day), deferring=deferring(day), day=day), request
        ),
        "last": asked.until(day),
        "overdue": overrun(day),
    }
    return render(request, "web/due.html", context)


def rule_list(request: HttpRequest) -> HttpResponse:
    """Show every rule of the book."""
    context = {"rows": rule_rows(BOOK), "version": BOOK.version}
    return render(request, "web/rules.html", context)


def rule(request: HttpRequest, code: str) -> HttpResponse:
    """Show one rule: why it is there, its source, what clears it, who it bears on."""
    return render(request, "web/rule.html", {"page": rule_page(BOOK, code)})


def practice(request: HttpRequest) -> HttpResponse:
    """Show the operator's requirements, change and test matrix and conditions."""
    return render(request, "web/practice.html", {"page": practice_page(today())})


def search(request: HttpRequest) -> HttpResponse:
    """Find vehicles and items by number, serial number or a word of the trade."""
    found = find(request.GET.get("q", "")[:LONGEST_SEARCH])
    only = found.only
    if only is not None:
        thing = only.vehicle if isinstance(only, VehicleVersion) else only.equipment
        return redirect(thing)
    return render(request, "web/search.html", {"found": found})


def in_question(request: HttpRequest, pk: int) -> HttpResponse:
    """Show which brake statuses lean on tests that an instrument puts in question."""
    instrument = get_object_or_404(Instrument, pk=pk)
    context = {
        "instrument": instrument,
        "version": particulars_of(instrument),
        "page": leaning_page(instrument, today()),
    }
    return render(request, "web/in_question.html", context)

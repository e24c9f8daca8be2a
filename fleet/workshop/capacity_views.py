"""The page of what the workshop has, week by week."""

import datetime as dt
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render

from fleet.people.models import Skill
from fleet.records.clock import today
from fleet.workshop.capacity import capacity, week_of
from fleet.workshop.models import (
    ClosureVersion,
    ContractorVersion,
    ShopPlaceVersion,
    WorkTimeVersion,
)
from fleet.workshop.month_drawing import hours_bars
from fleet.workshop.naming import place_names
from fleet.workshop.showing import span_words
from fleet.workshop.vocabulary import Each, Place, many

WEEKS = 26


def capacity_page(request: HttpRequest) -> HttpResponse:
    """Show hours, places, closures and contractors, and what they come to."""
    start = week_of(today())
    there = capacity(start, WEEKS)
    skills = [(Skill(name).label, hours) for name, hours in there.hours.items()]
    context = {
        "skills": [name for name, _ in skills],
        "drawings": [
            (name, hours_bars(name, hours, start, there.closed))
            for name, hours in skills
        ],
        "weeks": [
            {
                "monday": start + dt.timedelta(weeks=week),
                "closed": week in there.closed,
                "hours": [(name, hours[week]) for name, hours in skills],
                "roads": there.roads[week],
                "pits": there.pits[week],
            }
            for week in range(WEEKS)
        ],
        "past": request.GET.get("past") == "1",
        **_kept(past=request.GET.get("past") == "1"),
    }
    return render(request, "workshop/capacity.html", context)


def _kept(*, past: bool) -> dict[str, Any]:
    """Return the lists of what is kept; what is over only where it is asked for."""
    names = place_names()
    over: dict[str, Any] = {} if past else {"last__lt": today()}
    gone: dict[str, Any] = {} if past else {"ended_on__lte": today()}

    def rows(model: Any) -> Any:
        held = model.objects.current()
        return held.exclude(**over) if over else held

    contractors = ContractorVersion.objects.current()
    return {
        "places": [
            (r.place_id, r.name, Place(r.kind).label, span_words(r.first, r.last))
            for r in rows(ShopPlaceVersion)
        ],
        "sources": [
            (
                r.work_time_id,
                r.title,
                f"{Skill(r.skill).label}: {r.hours} h {Each(r.each).label}",
                span_words(r.first, r.last),
            )
            for r in rows(WorkTimeVersion).order_by("skill", "first", "pk")
        ],
        "closures": [
            (
                r.closure_id,
                r.title,
                names.get(r.place_id, "The whole shop"),
                span_words(r.first, r.last),
            )
            for r in rows(ClosureVersion)
        ],
        "contractors": [
            (r.contractor_id, r.name, many(r.lead_weeks, "week"), r.note)
            for r in (contractors.exclude(**gone) if gone else contractors)
        ],
    }

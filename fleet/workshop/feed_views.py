"""The calendar feed: a page on which a user makes and revokes it, and the feed itself."""

from django.contrib import messages
from django.contrib.auth.decorators import login_not_required
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse

from fleet.people.access import signed_in
from fleet.records.clock import today
from fleet.workshop.feeds import (
    FEED_MONTHS,
    calendar_of,
    feed_of,
    last_change,
    make_feed,
    open_feed,
    revoke_feed,
)
from fleet.workshop.forecast import Ask, forecast


def calendar(request: HttpRequest) -> HttpResponse:
    """Show a user the private address of the calendar, or that there is none."""
    feed = feed_of(signed_in(request))
    address = ""
    if feed is not None:
        path = reverse("workshop:calendar-feed", args=[feed.token])
        address = request.build_absolute_uri(path)
    told = {"feed": feed, "months": FEED_MONTHS, "address": address}
    return render(request, "workshop/calendar.html", told)


def calendar_make(request: HttpRequest) -> HttpResponse:
    """Make a private address; the one before leads nowhere from then on."""
    user = signed_in(request)
    if request.method == "POST":
        make_feed(user)
        messages.success(request, "This is your address. Keep it to yourself.")
        return redirect("workshop:calendar")
    told = {
        "question": "Make a private calendar address?",
        "detail": "Whoever has the address reads what falls due, without signing in. "
        "An address you made before leads nowhere from then on.",
        "yes": "Make it",
        "back": reverse("workshop:calendar"),
    }
    return render(request, "ui/confirm.html", told)


def calendar_revoke(request: HttpRequest) -> HttpResponse:
    """Revoke a user's address."""
    user = signed_in(request)
    if request.method == "POST":
        if revoke_feed(user):
            messages.success(request, "Revoked. The address leads nowhere now.")
        return redirect("workshop:calendar")
    told = {
        "question": "Revoke your calendar address?",
        "detail": "Calendar programs that follow it get nothing more. You can make "
        "another one.",
        "yes": "Revoke it",
        "back": reverse("workshop:calendar"),
        "grave": True,
    }
    return render(request, "ui/confirm.html", told)


@login_not_required
def calendar_feed(request: HttpRequest, token: str) -> HttpResponse:
    """Hand out the calendar of a private address; one that was revoked is not found."""
    if open_feed(token) is None:
        raise Http404
    rows = forecast(Ask(months=FEED_MONTHS), today())
    sent = calendar_of(rows, last_change())
    answer = HttpResponse(sent, content_type="text/calendar; charset=utf-8")
    answer["Content-Disposition"] = 'inline; filename="due.ics"'
    answer["Cache-Control"] = "private, max-age=900"
    answer["Referrer-Policy"] = "no-referrer"
    return answer

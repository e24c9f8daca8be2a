"""Pages of issued statements: issue, look, withdraw, and who vouches."""

from collections.abc import Iterable
from typing import Any

import django_tables2 as tables
from csp.decorators import csp_exempt
from django import forms
from django.contrib import messages
from django.contrib.auth.decorators import login_not_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_safe

from fleet.fitness.models import Statement, StatementStatus, StatementVersion
from fleet.fitness.statements import digest_of, standing_of, withdraw_statement
from fleet.fitness.status import is_stale, numbers_of
from fleet.people.access import needs, person_of, signed_in
from fleet.records.clock import today
from fleet.records.views import filled, recorded
from fleet.register.forms.parts import day_field
from fleet.register.models import Vehicle
from fleet.reports.issuing import in_groups, papers_of
from fleet.reports.issuing import issue as issue_one
from fleet.reports.views.papers import paper
from fleet.ui.forms import SubmissionForm
from fleet.ui.tables import NumberColumn, RegisterTable, paged
from fleet.upkeep.due import written


class IssueForm(SubmissionForm):
    """For which day a statement is issued."""

    on = day_field("For the close of")


class WithdrawForm(SubmissionForm):
    """Why a statement is withdrawn."""

    reason = forms.CharField(label="Why?", max_length=300)


class StatementTable(RegisterTable):
    """Issued statements, newest first."""

    nothing = "No statement was issued."

    number = NumberColumn(
        linkify=("reports:issued", [tables.A("statement__number")]),
        accessor="statement__number",
        order_by=("statement__year", "statement__count"),
        verbose_name="Statement",
    )
    vehicle = tables.Column(accessor="vehicle_id", orderable=False)
    on = tables.DateColumn(accessor="statement__on", verbose_name="For", format="j M Y")
    until = tables.DateColumn(
        accessor="statement__fit_until", verbose_name="Says less from", format="j M Y"
    )
    status = tables.Column(verbose_name="Stands")
    words = tables.Column(verbose_name="Why", orderable=False)

    def __init__(self, *args: Any, numbers: dict[int, str], **options: Any) -> None:
        """Take the running number of each vehicle."""
        super().__init__(*args, **options)
        self.numbers = numbers

    def render_vehicle(self, record: StatementVersion) -> str:
        """Return the running number."""
        return self.numbers.get(record.vehicle_id, str(record.vehicle_id))


def statement_list(request: HttpRequest) -> HttpResponse:
    """Show every statement and how it stands."""
    rows = StatementVersion.objects.current().select_related("statement")
    rows = rows.order_by("-statement__year", "-statement__count")
    numbers = numbers_of(rows.values_list("vehicle", flat=True))
    table = paged(StatementTable(rows, numbers=numbers), request)
    return render(request, "reports/statement_list.html", {"table": table})


def issued(request: HttpRequest, number: str) -> HttpResponse:
    """Show one statement: how it stands, on what it rests."""
    statement = _named(number)
    versions = statement.versions.select_related("by", "opened_by__user")
    context = {
        "statement": statement,
        "stands": standing_of(statement),
        "vehicle_number": numbers_of([statement.vehicle_id]).get(statement.vehicle_id),
        "versions": versions.order_by("pk"),
        "digest": in_groups(statement.digest),
        "facts": in_groups(statement.facts),
        "whole": digest_of(statement) == statement.digest,
    }
    return render(request, "reports/issued.html", context)


# Browsers show a PDF inside a page of their own making, which the policy would blank.
@csp_exempt()
@require_safe
@never_cache
@needs("print_reports")
def issued_paper(request: HttpRequest, number: str) -> HttpResponse:
    """Print a statement as it was issued."""
    statement = _named(number)
    return papers([statement], request, f"statement {number}")


@needs("release_vehicles")
def issue(request: HttpRequest, pk: int) -> HttpResponse:
    """Issue a statement of a vehicle."""
    vehicle = get_object_or_404(Vehicle, pk=pk)
    user = signed_in(request)
    person = person_of(user)
    form = filled(IssueForm, request, initial={"on": today()})
    made: list[Statement] = []

    def write() -> None:
        on = form.cleaned_data["on"]
        made.append(issue_one(by=user, person=person, vehicle=vehicle, on=on))

    if recorded(form, write):
        return redirect(made[0] if made else vehicle)
    number = numbers_of([pk]).get(pk, f"vehicle {pk}")
    context = {
        "question": f"Issue a fitness statement of {number}?",
        "detail": f"You sign as {person}. It is frozen as the records stand now, under a "
        "number; the valid one before it is superseded. It is withdrawn by itself when "
        "a later record contradicts it. It is not permission to move.",
        "form": form,
        "yes": "Issue it",
        "back": vehicle.get_absolute_url(),
    }
    return render(request, "ui/confirm.html", context)


@needs("release_vehicles")
def withdraw(request: HttpRequest, number: str) -> HttpResponse:
    """Withdraw a statement."""
    statement = _named(number)
    user = signed_in(request)
    form = filled(WithdrawForm, request)
    facts: dict[str, Any] = {
        "by": user,
        "person": person_of(user),
        "statement": statement,
    }
    if recorded(
        form, lambda: withdraw_statement(**facts, reason=form.cleaned_data["reason"])
    ):
        messages.success(request, f"Statement {number} is withdrawn.")
        return redirect(statement)
    context = {
        "question": f"Withdraw statement {number}?",
        "detail": "Whoever scans the code on its paper is told so at once. It stays to "
        "be seen.",
        "form": form,
        "yes": "Withdraw it",
        "back": statement.get_absolute_url(),
        "grave": True,
    }
    return render(request, "ui/confirm.html", context)


@login_not_required
@never_cache
@require_safe
def vouch(request: HttpRequest, token: str) -> HttpResponse:
    """Say whether a statement is valid, withdrawn or superseded, and nothing else."""
    found = Statement.objects.filter(token=token).first()
    context = {"number": "", "status": "", "words": ""}
    if found is not None:
        stands = standing_of(found)
        context = {
            "number": found.number,
            "status": stands.status,
            "words": _vouched(found, stands),
        }
    answer = render(
        request, "reports/vouch.html", context, status=200 if found else 404
    )
    answer["X-Robots-Tag"] = "noindex, nofollow"
    return answer


def _vouched(statement: Statement, stands: StatementVersion) -> str:
    """Return how it stands; valid only while it is current and its vehicle assessed."""
    if stands.status == StatementStatus.VALID:
        if statement.fit_until is not None and statement.fit_until <= today():
            return f"No longer current: run out on {written(statement.fit_until)}"
        if is_stale(statement.vehicle_id):
            return "Not to be relied on now: the records are being gone through"
    return str(stands.get_status_display())


def _named(number: str) -> Statement:
    return get_object_or_404(Statement.objects.select_related("vehicle"), number=number)


def papers(
    statements: Iterable[Statement], request: HttpRequest, name: str
) -> HttpResponse:
    """Return statements as one PDF."""
    from fleet.reports.statement_paper import draw_statements  # loads the PDF library

    drawn = papers_of(statements, request.build_absolute_uri("/"))
    return paper(draw_statements(drawn), name)

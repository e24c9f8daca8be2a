"""Pages of concessions: the ageing report, one concession, and what is done with it."""

from collections.abc import Callable
from typing import Any

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render

from fleet.defects.models import Defect
from fleet.engineering.calendar import Moment
from fleet.people.access import needs, person_of, signed_in
from fleet.people.competence import competent_on
from fleet.people.models import Person, Skill
from fleet.records.clock import today
from fleet.records.models import Kind
from fleet.records.views import filled, recorded
from fleet.register.models import Equipment, Vehicle
from fleet.ui.forms import SubmissionForm
from fleet.ui.tables import paged
from fleet.upkeep import concessions
from fleet.upkeep.concession_terms import terms_on
from fleet.upkeep.models import (
    Concession,
    ConcessionVersion,
    Recheck,
    Requirement,
)
from fleet.upkeep.rechecks import retract_recheck
from fleet.web.forms.concessions import (
    AskForm,
    RecheckForm,
    RefuseForm,
)
from fleet.web.policy_concessions import (
    EXPIRED,
    IN_FORCE,
    LAPSED,
    concession_row,
    concession_rows,
    counted_from,
)
from fleet.web.tables import ConcessionTable


def concession_list(request: HttpRequest) -> HttpResponse:
    """Show every concession with its age, what is left of it, and overdue re-checks."""
    rows = concession_rows(today())
    running = [row for row in rows if row.running]
    told = {
        "table": paged(ConcessionTable(rows), request),
        "day": today(),
        "waiting": sum(bool(row.waiting) for row in rows),
        "in_force": sum(row.standing == IN_FORCE for row in rows),
        "lapsed": sum(row.standing == LAPSED for row in rows),
        "expired": sum(row.standing == EXPIRED for row in rows),
        "oldest": max((row.age_days or 0 for row in running), default=None),
    }
    return render(request, "web/concession_list.html", told)


def concession(request: HttpRequest, pk: int) -> HttpResponse:
    """Show one concession: on what it rests, how it stands, its re-checks."""
    found = get_object_or_404(_known(), pk=pk)
    row = concession_row(found, today())
    put_right = found.versions.filter(change__in=(Kind.CORRECTED, Kind.RETRACTED))
    told = {
        "row": row,
        "concession": found,
        "put_right": put_right.select_related("opened_by__user", "replaces"),
        "signs": row is not None and may_sign(request, row.versions[-1]),
        "today": today(),
    }
    return render(request, "web/concession.html", told)


def may_sign(request: HttpRequest, version: ConcessionVersion) -> bool:
    """Say whether who is signed in is entitled to agree to what somebody else asked."""
    person = Person.objects.filter(user=signed_in(request)).first()
    if person is None or person == version.asked_by:
        return False
    return competent_on(person, Skill.CONCEDE, Moment.on(today())) is not None


@needs("record_facts")
def concession_ask(request: HttpRequest) -> HttpResponse:
    """Ask for a concession; the address says for what."""
    subject = _asked_for(request)
    return _ask(
        request,
        Concession(**subject),
        "Ask for a concession",
        lambda said: concessions.ask_concession(
            by=signed_in(request), **subject, **said
        ),
    )


@needs("record_facts")
def concession_renew(request: HttpRequest, pk: int) -> HttpResponse:
    """Ask for a concession to be renewed."""
    found = get_object_or_404(_known(), pk=pk)
    row = concession_row(found, today())
    if row is None:
        raise Http404("It was retracted.")
    newest = row.versions[-1]
    carried = {name: getattr(newest, name) for name in ("why", "risk", "condition")}
    if row.running:
        carried["since"] = max(today(), row.running.until)
    return _ask(
        request,
        found,
        "Ask for a renewal",
        lambda said: concessions.ask_renewal(
            by=signed_in(request), concession=found, **said
        ),
        initial=carried,
    )


@needs("edit_policy")
def concession_refuse(request: HttpRequest, pk: int) -> HttpResponse:
    """Refuse what was asked for."""
    version = version_of(pk)
    form = filled(RefuseForm, request)
    user = signed_in(request)
    done = recorded(
        form,
        lambda: concessions.refuse_concession(
            by=user,
            person=person_of(user),
            version=version,
            on=today(),
            reason=form.cleaned_data["reason"],
        ),
    )
    if done:
        messages.success(request, "The refusal is recorded.")
        return redirect(version.concession)
    return sheet(request, form, version.concession, "Refuse", version=version)


@needs("edit_policy")
def concession_retract(request: HttpRequest, pk: int) -> HttpResponse:
    """Say that a concession, or its renewal, was recorded by mistake."""
    version = version_of(pk)
    form = filled(RefuseForm, request)
    done = recorded(
        form,
        lambda: concessions.retract_concession(
            by=signed_in(request), version=version, reason=form.cleaned_data["reason"]
        ),
    )
    if done:
        messages.success(request, "The retraction is recorded. It never held.")
        return redirect(version.concession)
    return sheet(request, form, version.concession, "Retract", version=version)


@needs("record_facts")
def concession_recheck(request: HttpRequest, pk: int) -> HttpResponse:
    """Record a re-check under a concession."""
    found = get_object_or_404(_known(), pk=pk)
    form = filled(RecheckForm, request, initial={"on": today()})
    user = signed_in(request)
    done = recorded(
        form,
        lambda: form.apply(by=user, person=person_of(user), concession=found),
    )
    if done:
        messages.success(request, "The re-check is recorded.")
        return redirect(found)
    return sheet(request, form, found, "Record a re-check")


@needs("edit_policy")
def recheck_retract(request: HttpRequest, pk: int) -> HttpResponse:
    """Say that a re-check never was."""
    recheck = get_object_or_404(
        Recheck.objects.current().select_related("concession"), pk=pk
    )
    form = filled(RefuseForm, request)
    done = recorded(
        form,
        lambda: retract_recheck(
            by=signed_in(request), recheck=recheck, reason=form.cleaned_data["reason"]
        ),
    )
    if done:
        messages.success(request, "The retraction is recorded.")
        return redirect(recheck.concession)
    return sheet(request, form, recheck.concession, "Retract the re-check")


def _known() -> Any:
    return Concession.objects.select_related(
        "vehicle", "equipment", "requirement", "defect"
    )


def version_of(pk: int) -> ConcessionVersion:
    """Return what was asked or granted, as it is held true; 404 if it is not."""
    found: ConcessionVersion = get_object_or_404(
        ConcessionVersion.objects.for_list(), pk=pk
    )
    return found


def _asked_for(request: HttpRequest) -> dict[str, Any]:
    """Return the subject and target an address names; 404 where there is none."""
    named = {
        name: request.GET.get(name, "")
        for name in ("vehicle", "equipment", "requirement", "defect")
    }
    if not all(value.isdigit() for key, value in named.items() if _is_key(key, value)):
        raise Http404
    if named["defect"]:
        defect = get_object_or_404(Defect, pk=named["defect"])
        on_item = defect.equipment is not None
        return {
            "requirement": None,
            "defect": defect,
            "vehicle": None if on_item else defect.vehicle,
            "equipment": defect.equipment,
        }
    requirement = get_object_or_404(Requirement, code=named["requirement"])
    item = vehicle = None
    if named["equipment"]:
        item = get_object_or_404(Equipment, pk=named["equipment"])
    else:
        vehicle = get_object_or_404(Vehicle, pk=named["vehicle"] or 0)
    return {
        "requirement": requirement,
        "defect": None,
        "vehicle": vehicle,
        "equipment": item,
    }


def _is_key(name: str, value: str) -> bool:
    return name != "requirement" and value != ""


def _ask(
    request: HttpRequest,
    wanted: Concession,
    title: str,
    write: Callable[[dict[str, Any]], Any],
    *,
    initial: dict[str, Any] | None = None,
) -> HttpResponse:
    last_good = counted_from(wanted)
    try:
        terms = terms_on(wanted, last_good, today())
    except ValidationError as refusal:
        told = {"wanted": wanted, "title": title, "refusals": refusal.messages}
        return render(request, "web/concession_ask.html", told)
    form = filled(AskForm, request, terms=terms, day=today(), initial=initial or {})
    person = person_of(signed_in(request))
    made: list[ConcessionVersion] = []
    done = recorded(
        form,
        lambda: made.append(
            write(
                form.asked()
                | {"person": person, "on": today(), "counted_from": last_good}
            )
        ),
    )
    if done:
        messages.success(request, "It is asked for; the manager decides.")
        return redirect(made[0].concession if made else "web:concession-list")
    told = {"wanted": wanted, "title": title, "form": form, "terms": terms}
    return render(request, "web/concession_ask.html", told)


def sheet(
    request: HttpRequest,
    form: SubmissionForm,
    found: Concession,
    deed: str,
    version: ConcessionVersion | None = None,
    *,
    signed: bool = False,
) -> HttpResponse:
    """Answer with the form of a deed under what it is about; `signed` names who signs."""
    told = {
        "form": form,
        "row": concession_row(found, today()),
        "concession": found,
        "deed": deed,
        "version": version,
        "signer": person_of(signed_in(request)) if signed else None,
    }
    return render(request, "web/concession_form.html", told)

"""Pages of exchange units: groups, one group, what is away."""

import datetime as dt
from collections import Counter
from typing import Any

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse

from fleet.people.access import needs, signed_in
from fleet.records.clock import today
from fleet.records.views import filled, recorded
from fleet.register.models import EquipmentVersion
from fleet.workshop.exchange import coming, lead_weeks, turnaround_of
from fleet.workshop.exchange_forms import (
    CorrectReturnForm,
    CorrectSendingForm,
    ExpectForm,
    GroupForm,
    SendForm,
    TakeInForm,
)
from fleet.workshop.exchange_need import (
    FITTED,
    OTHER,
    OVERDUE,
    PLACES,
    READY,
    counts_of,
    due_units,
    mismatches,
    months_of,
    units_of,
)
from fleet.workshop.exchange_services import (
    correct_consignment,
    correct_return,
    describe_group,
    expect_on,
    retract_consignment,
    retract_group,
    retract_return,
    send_away,
    take_in,
)
from fleet.workshop.keeping_forms import RetractForm
from fleet.workshop.models import (
    Consignment,
    ConsignmentItem,
    ConsignmentVersion,
    ExchangeGroup,
    ExchangeGroupVersion,
    UnitReturn,
)
from fleet.workshop.naming import contractor_names

MONTHS_SAID = 6  # of a group that will be short; its own page has them all
LISTED = 100  # units of a group in one place; the list of equipment has them all


def exchange(request: HttpRequest) -> HttpResponse:
    """Show every group: where its units are, and where it will be short."""
    on = today()
    counts, due = counts_of(on), due_units(on)
    away, lead = coming(), lead_weeks()
    held = ExchangeGroupVersion.objects.current().select_related("group")
    described = {row.group.code: row for row in held}
    rows = []
    for code in sorted(
        counts.keys() | described, key=lambda c: (c not in described, c)
    ):
        counted = counts.get(code, Counter())
        row = described.get(code)
        mine = [one for one in away if one.group == code]
        months = months_of(
            due.get(code, []),
            first=on,
            stock=counted[READY],
            returns=mine,
            turnaround=turnaround_of(row, lead) if row else None,
        )
        short = [month for month in months if month.short]
        rows.append(
            {
                "code": code,
                "row": row,
                "counts": [(place, counted[place]) for place in PLACES],
                "below": row is not None and counted[READY] < row.least,
                "ready": counted[READY],
                "next": mine[0] if mine else None,
                "short": short[:MONTHS_SAID],
                "more": len(short[MONTHS_SAID:]),
            }
        )
    context = {"rows": rows, "places": PLACES, "today": on}
    return render(request, "workshop/exchange.html", context)


def group(request: HttpRequest, code: str) -> HttpResponse:
    """Show one group: its units, its needs month by month, its consignments."""
    on = today()
    units = units_of(code, on)
    row = _described(code)
    if not units and row is None:
        raise Http404
    away = [one for one in coming() if one.group == code]
    months = months_of(
        due_units(on).get(code, []),
        first=on,
        stock=sum(unit.place == READY for unit in units),
        returns=away,
        turnaround=turnaround_of(row, lead_weeks()) if row else None,
    )
    names = contractor_names()
    sent = ConsignmentVersion.objects.current().filter(consignment__group__code=code)
    back = Counter(_back(code))
    items = Counter(
        ConsignmentItem.objects.filter(consignment__group__code=code).values_list(
            "consignment", flat=True
        )
    )
    context = {
        "code": code,
        "row": row,
        "contractor": names.get(row.contractor_id or 0, "") if row else "",
        "turnaround": turnaround_of(row, lead_weeks()) if row else None,
        "ready": sum(unit.place == READY for unit in units),
        "by_place": [
            (place, len(there), there[:LISTED], place in {FITTED, OTHER})
            for place in (*PLACES[1:], FITTED)
            for there in ([u for u in units if u.place == place],)
        ],
        "differ": mismatches(units),
        "months": months,
        "sent": [
            {
                "row": one,
                "to": names.get(one.contractor_id, "our own bench"),
                "units": items[one.consignment_id],
                "away": items[one.consignment_id] - back[one.consignment_id],
                "overdue": one.expected_on < on,
            }
            for one in sent.order_by("-sent_on", "-pk")
        ],
        "can_send": any(unit.place in {READY, OVERDUE, OTHER} for unit in units),
    }
    return render(request, "workshop/group.html", context)


@needs("plan_work")
def group_describe(request: HttpRequest, code: str) -> HttpResponse:
    """Say what the units of a group are."""
    held = _described(code)
    names = ("label", "alike", "turnaround_weeks", "least")
    initial = {name: getattr(held, name) for name in names} if held else {}
    initial |= {"contractor": held.contractor_id} if held else {}
    form = filled(GroupForm, request, initial=initial)
    user = signed_in(request)
    if recorded(form, lambda: describe_group(by=user, code=code, **form.facts())):
        messages.success(request, f"The group {code} is described.")
        return redirect("workshop:exchange-group", code)
    return _ask(request, form, f"Describe the group {code}", "Record it", code)


@needs("plan_work")
def group_retract(request: HttpRequest, code: str) -> HttpResponse:
    """Take the description of a group back."""
    held = _described(code)
    if held is None:
        raise Http404
    form = filled(RetractForm, request)
    user = signed_in(request)

    def write() -> None:
        retract_group(by=user, version=held, reason=form.cleaned_data["reason"])

    if recorded(form, write):
        return redirect("workshop:exchange")
    question = f"Take the description of {code} back?"
    return _ask(request, form, question, "Take it back", code, grave=True)


@needs("plan_work")
def group_send(request: HttpRequest, code: str) -> HttpResponse:
    """Send units of a group away."""
    found = get_object_or_404(ExchangeGroup, code=code)
    row = _described(code)
    on = today()
    weeks = turnaround_of(row, lead_weeks()) if row else None
    initial = {
        "sent_on": on,
        "contractor": row.contractor_id if row else None,
        "expected_on": on + dt.timedelta(weeks=weeks) if weeks else None,
    }
    units = units_of(code, on)
    form = filled(SendForm, request, initial=initial, units=units)
    user = signed_in(request)
    if recorded(form, lambda: send_away(by=user, group=found, **form.facts())):
        messages.success(request, "The units are away; the register has them so.")
        return redirect("workshop:exchange-group", code)
    return _ask(request, form, f"Send units of {code} away", "They are sent", code)


def consignment(request: HttpRequest, pk: int) -> HttpResponse:
    """Show one consignment: its units, what is back, its history."""
    found = get_object_or_404(Consignment.objects.select_related("group"), pk=pk)
    versions = list(found.versions.select_related("opened_by__user").order_by("-pk"))
    back = {
        row.item_id: row
        for row in UnitReturn.objects.current().filter(item__consignment=found)
    }
    names = contractor_names()
    newest = versions[0]
    context = {
        "consignment": found,
        "newest": newest,
        "to": names.get(newest.contractor_id, "our own bench"),
        "items": [(item, serial, back.get(item.pk)) for item, serial in _items(found)],
        "away": newest.is_current and len(back) < len(_items(found)),
        "any_back": bool(back),
        "overdue": newest.expected_on < today(),
        "versions": [
            (row, names.get(row.contractor_id, "our own bench")) for row in versions
        ],
    }
    return render(request, "workshop/consignment.html", context)


@needs("plan_work")
def consignment_take_in(request: HttpRequest, pk: int) -> HttpResponse:
    """Record that units are back."""
    version = _sending(pk)
    back = set(
        UnitReturn.objects.current()
        .filter(item__consignment=pk)
        .values_list("item", flat=True)
    )
    away = [
        (i, serial) for i, serial in _items(version.consignment) if i.pk not in back
    ]
    initial = {"on": today(), "items": [item.pk for item, _ in away]}
    form = filled(TakeInForm, request, initial=initial, away=away)
    user = signed_in(request)

    def write() -> None:
        said = form.cleaned_data
        take_in(by=user, items=list(said["items"]), on=said["on"], state=said["state"])

    if recorded(form, write):
        messages.success(request, "They are back; the register has them so.")
        return redirect("workshop:consignment", pk)
    return _about(request, form, "Which units are back?", "They are back", pk)


@needs("plan_work")
def consignment_expect(request: HttpRequest, pk: int) -> HttpResponse:
    """Record another day on which units are expected."""
    version = _sending(pk)
    form = filled(ExpectForm, request, initial={"day": version.expected_on})
    user = signed_in(request)

    def write() -> None:
        expect_on(by=user, version=version, day=form.cleaned_data["day"])

    if recorded(form, write):
        return redirect("workshop:consignment", pk)
    return _about(request, form, "When are they expected now?", "Record it", pk)


@needs("plan_work")
def consignment_correct(request: HttpRequest, pk: int) -> HttpResponse:
    """Put right where or when units were sent."""
    version = _sending(pk)
    form = filled(CorrectSendingForm, request, initial=CorrectSendingForm.said(version))
    user = signed_in(request)
    if recorded(
        form, lambda: correct_consignment(by=user, version=version, **form.facts())
    ):
        return redirect("workshop:consignment", pk)
    return _about(request, form, "Correct this consignment", "Record it", pk)


@needs("plan_work")
def consignment_retract(request: HttpRequest, pk: int) -> HttpResponse:
    """Record that units were never sent."""
    version = _sending(pk)
    form = filled(RetractForm, request)
    user = signed_in(request)

    def write() -> None:
        reason = form.cleaned_data["reason"]
        retract_consignment(by=user, version=version, reason=reason)

    if recorded(form, write):
        messages.success(request, "The register has the units as before.")
        return redirect("workshop:consignment", pk)
    question = "Were these units never sent?"
    return _about(request, form, question, "They were never sent", pk, grave=True)


@needs("plan_work")
def return_correct(request: HttpRequest, pk: int) -> HttpResponse:
    """Put right when or how a unit came back."""
    version = _return(pk)
    names = ("returned_on", "state")
    initial = {name: getattr(version, name) for name in names}
    form = filled(CorrectReturnForm, request, initial=initial)
    user = signed_in(request)

    def write() -> None:
        said = {n: form.cleaned_data[n] for n in (*names, "reason")}
        correct_return(by=user, version=version, **said)

    key = version.item.consignment_id
    if recorded(form, write):
        return redirect("workshop:consignment", key)
    return _about(request, form, "Correct this return", "Record it", key)


@needs("plan_work")
def return_retract(request: HttpRequest, pk: int) -> HttpResponse:
    """Record that a unit is not back."""
    version = _return(pk)
    form = filled(RetractForm, request)
    user = signed_in(request)

    def write() -> None:
        retract_return(by=user, version=version, reason=form.cleaned_data["reason"])

    key = version.item.consignment_id
    if recorded(form, write):
        return redirect("workshop:consignment", key)
    question = "Is this unit not back?"
    return _about(request, form, question, "It is not back", key, grave=True)


def _described(code: str) -> ExchangeGroupVersion | None:
    held = ExchangeGroupVersion.objects.current().filter(group__code=code)
    found: ExchangeGroupVersion | None = held.select_related("group").first()
    return found


def _back(code: str) -> list[int]:
    rows = UnitReturn.objects.current().filter(item__consignment__group__code=code)
    return list(rows.values_list("item__consignment", flat=True))


def _items(found: Consignment) -> list[tuple[ConsignmentItem, str]]:
    items = list(found.items.select_related("equipment", "consignment").order_by("pk"))
    held = EquipmentVersion.objects.newest().filter(
        equipment__in=[item.equipment_id for item in items]
    )
    serials = dict(held.values_list("equipment", "serial"))
    return [(item, serials.get(item.equipment_id, "")) for item in items]


def _sending(pk: int) -> ConsignmentVersion:
    held = ConsignmentVersion.objects.current()
    found: ConsignmentVersion = get_object_or_404(
        held.select_related("consignment__group", "contractor"), consignment=pk
    )
    return found


def _return(pk: int) -> UnitReturn:
    held = UnitReturn.objects.current()
    found: UnitReturn = get_object_or_404(
        held.select_related("item__equipment", "item__consignment"), item=pk
    )
    return found


def _ask(
    request: HttpRequest, form: Any, question: str, yes: str, code: str, **told: Any
) -> HttpResponse:
    back = reverse("workshop:exchange-group", args=[code])
    told |= {"form": form, "question": question, "yes": yes, "back": back}
    return render(request, "ui/confirm.html", told)


def _about(
    request: HttpRequest, form: Any, question: str, yes: str, pk: int, **told: Any
) -> HttpResponse:
    back = reverse("workshop:consignment", args=[pk])
    told |= {"form": form, "question": question, "yes": yes, "back": back}
    return render(request, "ui/confirm.html", told)

"""Pages of cocks found in the wrong position."""

from typing import Any

from django import forms
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render

from fleet.defects.managers import number_of
from fleet.defects.models import WrongCock, WrongCockVersion
from fleet.defects.services.cocks import (
    close_cock,
    prove_cock,
    record_wrong_cock,
    standing_cock,
)
from fleet.examination.models import Test, TestRecord
from fleet.people.access import needs, person_of, signed_in
from fleet.records.clock import today
from fleet.records.moments import present
from fleet.records.views import filled, recorded
from fleet.register.forms.parts import day_field, moment_field
from fleet.register.models import Vehicle
from fleet.register.positions import revision_at
from fleet.register.vocabulary import CockPosition
from fleet.ui.forms import SubmissionForm

_WAYS = [(way.value, way.label) for way in CockPosition if way is not CockPosition.NONE]


class FoundForm(SubmissionForm):
    """Which cock, how found and left, where."""

    position = forms.ChoiceField(label="Which cock")
    found = forms.ChoiceField(label="Found", choices=_WAYS)
    left = forms.ChoiceField(label="Left", choices=_WAYS)
    on = moment_field("Found on")
    where = forms.CharField(
        label="Where, in which train",
        max_length=120,
        help_text="Such as: 11:40 departure, platform 2, fourth vehicle.",
    )

    def __init__(self, data: Any, *, vehicle: Vehicle, **options: Any) -> None:
        """Offer the cocks of the vehicle's type."""
        super().__init__(data, **options)
        places = revision_at(vehicle, present()).positions.order_by("order", "code")
        field = self.fields["position"]
        assert isinstance(field, forms.ChoiceField)
        field.choices = [
            (p.code, f"{p.label}, normally {CockPosition(p.normal).label.lower()}")
            for p in places
            if p.normal not in {"", CockPosition.NONE}
        ]


class ProveForm(SubmissionForm):
    """The test that proved the brake."""

    test = forms.ModelChoiceField(Test.objects.none(), empty_label=None)

    def __init__(self, data: Any, *, cock: WrongCock, **options: Any) -> None:
        """Offer the passed tests of the vehicle, newest first."""
        super().__init__(data, **options)
        records = TestRecord.objects.current().filter(vehicle=cock.vehicle, passed=True)
        newest = records.select_related("procedure_revision").order_by(
            "-on_latest", "-pk"
        )[:8]
        field = self.fields["test"]
        assert isinstance(field, forms.ModelChoiceField)
        field.queryset = Test.objects.filter(
            pk__in=[r.test_id for r in newest]
        ).order_by("-pk")
        words = {r.test_id: f"{r.procedure_revision.title}, {r.on}" for r in newest}
        field.label_from_instance = lambda obj: words[obj.pk]  # type: ignore[method-assign]


class CauseForm(SubmissionForm):
    """Why it stood wrong."""

    on = day_field("Recorded on")
    cause = forms.CharField(
        label="Cause",
        max_length=300,
        help_text="Why it stood so, and what keeps it from happening again.",
        widget=forms.Textarea(attrs={"rows": 3}),
    )


def cock_list(request: HttpRequest) -> HttpResponse:
    """Show every event, those without a cause first."""
    rows = WrongCockVersion.objects.current().select_related("by", "cock")
    rows = rows.annotate(number=number_of("vehicle")).order_by("-on_latest", "-pk")
    listed = list(rows)
    context = {
        "open": [row for row in listed if row.is_open],
        "closed": [row for row in listed if not row.is_open],
    }
    return render(request, "defects/cock_list.html", context)


def cock(request: HttpRequest, pk: int) -> HttpResponse:
    """Show one event."""
    found = get_object_or_404(
        WrongCock.objects.annotate(number=number_of("vehicle")), pk=pk
    )
    versions = found.versions.select_related("by", "closed_person", "opened_by__user")
    context = {
        "cock": found,
        "held": standing_cock(found),
        "versions": versions.order_by("pk"),
    }
    return render(request, "defects/cock.html", context)


@needs("record_facts")
def cock_add(request: HttpRequest, pk: int) -> HttpResponse:
    """Record a cock found in the wrong position."""
    vehicle = get_object_or_404(Vehicle.objects.annotate(number=number_of("pk")), pk=pk)
    user = signed_in(request)
    form = filled(FoundForm, request, vehicle=vehicle, initial={"on": present()})
    made: list[WrongCock] = []

    def write() -> None:
        said = dict(form.cleaned_data)
        said.pop("submission", None)
        person = person_of(user)
        made.append(record_wrong_cock(by=user, person=person, vehicle=vehicle, **said))

    if recorded(form, write):
        return redirect(made[0] if made else vehicle)
    context = {
        "question": f"A cock of {vehicle.number} found in the wrong position?",
        "detail": "It is an event of its own, not a slip: the vehicle is not relied on "
        "until the cock is right and the brake was tested, and it stays open until its "
        "cause is recorded.",
        "form": form,
        "yes": "Record it",
        "back": vehicle.get_absolute_url(),
    }
    return render(request, "ui/confirm.html", context)


@needs("record_facts")
def cock_prove(request: HttpRequest, pk: int) -> HttpResponse:
    """Name the test that proved the brake."""
    found = get_object_or_404(WrongCock.objects.select_related("vehicle"), pk=pk)
    form = filled(ProveForm, request, cock=found)
    user = signed_in(request)
    if recorded(
        form, lambda: prove_cock(by=user, cock=found, test=form.cleaned_data["test"])
    ):
        return redirect(found)
    context = {
        "question": "Put right, and the brake tested?",
        "detail": "The cock stands as it should, and the test followed.",
        "form": form,
        "yes": "Record it",
        "back": found.get_absolute_url(),
    }
    return render(request, "ui/confirm.html", context)


@needs("assess_defects")
def cock_close(request: HttpRequest, pk: int) -> HttpResponse:
    """Record the cause."""
    found = get_object_or_404(WrongCock.objects.select_related("vehicle"), pk=pk)
    user = signed_in(request)
    form = filled(CauseForm, request, initial={"on": today()})
    facts: dict[str, Any] = {"by": user, "person": person_of(user), "cock": found}

    def write() -> None:
        said = {name: form.cleaned_data[name] for name in ("on", "cause")}
        close_cock(**facts, **said)

    if recorded(form, write):
        return redirect(found)
    held = standing_cock(found)
    repeat = (
        f" It is a repeat: {held.earlier} before it within the operator's period. "
        "Somebody else than before, competent to release, closes it."
        if held.earlier
        else ""
    )
    context = {
        "question": "Record the cause?",
        "detail": f"{held}.{repeat} You sign as {person_of(user)}.",
        "form": form,
        "yes": "Record the cause",
        "back": found.get_absolute_url(),
    }
    return render(request, "ui/confirm.html", context)

"""The sheet of a vehicle type: its brake figures, defined, revised, refused, shown."""

import html
import re

import pytest
from django.urls import reverse

from fleet.register.models import BrakeFigures, TypeRevision, VehicleType
from tests.register.factories import make_type

pytestmark = pytest.mark.django_db

AIR = {
    "figures-air-cylinders": "2",
    "figures-air-bore_mm": "250",
    "figures-air-travel_mm": "180",
    "figures-air-ratio": "6.5",
    "figures-air-efficiency": "0.85",
    "figures-air-return_force_n": "1500",
    "figures-air-full_cylinder_bar": "3.8",
    "figures-air-source": "drawing B 12, sheet 3",
}
VACUUM = {
    "figures-vacuum-cylinders": "1",
    "figures-vacuum-bore_mm": "533",
    "figures-vacuum-travel_mm": "75",
    "figures-vacuum-working_vacuum_mbar": "711",
    "figures-vacuum-source": "plate on the cylinder",
}


def words(answer):
    """The words of a page, without its markup."""
    text = html.unescape(re.sub(r"<[^>]+>", " ", answer.content.decode()))
    return " ".join(text.split())


def sheet(page):
    """What a browser sends back of the whole sheet as it stands."""
    forms = [page.context["form"], *page.context["places"]]
    forms += page.context["figures"].parts
    sent = {
        bound.html_name: "on" if bound.value() is True else bound.value()
        for form in forms
        for bound in form
        if bound.value() not in {None, False}
    }
    places = page.context["places"]
    return sent | {
        "places-TOTAL_FORMS": places.total_form_count(),
        "places-INITIAL_FORMS": places.initial_form_count(),
    }


@pytest.fixture
def revise(client, planner):
    """Send the sheet of revising a van, with what is changed in it."""
    make_type("van")
    client.force_login(planner)
    address = reverse("register:type-revise", args=["van"])

    def send(day="2020-01-01", **changed):
        said = sheet(client.get(address)) | {"effective_from": day, "reason": "drawn"}
        return client.post(address, said | changed)

    return send


def newest():
    return TypeRevision.objects.current().filter(type__code="van").latest("number")


def test_brake_figures_of_both_systems_are_recorded_by_a_revision_and_shown(
    client, revise
):
    assert revise(**AIR, **VACUUM).status_code == 302

    page = words(client.get(reverse("register:type", args=["van"])))
    assert "Brake figures, air brake" in page
    assert "Rigging ratio 6.5 Efficiency of the rigging 0.85" in page
    assert "Source drawing B 12, sheet 3" in page
    assert "Brake figures, vacuum brake" in page
    assert "Working vacuum (mbar) 711" in page


def test_a_revision_starts_from_the_figures_held_and_the_earlier_one_keeps_its_own(
    revise,
):
    revise(**AIR)
    revise("2021-01-01", **{"figures-air-ratio": "7"})

    earlier = BrakeFigures.objects.get(revision__number=2)
    later = BrakeFigures.objects.get(revision=newest())
    assert (earlier.ratio, later.ratio) == (6.5, 7)
    assert (later.bore_mm, later.source) == (250, "drawing B 12, sheet 3")


def test_figures_are_taken_off_by_leaving_them_all_empty(revise):
    revise(**AIR)
    answer = revise("2021-01-01", **dict.fromkeys(AIR, ""))

    assert answer.status_code == 302
    assert newest().number == 3
    assert not newest().figures.exists()


@pytest.mark.parametrize(
    ("wrong", "field", "sentence"),
    [
        (
            {"figures-air-bore_mm": ""},
            "bore_mm",
            "leave all figures of this brake empty",
        ),
        ({"figures-air-source": ""}, "source", "leave all figures of this brake empty"),
        ({"figures-air-efficiency": "1.2"}, "efficiency", "less than or equal to 1"),
        ({"figures-air-bore_mm": "-250"}, "bore_mm", "greater than or equal to 0.001"),
        ({"figures-air-ratio": "six"}, "ratio", "Enter a number."),
    ],
)
def test_figures_that_cannot_be_are_refused_beside_their_field(
    revise, wrong, field, sentence
):
    answer = revise(**AIR | wrong)

    assert answer.status_code == 200
    air = answer.context["figures"].parts[0]
    assert sentence in air.errors[field][0]
    assert sentence in words(answer)
    assert "Nothing is recorded yet." in words(answer)
    assert newest().number == 1


def test_a_new_type_may_have_brake_figures_at_once(client, planner):
    client.force_login(planner)
    address = reverse("register:type-add")
    told = {"code": "hopper", "name": "Hopper", "effective_from": "2020-01-01"}

    client.post(address, sheet(client.get(address)) | told | AIR)

    figures = VehicleType.objects.get(code="hopper").revisions.get().figures.get()
    assert (figures.system, figures.cylinders) == ("air", 2)


def test_a_code_taken_by_another_a_moment_before_is_refused_beside_its_field(
    client, planner, monkeypatch
):
    make_type("hopper")
    client.force_login(planner)
    address = reverse("register:type-add")
    told = {"code": "hopper", "name": "Hopper", "effective_from": "2020-01-01"}
    said = sheet(client.get(address)) | told
    nothing_yet = VehicleType.objects.none()
    with monkeypatch.context() as patched:  # what a writer at the same moment sees
        patched.setattr(VehicleType.objects, "filter", lambda **_: nothing_yet)
        answer = client.post(address, said)

    assert "There is a type hopper already." in answer.context["form"].errors["code"][0]
    assert VehicleType.objects.count() == 1

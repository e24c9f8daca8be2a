"""A published programme on paper: the sheet for the wall, and one for each visit."""

import datetime as dt
from io import BytesIO

import pytest
from django.urls import reverse
from pypdf import PdfReader

from fleet.upkeep.due import written
from fleet.workshop.models import PlannedVisit
from fleet.workshop.publishing import publish_programme
from tests.people.factories import UserFactory
from tests.workshop.shop import found_run, open_shop, planner

pytestmark = pytest.mark.django_db
MM = 72 / 25.4


@pytest.fixture
def programme(client):
    """A programme of two vans, the planner signed in."""
    open_shop()
    user, person = planner()
    client.force_login(user)
    return publish_programme(by=user, person=person, run=found_run(), title="Winter")


def paper(client, address):
    """The pages of a PDF, each as text and with its size in millimetres."""
    answer = client.get(address)
    assert answer["Content-Type"] == "application/pdf"
    pages = PdfReader(BytesIO(answer.content)).pages
    sizes = {tuple(round(float(n) / MM) for n in p.mediabox[2:]) for p in pages}
    return " ".join(" ".join(p.extract_text().split()) for p in pages), sizes


@pytest.mark.parametrize(
    ("size", "across"),
    [
        pytest.param("a4", (297, 210), id="A4, ISO 216"),
        pytest.param("a3", (420, 297), id="A3, ISO 216"),
    ],
)
def test_the_wall_sheet_names_every_vehicle_that_comes_in_and_its_week(
    client, programme, size, across
):
    said, sizes = paper(client, f"{reverse('reports:wall', args=[1])}?size={size}")

    assert sizes == {across}
    assert "Workshop programme 1" in said
    for visit in PlannedVisit.objects.all():
        assert visit.vehicle.versions.get().number in said
        assert written(visit.monday) in said
    assert "8 h Air brake tests" in said
    assert "the brake status is what the records show" in said


def test_a_size_that_is_not_there_is_refused_with_those_that_are(client, programme):
    answer = client.get(f"{reverse('reports:wall', args=[1])}?size=a0")

    assert answer.status_code == 400
    assert "size=a4 or size=a3" in answer.content.decode()


def test_the_sheet_of_a_visit_says_what_is_done_until_when_and_with_what_care(
    client, programme
):
    visit = PlannedVisit.objects.first()
    job = visit.jobs.get()

    said, sizes = paper(client, reverse("reports:visit-sheet", args=[1, visit.pk]))

    assert sizes == {(210, 297)}
    assert visit.vehicle.versions.get().number in said
    assert f"Due {written(job.due_on)}, planned by {written(job.done_by)}" in said
    assert "Air test (AIR)" in said
    assert "Before anyone goes on or under the vehicle" in said
    assert "this sheet releases nothing" in said
    assert job.done_by == visit.monday + dt.timedelta(days=4)


def test_the_same_programme_gives_the_same_wall_sheet(client, programme, time_machine):
    time_machine.move_to(dt.datetime(2030, 1, 7, 12, tzinfo=dt.UTC), tick=False)
    address = f"{reverse('reports:wall', args=[1])}?size=a3"

    assert client.get(address).content == client.get(address).content


def test_train_crew_are_told_who_prints_papers(client, programme):
    client.force_login(UserFactory(role="train_crew"))

    assert client.get(reverse("reports:wall", args=[1])).status_code == 403

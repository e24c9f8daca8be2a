"""The paper of a signed release: who did the work, who released it, what was tested."""

from io import BytesIO

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from pypdf import PdfReader

from fleet.defects import services
from fleet.defects.models import WorkInHand
from fleet.defects.signing import counter_sign
from fleet.people.models import Skill
from fleet.register.vocabulary import Scope
from tests.defects.factories import at, make_policy, person, stood_at
from tests.examination.factories import make_test
from tests.people.factories import make_competence
from tests.register.factories import make_vehicle
from tests.web.reading import main

pytestmark = pytest.mark.django_db


@pytest.fixture
def people_of():
    """Edda does the work; Ruan releases it."""
    return person("Edda Quill"), person("Ruan Tregear")


def in_hand(worker, vehicle=None, **values):
    """Work on a vehicle's rigging, begun at nine."""
    return services.start_work(
        by=None,
        person=worker,
        vehicle=vehicle or make_vehicle(number="T 1"),
        what="Slack adjuster renewed",
        since=at(9),
        scope=Scope.SHARED_GEAR,
        **values,
    )


def released(work, signer):
    """The work released at noon."""
    return services.release_to_traffic(by=None, person=signer, work=work, at=at(12))


def printed(client, work):
    """The paper of a release as words."""
    answer = client.get(reverse("reports:release", args=[work.pk]))
    assert answer.status_code == 200
    pages = PdfReader(BytesIO(answer.content)).pages
    return " ".join(" ".join(page.extract_text() for page in pages).split())


def test_it_says_who_did_the_work_who_released_it_and_that_they_are_two(
    client, fitter, people_of
):
    worker, signer = people_of
    make_policy()
    work = released(in_hand(worker), signer)
    client.force_login(fitter)
    said = printed(client, work)
    assert "Release to traffic: T 1" in said
    assert "Work done by Edda Quill" in said
    assert "Released by Ruan Tregear" in said
    assert "Independent: who released it did not do the work." in said
    assert "The operator asks for this." in said
    assert f"Work No. {work.pk}" in said
    assert f"entry {work.opened_by.number}" in said
    assert "Every cock back in its normal position?" in said
    assert "It is not permission to move" in said


def test_who_released_their_own_work_is_said_not_to_be_independent(
    client, fitter, people_of
):
    worker, _signer = people_of
    client.force_login(fitter)
    said = printed(client, released(in_hand(worker), worker))
    assert "Not independent: who released it did the work." in said
    assert "The operator does not ask for another here." in said


def test_it_lists_the_tests_between_start_and_release_and_no_others(
    client, fitter, people_of
):
    worker, signer = people_of
    vehicle = make_vehicle(number="T 1")
    before = make_test(vehicle=vehicle, on=at(8))
    between = make_test(vehicle=vehicle, on=at(11))
    work = in_hand(worker, vehicle)
    after = make_test(vehicle=vehicle, on=at(13))
    client.force_login(fitter)
    said = printed(client, released(work, signer))
    assert f"No. {between.test_id} " in said
    assert f"No. {before.test_id} " not in said
    assert f"No. {after.test_id} " not in said


def test_without_a_test_it_says_that_none_is_recorded(client, fitter, people_of):
    worker, signer = people_of
    client.force_login(fitter)
    said = printed(client, released(in_hand(worker), signer))
    assert "No test of the vehicle is recorded between the two." in said


def test_without_competence_it_asks_for_a_counter_signature_until_there_is_one(
    client, fitter, people_of
):
    worker, signer = people_of
    able = person("Osian Pell")
    make_competence(able, skill=Skill.RELEASE)
    work = released(in_hand(worker), signer)
    client.force_login(fitter)
    said = printed(client, work)
    assert "Ruan Tregear held no competence in Release to traffic that day." in said
    assert "COUNTER-SIGNATURE NEEDED" in said
    counter_sign(by=None, person=able, row=work, on=at(14), remark="Looked at")
    said = printed(client, work)
    assert "Osian Pell. Looked at" in said
    assert "COUNTER-SIGNATURE NEEDED" not in said


def test_the_release_of_a_defect_prints_its_steps_and_is_linked_from_both_pages(
    client, fitter, people_of
):
    worker, _signer = people_of
    defect = stood_at("released", doer=worker)
    work = WorkInHand.objects.current().get(defect=defect)
    client.force_login(fitter)
    said = printed(client, work)
    assert "What was recorded of the defect" in said
    assert "Work done by Edda Quill" in said
    address = reverse("reports:release", args=[work.pk])
    assert address in main(client.get(defect.get_absolute_url()))
    assert address in main(client.get(work.vehicle.get_absolute_url()))


def test_what_is_not_released_has_no_paper_and_train_crew_print_none(
    client, fitter, train_crew, people_of
):
    worker, signer = people_of
    work = in_hand(worker)
    client.force_login(fitter)
    address = reverse("reports:release", args=[work.pk])
    assert client.get(address).status_code == 404
    done = released(work, signer)
    client.force_login(train_crew)
    address = reverse("reports:release", args=[done.pk])
    assert client.get(address).status_code == 403


def test_it_asks_as_often_for_many_tests_as_for_one(client, fitter, people_of):
    worker, signer = people_of
    client.force_login(fitter)
    counted = []
    for tests in (1, 5):
        vehicle = make_vehicle()
        for minute in range(tests):
            make_test(vehicle=vehicle, on=at(10, minute))
        work = released(in_hand(worker, vehicle), signer)
        printed(client, work)
        with CaptureQueriesContext(connection) as queries:
            printed(client, work)
        counted.append(len(queries))
    assert counted[0] == counted[1]

"""Which role may do what, and that roles are put back as they were."""

import pytest
from django.apps import apps
from django.contrib.auth.models import Group
from django.core.management import call_command
from django.urls import reverse

from fleet.people.access import may, person_of
from fleet.people.models import Person
from fleet.people.roles import ROLES, bearers, install_after_migrate
from tests.people.factories import PASSWORD, PersonFactory, UserFactory

pytestmark = pytest.mark.django_db


@pytest.mark.parametrize(
    ("permission", "those"),
    [
        ("record_facts", {"fitter", "planner", "manager", "administrator"}),
        ("assess_defects", {"fitter", "planner", "manager", "administrator"}),
        ("print_reports", {"fitter", "planner", "manager", "administrator"}),
        ("plan_work", {"planner", "manager", "administrator"}),
        ("edit_register", {"planner", "manager", "administrator"}),
        ("release_vehicles", {"manager", "administrator"}),
        ("edit_policy", {"manager", "administrator"}),
    ],
)
def test_a_permission_is_carried_by_these_roles_only(people, permission, those):
    assert {name for name, user in people.items() if may(user, permission)} == those


def test_installing_the_roles_again_undoes_what_was_changed_by_hand(people):
    Group.objects.get(name="train_crew").permissions.set(
        Group.objects.get(name="manager").permissions.all()
    )

    install_after_migrate(app_config=apps.get_app_config("people"), using="default")

    assert Group.objects.filter(name__in=ROLES).count() == len(ROLES)
    assert not Group.objects.get(name="train_crew").permissions.exists()


def test_only_the_administrator_may_enter_the_admin_site(people, client):
    answers = {}
    for name, user in people.items():
        client.force_login(user)
        answers[name] = client.get("/admin/").status_code

    assert [name for name, status in answers.items() if status == 200] == [
        "administrator"
    ]


def test_a_refusal_names_the_roles_that_may():
    assert bearers("release_vehicles") == "manager or administrator"
    assert bearers("plan_work") == "planner, manager or administrator"


def test_an_account_stands_for_one_person_made_from_its_name():
    user = UserFactory(first_name="Ada", last_name="Wren")

    first, second = person_of(user), person_of(user)

    assert first == second
    assert first.name == "Ada Wren"


def test_a_person_who_left_is_kept_but_no_longer_offered():
    here, gone = PersonFactory(), PersonFactory(active=False)

    assert list(Person.objects.active()) == [here]
    assert Person.objects.filter(pk=gone.pk).exists()


def test_one_signs_in_with_the_password_and_out_by_a_button(client, fitter):
    answer = client.post(
        reverse("people:sign-in"), {"username": "fitter", "password": PASSWORD}
    )
    assert (answer.status_code, answer["Location"]) == (302, "/")
    assert "_auth_user_id" in client.session

    assert client.get(reverse("people:sign-out")).status_code == 405
    client.post(reverse("people:sign-out"))
    assert "_auth_user_id" not in client.session


def test_a_wrong_password_is_told_so_and_five_close_the_door_for_a_while(
    client, fitter
):
    wrong = {"username": "fitter", "password": "wrong"}
    first = client.post(reverse("people:sign-in"), wrong)
    assert "correct username and password" in first.content.decode()

    answers = [client.post(reverse("people:sign-in"), wrong) for _ in range(4)]

    assert answers[-1].status_code == 429
    assert "quarter of an hour" in answers[-1].content.decode()


def test_migrating_again_changes_nothing(people):
    before = sorted(Group.objects.values_list("name", "permissions"))

    call_command("migrate", verbosity=0)

    assert sorted(Group.objects.values_list("name", "permissions")) == before

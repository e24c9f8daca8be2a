"""Job plans on the screen: what has none, make one, revise it, put it right."""

import pytest
from django.urls import reverse

from fleet.upkeep.models import Requirement
from fleet.workshop.job_plans import plan_of
from tests.upkeep.factories import make_age_limit, make_requirement
from tests.web.reading import words
from tests.workshop.factories import make_plan

pytestmark = pytest.mark.django_db

SENT = {"hours_air": 6, "weeks": 2, "place": "pit", "early_days": 56}


def page(client, user, name, *args):
    """What a page says to a user."""
    client.force_login(user)
    answer = client.get(reverse(f"workshop:{name}", args=args))
    assert answer.status_code == 200
    return words(answer)


def test_the_list_leads_with_what_has_no_plan(client, planner):
    make_plan(make_requirement(code="planned"))
    make_requirement(code="bare")

    said = page(client, planner, "plan-list")

    assert said.index("bare") < said.index("planned")
    assert "1 without a plan: no programme can place them" in said
    assert "no plan: the programme cannot place it" in said


def test_a_planner_makes_a_plan_and_revises_it(client, planner):
    needed = make_requirement(code="annual")
    client.force_login(planner)
    address = reverse("workshop:plan-edit", args=["annual"])

    assert client.post(address, SENT).status_code == 302
    client.post(address, SENT | {"hours_gear": 3, "together": "yearly"})

    plan = plan_of(needed)
    assert plan.hours == {"air": 6, "gear": 3}
    assert (plan.weeks, plan.place, plan.together) == (2, "pit", "yearly")
    said = page(client, planner, "plan", "annual")
    assert "6 h air brake tests, 3 h brake gear and handbrake, 2 weeks, pit" in said


def test_putting_right_asks_what_was_wrong(client, planner):
    needed = make_requirement(code="annual")
    make_plan(needed)
    client.force_login(planner)
    address = reverse("workshop:plan-correct", args=["annual"])

    assert client.post(address, SENT).status_code == 200
    client.post(address, SENT | {"reason": "A slip of the pen."})

    assert plan_of(needed).hours == {"air": 6}
    assert "A slip of the pen" in page(client, planner, "plan", "annual")


@pytest.mark.parametrize(
    ("sent", "said"),
    [
        ({"hours_air": ""}, "Give the hours of at least one skill"),
        ({"exchange": "on"}, "there is nothing to exchange"),
        ({"weeks": 40}, "less than or equal to 26"),
    ],
)
def test_what_makes_no_sense_is_said_beside_the_form(client, planner, sent, said):
    make_requirement(code="annual")
    client.force_login(planner)

    answer = client.post(reverse("workshop:plan-edit", args=["annual"]), SENT | sent)

    assert said in words(answer)
    assert plan_of(Requirement.objects.get(code="annual")) is None


def test_an_age_limit_may_take_an_exchange_unit(client, planner):
    needed = make_age_limit(code="hose")
    client.force_login(planner)

    client.post(reverse("workshop:plan-edit", args=["hose"]), SENT | {"exchange": "on"})

    assert plan_of(needed).exchange


@pytest.mark.parametrize("name", ["plan-edit", "plan-correct"])
@pytest.mark.parametrize("role", ["fitter", "train_crew"])
def test_only_who_plans_work_alters_a_plan(client, people, name, role):
    make_plan(make_requirement(code="annual"))
    client.force_login(people[role])

    assert client.get(reverse(f"workshop:{name}", args=["annual"])).status_code == 403


def test_a_requirement_that_is_not_there_has_no_page(client, planner):
    client.force_login(planner)

    assert client.get(reverse("workshop:plan", args=["none"])).status_code == 404

"""The pages of the programme: asked for, looked at, tried otherwise, published, followed."""

import datetime as dt

import pytest
from django.urls import reverse

from fleet.records.clock import now
from fleet.workshop.models import PinVersion, PlannedVisit, Programme, ProgrammeRun
from fleet.workshop.naming import type_name
from fleet.workshop.publishing import publish_programme
from fleet.workshop.running import found_by
from fleet.workshop.vocabulary import RunState, Wish
from tests.workshop.kept import make_contractor, make_hours
from tests.workshop.shop import found_run, open_shop, planner, start

pytestmark = pytest.mark.django_db


@pytest.fixture
def started(monkeypatch):
    """The searches begun; no process is started."""
    begun = []
    for module in ("runs", "what_if"):
        monkeypatch.setattr(f"fleet.workshop.views.{module}.start_search", begun.append)
    return begun


@pytest.fixture
def at(client, people):
    """Open a page as a planner, or as another role."""

    def look(name, *args, role="planner", query="", **options):
        client.force_login(people[role])
        return client.get(reverse(f"workshop:{name}", args=args) + query, **options)

    return look


@pytest.fixture
def send(client, people):
    """Send a form as a planner, or as another role."""

    def post(name, *args, role="planner", **said):
        client.force_login(people[role])
        return client.post(reverse(f"workshop:{name}", args=args), said)

    return post


def text(answer):
    assert answer.status_code == 200
    return " ".join(answer.content.decode().split())


def test_an_empty_register_has_no_programme_and_says_so(at):
    said = text(at("programmes"))

    assert "None was published" in said
    assert "No search was asked for" in said
    for page in ("workshop:plan-list", "workshop:capacity", "workshop:diary"):
        assert f'<li><a href="{reverse(page)}">' in said


def test_with_all_that_a_search_plans_from_nothing_is_asked_for_first(at):
    open_shop()

    assert "First, what a programme is planned from" not in text(at("programmes"))


def test_asking_begins_a_search_over_the_months_asked_for(send, started):
    answer = send("run-ask", title="Winter", months=12, seconds=30, rate="0.1")

    run = ProgrammeRun.objects.get()
    assert started == [run]
    assert answer.url == run.get_absolute_url()
    assert (run.weeks, run.seconds, float(run.rate)) == (53, 30, 0.1)
    assert run.start.isoweekday() == 1


def test_a_search_without_end_is_not_begun(send, started):
    answer = send("run-ask", months=500, seconds=30, rate="0.1")

    assert "months" in answer.context["form"].errors
    assert started == []


@pytest.mark.parametrize("role", ["fitter", "train_crew"])
@pytest.mark.parametrize("name", ["run-ask", "what-if", "publish"])
def test_only_who_plans_work_may(at, role, name):
    open_shop(vehicles=1)
    args = [] if name == "run-ask" else [found_run().pk]

    assert at(name, *args, role=role).status_code == 403


def test_everybody_may_look(at):
    open_shop()
    run = found_run()

    assert "Wall chart" in text(at("run", run.pk, role="train_crew"))


def going(**changes):
    run = found_run()
    ProgrammeRun.objects.filter(pk=run.pk).update(
        **{"state": RunState.RUNNING, "heard_at": now()} | changes
    )
    return run


def test_a_search_that_goes_on_asks_again_by_itself_and_can_be_stopped(at, send):
    open_shop()
    run = going()

    said = text(at("run", run.pk))
    assert 'hx-trigger="load delay:1s"' in said
    assert "Stop, keep the best" in said
    assert "Look again" in said

    send("run-stop", run.pk)
    assert ProgrammeRun.objects.get().stop_asked


def test_a_fitter_stops_no_search(send):
    open_shop()
    run = going()

    assert send("run-stop", run.pk, role="fitter").status_code == 403
    assert not ProgrammeRun.objects.get().stop_asked


def test_once_a_search_is_over_the_part_has_the_page_read_anew(at):
    open_shop()
    run = found_run()

    answer = at("run", run.pk, headers={"HX-Request": "true"})

    assert answer["HX-Refresh"] == "true"


def test_a_search_that_died_is_shown_as_failed_with_its_best(at):
    open_shop()
    run = going(heard_at=now() - dt.timedelta(minutes=2))

    said = text(at("run", run.pk))

    assert "Ask for it again" in said
    assert "Wall chart" in said
    assert "Publish" not in said


def test_the_page_lays_the_rules_of_thumb_beside_it_and_shows_visits_and_hours(at):
    vehicle, _ = open_shop()

    said = text(at("run", found_run().pk))

    assert "Earliest due date first" in said
    assert "grouped by vehicle" in said
    assert "Air brake tests" in said
    assert str(vehicle.versions.get().number) in said


def test_where_cover_falls_short_the_page_says_who_is_missing(at):
    open_shop(vehicles=2, wanted=3)

    said = text(at("run", found_run().pk))

    assert "Where it falls short" in said
    assert "Goods" in said
    assert "2 of 3" in said


def first_visit(run):
    visit = found_by(run).visits[0]
    return visit.vehicle, visit.week


def test_the_page_of_a_visit_tells_why_it_stands_there(at):
    open_shop()
    run = found_run()

    said = text(at("run-visit", run.pk, *first_visit(run)))

    assert "falls due on" in said
    assert "It stands here" in said
    assert "Pin it here instead" in said


def test_there_is_no_page_of_a_visit_that_is_not_in_it(at):
    open_shop()

    assert at("run-visit", found_run().pk, 1, 0).status_code == 404


def test_a_visit_is_pinned_with_a_reason_and_the_pin_is_listed_and_taken_out(at, send):
    open_shop()
    run = found_run()
    monday = start() + dt.timedelta(weeks=2)

    send(
        "run-pin",
        run.pk,
        *first_visit(run),
        wish=Wish.AT,
        first=monday,
        last=monday,
        why="The crane is here",
    )

    row = PinVersion.objects.current().get()
    assert (row.requirement.code, row.first, row.why) == (
        "AIR",
        monday,
        "The crane is here",
    )
    said = text(at("pin-list"))
    assert "The crane is here" in said
    assert "Begins in one of these weeks: Air test" in said
    send("pin-take-out", row.pin_id, reason="Crane gone")
    assert "No pin is set" in text(at("pin-list"))


def test_a_variant_is_searched_for_beside_its_base(send, started):
    open_shop()
    base = found_run()
    contractor = make_contractor()

    send(
        "what-if",
        base.pk,
        contractor=contractor.contractor_id,
        late_weeks=6,
        seconds=10,
    )

    variant = ProgrammeRun.objects.get(beside=base)
    assert started == [variant]
    assert variant.title == "What if: Brindle Bench Works is 6 weeks late"
    assert variant.supposed[0]["weeks"] == 6


def test_hours_that_may_be_lost_are_told_apart_by_their_days(at):
    open_shop()
    for first in (dt.date(2027, 5, 1), dt.date(2027, 6, 5)):
        last = first + dt.timedelta(days=1)
        make_hours(title="Work weekend", first=first, last=last, each="day")

    said = text(at("what-if", found_run().pk))

    assert "Work weekend, 1 to 2 May 2027" in said
    assert "Work weekend, 5 to 6 Jun 2027" in said


def test_only_skills_that_plans_or_hours_use_can_be_supposed_lost(at):
    open_shop()
    make_hours(skill="gear")

    said = at("what-if", found_run().pk).context["form"].fields["skill"].choices

    # the one job of the shop takes air
    assert [key for key, _ in said] == ["", "all", "air", "gear"]


def test_a_variant_of_several_suppositions_is_called_by_all(send, started):
    open_shop()
    contractor = make_contractor()
    road = {"place": "road", "places": 1}
    days = {"place_first": "2027-05-10", "place_last": "2027-05-16"}
    late = {"contractor": contractor.contractor_id, "late_weeks": 6}

    send("what-if", found_run().pk, seconds=10, **late, **road, **days)

    (variant,) = started
    assert variant.title == (
        "What if: Brindle Bench Works is 6 weeks late; "
        "1 shop road lost from 10 May 2027 to 16 May 2027"
    )


def test_hours_of_a_visit_are_told_by_the_name_of_the_skill(at):
    open_shop(vehicles=1)
    run = found_run()

    assert "8 h Air brake tests" in text(at("run", run.pk))
    assert "8 h Air brake tests" in text(at("run-visit", run.pk, *first_visit(run)))


@pytest.mark.parametrize(
    ("said", "field"),
    [
        pytest.param({}, None, id="nothing supposed"),
        pytest.param({"place": "road", "places": 1}, "place_first", id="no days"),
        pytest.param(
            {
                "skill": "all",
                "hours_first": "2027-05-12",
                "hours_last": "2027-05-11",
            },
            "hours_last",
            id="backwards",
        ),
    ],
)
def test_a_supposition_half_filled_in_is_asked_for_whole(send, started, said, field):
    open_shop()

    answer = send("what-if", found_run().pk, seconds=10, **said)

    assert (field or "__all__") in answer.context["form"].errors
    assert started == []


def test_two_programmes_stand_side_by_side(at):
    vehicle, _ = open_shop()
    base = found_run()
    days = {
        "first": start().isoformat(),
        "last": (start() + dt.timedelta(weeks=20)).isoformat(),
    }
    away = {"kind": "vehicles away", "vehicles": [str(vehicle.pk)], "names": ["One"]}
    variant = found_run(supposed=[away | days], beside=base)

    said = text(at("run-beside", base.pk, variant.pk))

    assert "One away from" in said
    assert "Days late" in said
    week = found_by(variant).starts[f"AIR/{vehicle.pk}", 0]
    assert f"{start() + dt.timedelta(weeks=week):%d %b %Y}".lstrip("0") in said
    assert week > 20


def test_publishing_leads_to_the_programme_whose_visits_have_sheets(at, send):
    vehicle, _ = open_shop()
    run = found_run()

    answer = send("publish", run.pk, title="Winter")

    assert answer.url == reverse("workshop:programme", args=[1])
    assert "0 jobs done, 0 late, 2 open" in text(at("programme", 1))
    visit = PlannedVisit.objects.get(vehicle=vehicle)
    sheet = text(at("planned-visit", 1, visit.pk))
    assert "Air test" in sheet
    assert "8 h Air brake tests" in sheet
    assert ">Single-vehicle air brake test</a>" in sheet
    assert type_name(vehicle.versions.get().type_id) in sheet
    assert "Before anyone goes on or under the vehicle" in sheet


def test_what_breaks_a_pin_is_not_published_and_the_sentence_stands_in_the_form(send):
    open_shop()
    run = found_run()
    _, week = first_visit(run)
    monday = start() + dt.timedelta(weeks=week)
    pin = {"wish": Wish.NOT_IN, "first": monday, "last": monday, "why": "Lent"}
    send("run-pin", run.pk, *first_visit(run), **pin)

    answer = send("publish", run.pk, title="Winter")

    said = text(answer)
    assert "against a pin" in said
    assert "take out any pin that cannot be kept" in said
    assert not Programme.objects.exists()


def publish():
    user, person = planner()
    return publish_programme(by=user, person=person, run=found_run(), title="Winter")


def test_the_board_shows_what_the_programme_would_give_when_asked(client, people):
    (vehicle,) = open_shop(vehicles=1)
    publish()
    client.force_login(people["planner"])
    day = (start() + dt.timedelta(weeks=20)).isoformat()

    left = text(client.get(f"/?on={day}"))
    done = text(client.get(f"/?on={day}&ahead=done"))

    assert "level-piped" in left.partition("<tbody>")[2]
    assert "level-braked" in done.partition("<tbody>")[2]
    assert "Supposed, not recorded" in done
    page = text(client.get(f"/vehicles/{vehicle.pk}/?ahead=done"))
    assert "Supposed, not recorded" in page


@pytest.mark.parametrize("vehicles", [1, 5])
def test_pages_take_the_same_queries_for_any_programme(
    client, people, vehicles, django_assert_num_queries
):
    open_shop(vehicles=vehicles)
    publish()
    run = ProgrammeRun.objects.get()
    visit = PlannedVisit.objects.first()
    client.force_login(people["planner"])
    pages = {
        reverse("workshop:programmes"): 0,
        run.get_absolute_url(): 0,
        reverse("workshop:run-visit", args=[run.pk, *first_visit(run)]): 0,
        reverse("workshop:pin-list"): 0,
        reverse("workshop:programme", args=[1]): 0,
        reverse("workshop:planned-visit", args=[1, visit.pk]): 0,
        "/?ahead=done": 0,
    }
    for address in pages:
        client.get(address)  # what is kept between requests is read by now
    from django.db import connection
    from django.test.utils import CaptureQueriesContext

    for address in pages:
        with CaptureQueriesContext(connection) as caught:
            client.get(address)
        pages[address] = len(caught)
    assert list(pages.values()) == QUERIES


# session and user 2; the rest is read once for all visits, jobs and vehicles
QUERIES = [7, 7, 5, 6, 11, 16, 28]

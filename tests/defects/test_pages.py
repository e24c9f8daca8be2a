"""Pages of defects and isolations: what they show, to whom, and what they refuse."""

import datetime as dt
import html
import re
import uuid

import pytest
from django.urls import reverse

from fleet.defects import services
from fleet.defects.models import Defect, DefectStep, IsolationVersion, WorkInHand
from fleet.defects.symptoms import symptoms_of
from fleet.defects.vocabulary import Step, Tendency
from fleet.people.models import Person
from fleet.records.models import Entry
from fleet.register.vocabulary import Effect, EquipmentKind, Scope
from tests.defects.factories import (
    answers,
    at,
    make_defect,
    make_isolation,
    make_policy,
    person,
    stood_at,
)
from tests.examination.factories import make_test
from tests.register.factories import make_equipment, make_fitting, make_vehicle

pytestmark = pytest.mark.django_db

WHEN = {"on_day": "2026-05-04", "on_time": "12:00"}


def when(name, time="12:00", day="2026-05-04"):
    """A day and a time as the browser sends them."""
    return {f"{name}_day": day, f"{name}_time": time}


def words(response):
    """What a page says, without its tags."""
    text = re.sub(r"<[^>]+>", " ", response.content.decode())
    return " ".join(html.unescape(text).split())


def add_page(**subject):
    """The address of the report form."""
    query = "&".join(f"{name}={value}" for name, value in subject.items())
    return f"{reverse('defects:defect-add')}?{query}"


def step_page(defect, step):
    return reverse("defects:defect-step", args=[defect.pk, step])


@pytest.fixture
def vehicle():
    """A coach with a distributor and a brake pipe hose."""
    coach = make_vehicle()
    for position in ("distributor", "bp-hose-1", "distributor-cock"):
        make_fitting(vehicle=coach, position=position)
    return coach


@pytest.fixture
def fitted(client, fitter):
    """A browser in which a fitter has signed in."""
    client.force_login(fitter)
    return client


@pytest.fixture
def managed(client, manager):
    """A browser in which a manager has signed in."""
    client.force_login(manager)
    return client


def test_a_defect_is_raised_by_two_choices_and_a_button(fitted, vehicle):
    address = add_page(vehicle=vehicle.pk, position="distributor")
    offered = words(fitted.get(address))
    assert "Slow to release" in offered
    assert (
        "not to run in an air train until the isolation record is complete" in offered
    )

    response = fitted.post(
        address,
        {
            "symptom": "slow to release",
            "effect": "isolate",
            "person": Person.objects.get().pk,
            **WHEN,
        },
    )

    defect = Defect.objects.get()
    assert response.url == defect.get_absolute_url()
    assert defect.title == "Distributor: slow to release"
    assert defect.equipment.kind == EquipmentKind.DISTRIBUTOR
    newest = DefectStep.objects.newest().get()
    assert (newest.step, newest.effect, newest.tends) == (
        Step.ASSESSED,
        Effect.ISOLATE,
        Tendency.ON,
    )
    shown = words(fitted.get(response.url))
    assert "Brake to be isolated: not to run in an air train until" in shown


def test_a_hose_offers_nothing_less_than_not_to_run(fitted, vehicle):
    page = fitted.get(add_page(vehicle=vehicle.pk, position="bp-hose-1"))

    offered = [code for code, _ in page.context["form"].fields["effect"].choices]

    assert offered == ["stop", "not_assessed"]
    assert "not even as piped" in words(page)


def test_a_report_of_an_item_in_a_store_asks_what_it_bears_on(fitted):
    item = make_equipment(EquipmentKind.DISTRIBUTOR)
    address = add_page(equipment=item.pk)
    sent = {"symptom": "no release", "effect": "stop", "person": "", **WHEN}
    sent["person"] = person().pk

    refused = fitted.post(address, sent)
    assert "Say which part of the brake the defect bears on." in words(refused)
    fitted.post(address, sent | {"scope": "air_brake"})

    assert DefectStep.objects.newest().get().scope == Scope.AIR_BRAKE


def test_a_report_may_wait_for_an_examiner(fitted, vehicle):
    fitted.post(
        add_page(vehicle=vehicle.pk),
        {
            "symptom": "brake drags",
            "effect": "not_assessed",
            "scope": "air_brake",
            "person": person().pk,
            **WHEN,
        },
    )

    shown = words(fitted.get(Defect.objects.get().get_absolute_url()))

    assert "Until it is assessed it counts as the operator's conditions lay down." in (
        shown
    )
    assert "Assess" in shown


@pytest.mark.parametrize(
    ("changed", "sentence"),
    [
        ({"symptom": ""}, "Choose what is wrong, or write it in your own words."),
        ({"effect": ""}, "Choose what it does, or that it waits."),
        ({"on_day": "2190-01-01"}, "This lies after"),
        ({"on_day": "last week"}, "Write the date as 2019-05-03"),
        ({"effect": "condition"}, "Write the condition as train crew should read it."),
        ({"on_day": "2001-01-01"}, "The register holds nothing of this vehicle before"),
    ],
)
def test_what_is_wrong_with_a_report_is_said_and_nothing_stored(
    fitted, vehicle, changed, sentence
):
    sent = {
        "symptom": "slow to release",
        "effect": "isolate",
        "person": person().pk,
        **WHEN,
    }

    page = fitted.post(
        add_page(vehicle=vehicle.pk, position="distributor"), sent | changed
    )

    assert sentence in words(page)
    assert not Defect.objects.exists()


def test_a_report_sent_twice_is_one_defect(fitted, vehicle):
    sent = {
        "submission": uuid.uuid4(),
        "symptom": "slow to release",
        "effect": "isolate",
        "person": person().pk,
        **WHEN,
    }
    address = add_page(vehicle=vehicle.pk, position="distributor")

    first, second = fitted.post(address, sent), fitted.post(address, sent)

    assert first.url == second.url == Defect.objects.get().get_absolute_url()


@pytest.mark.parametrize(
    "query", ["", "vehicle=x", "vehicle=999999", "equipment=999999"]
)
def test_a_report_about_nothing_known_is_not_found(fitted, query):
    assert fitted.get(f"{reverse('defects:defect-add')}?{query}").status_code == 404


def test_a_report_about_a_place_not_on_the_type_is_not_found(fitted, vehicle):
    page = fitted.get(add_page(vehicle=vehicle.pk, position="boiler"))

    assert page.status_code == 404


def test_a_defect_goes_through_its_steps_on_pages(client, people):
    make_policy()
    defect = make_defect(effect=None)
    client.force_login(people["fitter"])
    doer = person()
    note = {"note": "Seal renewed"}

    def take(step, **sent):
        return client.post(step_page(defect, step), sent)

    take("assessed", scope="air_brake", effect="isolate", **when("on", "08:30"))
    take("in_hand", person=doer.pk, **when("on", "09:00"))
    take("done", person=doer.pk, **note, **when("on", "10:00"))
    test = make_test(vehicle=defect.vehicle, on=at(11))
    take("tested", person=doer.pk, test=test.pk, **when("on", "11:30"))
    client.force_login(people["manager"])
    take("released", **when("on", "12:00"))

    steps = DefectStep.objects.current().filter(defect=defect).order_by("number")
    assert [step.step for step in steps] == list(Step)[:6]
    assert steps.last().by.user == people["manager"]
    shown = words(client.get(defect.get_absolute_url()))
    assert "Seal renewed" in shown
    assert "Recorded" in shown


def test_only_the_steps_that_can_come_next_are_offered(managed):
    make_policy()

    def offered(defect):
        page = managed.get(defect.get_absolute_url())
        return [step.step for step in page.context["steps"]]

    assert offered(make_defect(effect=None)) == ["assessed", "no_fault"]
    assert offered(make_defect()) == ["assessed", "in_hand", "done", "no_fault"]
    assert offered(stood_at(Step.DONE)) == ["assessed", "in_hand", "tested", "released"]
    assert offered(stood_at(Step.RELEASED)) == []


def test_a_step_that_cannot_come_next_says_why(managed):
    page = managed.get(step_page(make_defect(), "released"))

    assert page.status_code == 409
    assert "Record the work done first" in words(page)


def test_a_release_by_who_did_the_work_is_refused_on_the_page(managed, manager):
    make_policy()
    managed.get(add_page(vehicle=make_vehicle().pk))  # the first page makes the person
    doer = Person.objects.get(user=manager)
    defect = stood_at(Step.DONE, doer=doer, vehicle=make_vehicle(), scope="shared_gear")

    page = managed.post(step_page(defect, "released"), when("on", "12:00"))

    assert "did the work." in words(page)
    assert "somebody else has to look at it and release it." in words(page)
    assert DefectStep.objects.newest().get(defect=defect).step == Step.DONE


ROLES = ("fitter", "planner", "manager", "train_crew", "administrator")


@pytest.mark.parametrize("role", ROLES)
@pytest.mark.parametrize(
    ("page", "barred"),
    [
        ("defect-list", ()),
        ("isolation-list", ()),
        ("defect", ()),
        ("isolation", ()),
        ("defect-add", ("train_crew",)),
        ("assessed", ("train_crew",)),
        ("in_hand", ("train_crew",)),
        ("done", ("train_crew",)),
        ("no_fault", ("train_crew",)),
        ("released", ("train_crew", "fitter", "planner")),
        ("step-correct", ("train_crew",)),
        ("step-take-back", ("train_crew",)),
        ("isolation-add", ("train_crew",)),
        ("isolation-complete", ("train_crew",)),
        ("isolation-restore", ("train_crew",)),
        ("isolation-take-back", ("train_crew",)),
        ("move-authorise", ("train_crew", "fitter", "planner")),
        ("work-start", ("train_crew",)),
        ("work-release", ("train_crew", "fitter", "planner")),
    ],
)
def test_who_may_open_which_page(client, people, role, page, barred):
    stands = Step.DONE if page == "released" else Step.ASSESSED
    defect = stood_at(stands)
    version = make_isolation(lines=[])
    step = DefectStep.objects.newest().get(defect=defect)
    work = services.start_work(
        by=None, person=person(), vehicle=defect.vehicle, what="Blocks", since=at(9)
    )
    pages = {
        "defect-list": ("defect-list",),
        "isolation-list": ("isolation-list",),
        "defect": ("defect", defect.pk),
        "isolation": ("isolation", version.isolation_id),
        "step-correct": ("step-correct", step.pk),
        "step-take-back": ("step-take-back", step.pk),
        "isolation-add": ("isolation-add", defect.vehicle_id, "air"),
        "work-start": ("work-start", defect.vehicle_id),
        "work-release": ("work-release", work.pk),
        "isolation-complete": ("isolation-complete", version.isolation_id),
        "isolation-restore": ("isolation-restore", version.isolation_id),
        "isolation-take-back": ("isolation-take-back", version.isolation_id),
        "move-authorise": ("move-authorise", version.isolation_id),
    }
    if page == "defect-add":
        address = add_page(vehicle=defect.vehicle_id, position="distributor")
    elif page in pages:
        name, *keys = pages[page]
        address = reverse(f"defects:{name}", args=keys)
    else:
        address = step_page(defect, page)
    client.force_login(people[role])
    before = Entry.objects.count()

    assert client.get(address).status_code == (403 if role in barred else 200)
    if role in barred:
        assert client.post(address, {}).status_code == 403
    assert Entry.objects.count() == before


@pytest.mark.parametrize("name", ["defect-list", "isolation-list", "defect-add"])
def test_nobody_looks_without_signing_in(client, name):
    response = client.get(reverse(f"defects:{name}"))

    assert response.status_code == 302
    assert response.url.startswith(reverse("people:sign-in"))


def answered(vehicle, **changed):
    """Every line of an isolation as the browser sends it."""
    sent = {}
    for n, line in enumerate(answers(vehicle, **changed)):
        if line["position"]:
            sent |= {f"line-{n}-found": line["found"], f"line-{n}-left": line["left"]}
        else:
            sent[f"line-{n}-done"] = {True: "yes", False: "no", None: ""}[line["done"]]
    return sent


def isolate_page(vehicle, system="air", query=""):
    return reverse("defects:isolation-add", args=[vehicle.pk, system]) + query


def isolating(vehicle, **changed):
    """An isolation form filled in."""
    return {
        "why": "Slow to release",
        "extent": "whole",
        "person": person().pk,
        **when("since", "09:00"),
        **answered(vehicle, **changed),
    }


def test_an_isolation_with_every_line_is_recorded_as_complete(fitted, vehicle):
    defect = make_defect(vehicle=vehicle, position="distributor")
    query = f"?defect={defect.pk}"

    response = fitted.post(isolate_page(vehicle, query=query), isolating(vehicle))

    version = IsolationVersion.objects.get()
    assert (version.complete, version.defect) == (True, defect)
    assert response.url == version.isolation.get_absolute_url()
    assert "Record complete: every line answered" in words(fitted.get(response.url))
    assert "record complete" in words(fitted.get(defect.get_absolute_url()))


def test_an_incomplete_isolation_says_what_is_open_and_is_completed(fitted, vehicle):
    sent = isolating(vehicle, vented={"done": None}, distributor_cock={"left": "open"})
    response = fitted.post(isolate_page(vehicle), sent)
    told = words(fitted.get(response.url))
    assert "Record incomplete" in told
    assert "vented and drained: not answered" in told
    assert "left open, so the brake is not cut out" in told
    isolation = IsolationVersion.objects.get().isolation
    address = reverse("defects:isolation-complete", args=[isolation.pk])
    shown = fitted.get(address).content.decode()
    assert shown.count("checked") >= 4

    more = answered(vehicle) | {"person": person().pk, **when("at", "10:00")}
    fitted.post(address, more)

    assert "Record complete" in words(fitted.get(response.url))
    assert [v.complete for v in isolation.versions.current().order_by("since_key")] == [
        False,
        True,
    ]


def test_a_cock_found_wrong_offers_a_defect_of_its_own(fitted, vehicle):
    sent = isolating(vehicle, distributor_cock={"found": "closed"})

    page = fitted.get(fitted.post(isolate_page(vehicle), sent).url)

    assert "was found closed; its normal position is open" in words(page)
    address = add_page(vehicle=vehicle.pk, position="distributor-cock")
    assert address.replace("&", "&amp;") in page.content.decode()


def test_cautions_stand_where_the_brake_is_isolated(fitted, vehicle):
    shown = words(fitted.get(isolate_page(vehicle)))

    assert "Before anyone goes on or under the vehicle." in shown
    assert "Before hands go near rigging or blocks." in shown
    assert "Before a joint is broken or a hose uncoupled." in shown


def test_a_system_without_a_brake_has_no_isolation_form(fitted, vehicle):
    page = fitted.get(isolate_page(vehicle, "vacuum"))

    assert page.status_code == 409
    assert "there is no brake of that system to isolate" in words(page)
    assert fitted.get(isolate_page(vehicle, "steam")).status_code == 404


def test_part_of_a_brake_out_without_words_for_the_crew_is_refused(fitted, vehicle):
    page = fitted.post(isolate_page(vehicle), isolating(vehicle) | {"extent": "part"})

    assert "Part of the brake stays in use" in words(page)
    assert not IsolationVersion.objects.exists()


def test_a_brake_is_restored_only_with_every_cock_back(fitted, vehicle):
    version = make_isolation(vehicle=vehicle)
    address = reverse("defects:isolation-restore", args=[version.isolation_id])
    sent = {"person": person().pk, "line-1-done": "yes", **when("at", "15:00")}

    refused = fitted.post(address, sent | {"line-0-left": "closed"})
    assert "its normal position is open" in words(refused)
    assert not IsolationVersion.objects.filter(restored_by__isnull=False).exists()
    response = fitted.post(address, sent | {"line-0-left": "open"})

    shown = words(fitted.get(response.url))
    assert "air brake restored" in shown.lower()
    assert fitted.get(address).status_code == 404


def test_work_on_a_vehicle_warns_of_what_is_open_before_it_is_released(
    managed, vehicle
):
    make_policy()
    make_defect(vehicle=vehicle, position="distributor")
    make_isolation(vehicle=vehicle)
    work = services.start_work(
        by=None, person=person(), vehicle=vehicle, what="Blocks changed", since=at(9)
    )

    shown = words(managed.get(reverse("defects:work-release", args=[work.pk])))

    assert "air brake is still recorded as isolated" in shown
    assert "Still open: Slow to release" in shown
    assert "Every cock back in its normal position?" in shown


def test_a_correction_shows_both_versions(managed):
    defect = make_defect()
    step = DefectStep.objects.newest().get()
    address = reverse("defects:step-correct", args=[step.pk])

    managed.post(
        address,
        {
            "scope": "air_brake",
            "effect": "stop",
            "reason": "Worse than thought",
            "person": step.by_id,
            **when("on", "08:00"),
        },
    )

    page = managed.get(defect.get_absolute_url())
    assert "Corrected: Worse than thought" in words(page)
    assert page.content.decode().count("corrected") == 1
    assert managed.get(address).status_code == 404


def test_a_step_taken_back_stays_in_the_log(managed):
    defect = make_defect()
    step = DefectStep.objects.newest().get()

    managed.post(
        reverse("defects:step-take-back", args=[step.pk]), {"reason": "Wrong coach"}
    )

    assert "Taken back: Wrong coach" in words(managed.get(defect.get_absolute_url()))
    assert DefectStep.objects.newest().get().step == Step.RAISED


def test_the_list_is_sifted_by_vehicle_item_scope_effect_state_and_age(fitted):
    make_policy()
    old = make_defect(on=at(8, day=dt.date(2020, 5, 4)))
    done = stood_at(Step.RELEASED)
    waiting = make_defect(effect=None, scope="", title="Something")
    number = old.vehicle.versions.get().number
    serial = done.equipment.versions.get().serial

    def found(**query):
        page = fitted.get(reverse("defects:defect-list"), query)
        return [row.record.defect_id for row in page.context["table"].rows]

    assert found() == [waiting.pk, old.pk, done.pk]
    assert found(vehicle=number) == [old.pk]
    assert found(equipment=serial) == [done.pk]
    assert found(state="open") == [waiting.pk, old.pk]
    assert found(state="raised") == [waiting.pk]
    assert found(effect="isolate") == [old.pk, done.pk]
    assert found(scope="brake_pipe") == []
    assert found(age="365") == [old.pk]


@pytest.mark.parametrize("size", [2, 9])
def test_pages_read_the_same_number_of_times_whatever_they_hold(
    client, fitter, size, django_assert_num_queries
):
    make_policy()
    vehicle = make_vehicle()
    make_fitting(vehicle=vehicle, position="distributor")
    for _ in range(size):
        defect = make_defect(vehicle=vehicle, position="distributor")
        make_isolation()
        restored = make_isolation()
        services.restore_brake(by=None, person=person(), version=restored, at=at(12))
    client.force_login(fitter)

    with django_assert_num_queries(SIGNED_IN + 2):  # count, page
        client.get(reverse("defects:defect-list"))
    # count, page and authorities to move, of both lists
    with django_assert_num_queries(SIGNED_IN + 6):
        client.get(reverse("defects:isolation-list"))
    # defect, steps, where its item is, names of both, isolations, particulars twice,
    # systems out, tickets like it and their steps, work, permissions twice; its report,
    # policy, tickets of the period and their steps, whether anybody is to release
    with django_assert_num_queries(SIGNED_IN + 19):
        client.get(defect.get_absolute_url())


SIGNED_IN = 2  # session, user


@pytest.mark.parametrize("kind", list(EquipmentKind))
def test_every_kind_offers_its_usual_failures(kind):
    texts = [symptom.text for symptom in symptoms_of(kind)]

    assert len(texts) >= 2
    assert len(set(texts)) == len(texts)


def test_work_begun_on_a_vehicle_stops_it_until_it_is_signed_off(managed, vehicle):
    begin = reverse("defects:work-start", args=[vehicle.pk])
    doer = person()
    sent = {"what": "Blocks changed", "scope": "shared_gear", "person": doer.pk}

    refused = managed.post(begin, {**sent, "what": "", **when("since", "09:00")})
    assert not WorkInHand.objects.exists()
    assert "This field is required." in words(refused)
    response = managed.post(begin, {**sent, **when("since", "09:00")})
    assert response.url == reverse("web:vehicle", args=[vehicle.pk])
    work = WorkInHand.objects.current().get()
    address = reverse("defects:work-release", args=[work.pk])
    early = managed.post(address, {"done_by": doer.pk, **when("at", "08:00")})
    assert "It was taken in hand on 4 May 2026, 09:00." in words(early)
    response = managed.post(address, {"done_by": doer.pk, **when("at", "12:00")})

    assert response.url == reverse("web:vehicle", args=[vehicle.pk])
    assert WorkInHand.objects.current().get().until == at(12)
    assert managed.get(address).status_code == 404

"""Exchange units on screen: where they are, when they will be short, sent and taken in."""

import datetime as dt
import uuid

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from fleet.engineering.calendar import Moment
from fleet.records.deeds import deed
from fleet.records.versions import identify, open_version
from fleet.register.vocabulary import Effect, EquipmentKind, EquipmentState, Timing
from fleet.upkeep.models import Requirement
from fleet.upkeep.vocabulary import Subject
from fleet.workshop.exchange import Coming, floats
from fleet.workshop.exchange_need import months_of
from fleet.workshop.exchange_services import describe_group, send_away
from fleet.workshop.models import Consignment, ConsignmentItem, JobPlan, JobPlanVersion
from tests.examination.factories import make_bench_test, make_test
from tests.register.factories import make_equipment
from tests.upkeep.factories import make_age_limit, make_requirement
from tests.web.reading import main, rows, words
from tests.web.scenes import TODAY, coach, make_practice, standing_at_today
from tests.workshop.kept import day, make_contractor

pytestmark = pytest.mark.django_db

CODE = "DV/P"


@pytest.fixture(autouse=True)
def _today():
    with standing_at_today():  # 10 May 2026
        yield


@pytest.fixture
def at_desk(client, planner):
    """A browser in which the planner has signed in."""
    client.force_login(planner)
    return client


def unit(**values):
    """A serviceable distributor of the group, in store."""
    return make_equipment(**{"group": CODE} | values)


def described(**values):
    """The group, described."""
    return describe_group(by=None, code=CODE, **{"label": "distributors"} | values)


def address(verb, code=CODE):
    """The address of a page of a group."""
    return reverse(f"workshop:exchange-{verb}", args=[code])


# Months ----------------------------------------------------------------------------

MAY, JUNE = dt.date(2027, 5, 12), dt.date(2027, 6, 10)


def months(needed, *, stock=0, back=(), turnaround=None):
    """What is said of each month."""
    coming = [Coming(CODE, on, units, None) for on, units in back]
    found = months_of(
        needed,
        first=dt.date(2027, 5, 1),
        stock=stock,
        returns=coming,
        turnaround=turnaround,
    )
    return [(f"{m.first:%B}", m.words) for m in found]


def test_a_shortage_is_said_in_words_with_the_month_in_which_one_comes_back():
    assert months([MAY] * 3, stock=2, back=[(JUNE, 1)]) == [
        ("May", "three needed, two there, one comes back in June 2027")
    ]


def test_a_unit_that_comes_back_before_it_is_needed_is_there():
    assert months([MAY], back=[(dt.date(2027, 5, 12), 1)]) == [
        ("May", "one needed, one there")
    ]


def test_a_need_that_nothing_will_meet_says_so():
    assert months([MAY, MAY], stock=1) == [
        ("May", "two needed, one there, one has no unit coming")
    ]


def test_a_unit_taken_off_serves_again_after_its_turnaround():
    needed = [MAY, MAY + dt.timedelta(weeks=4)]
    assert months(needed, stock=1, turnaround=4)[1] == ("June", "one needed, one there")
    assert months(needed, stock=1, turnaround=5)[1] == (
        "June",
        "one needed, none there, one comes back in June 2027",
    )


def test_what_is_overdue_from_a_contractor_is_counted_on_by_nobody():
    assert months([MAY], back=[(dt.date(2027, 4, 30), 1)]) == [
        ("May", "one needed, none there, one has no unit coming")
    ]


# On screen -------------------------------------------------------------------------


def falling_due(number, tested):
    """A coach whose distributor of the group was overhauled on a day."""
    vehicle = coach(number)
    item = vehicle.fittings.get(position="distributor", closed_by=None).equipment
    make_test(equipment=item, procedure=make_bench_test(), on=Moment.parse(tested))
    return vehicle


def job_takes_one(code):
    """The work of a requirement takes an exchange unit."""
    with deed("test.plan", by=None) as entry:
        requirement = Requirement.objects.get(code=code)
        plan = identify(JobPlan, entry=entry, requirement=requirement)
        hours = {"bench": 4}
        open_version(JobPlanVersion, entry=entry, plan=plan, hours=hours, exchange=True)


def test_the_page_of_a_group_says_what_falls_due_and_what_is_there(at_desk):
    make_practice()
    make_requirement(
        code="dv-overhaul",
        title="Distributor overhaul",
        subject=Subject.EQUIPMENT,
        kind=EquipmentKind.DISTRIBUTOR,
        procedure=make_bench_test(),
        months=96,
    )
    job_takes_one("dv-overhaul")
    for number, tested in (("T 1", "2018-07-20"), ("T 2", "2018-07-02")):
        falling_due(number, tested)
        item = coach_distributor(number)
        regroup(item)
    unit()
    described()

    said = words(at_desk.get(address("group")))
    assert "July 2026 ▲ Two needed, one there, one has no unit coming" in said
    said = words(at_desk.get(reverse("workshop:exchange")))
    assert (
        "▲ DV/P, distributors, will be short: July 2026: two needed, one there" in said
    )


def test_work_that_falls_due_again_within_the_year_needs_a_unit_again(at_desk):
    make_practice()
    make_requirement(
        code="dv-overhaul",
        subject=Subject.EQUIPMENT,
        kind=EquipmentKind.DISTRIBUTOR,
        procedure=make_bench_test(),
        months=5,
    )
    job_takes_one("dv-overhaul")
    for number, tested in (("T 1", "2026-02-20"), ("T 2", "2025-11-02")):
        falling_due(number, tested)
        regroup(coach_distributor(number))
    described()

    said = words(at_desk.get(address("group")))

    # T 2 is overdue since April and counts today, 10 May
    assert "May 2026 ▲ One needed" in said
    assert "July 2026 ▲ One needed" in said
    assert "October 2026 ▲ One needed" in said
    assert "December 2026 ▲ One needed" in said
    assert "March 2027 ▲ One needed" in said
    assert "May 2027 ▲ One needed" not in said


def test_a_group_short_for_many_months_is_told_of_the_first_six(at_desk):
    make_practice()
    make_requirement(
        code="dv-overhaul",
        subject=Subject.EQUIPMENT,
        kind=EquipmentKind.DISTRIBUTOR,
        procedure=make_bench_test(),
        months=1,
    )
    job_takes_one("dv-overhaul")
    falling_due("T 1", "2026-05-01")
    regroup(coach_distributor("T 1"))

    said = words(at_desk.get(reverse("workshop:exchange")))

    # due on the first of each month, June 2026 to May 2027
    assert "▲ DV/P, will be short: June 2026: one needed" in said
    assert "November 2026: one needed" in said
    assert "December 2026: one needed" not in said
    assert "and 6 more months" in said


@pytest.mark.parametrize(
    ("tested", "there"),
    [
        pytest.param("2018-05-10", True, id="its last good day is today"),
        pytest.param("2018-05-09", False, id="it was yesterday"),
    ],
)
def test_a_unit_in_store_that_is_overdue_itself_is_not_counted_on(
    at_desk, tested, there
):
    make_requirement(
        code="dv-overhaul",
        title="Distributor overhaul",
        subject=Subject.EQUIPMENT,
        kind=EquipmentKind.DISTRIBUTOR,
        procedure=make_bench_test(),
        months=96,
    )
    item = unit(serial="D 1")
    make_test(equipment=item, procedure=make_bench_test(), on=Moment.parse(tested))
    described(least=1)

    said = words(at_desk.get(address("group")))
    (row,) = rows(main(at_desk.get(reverse("workshop:exchange"))))

    overdue = "▲ Distributor overhaul overdue since 10 May 2026."
    short = "0 in store, at least 1 wanted"
    assert [overdue in said, short in said] == [not there, not there]
    counted = row["Serviceable in store"], row["In store, overdue"]
    assert counted == (("1", "0") if there else ("0", "1"))
    (found,) = floats(day("2026-05-11"), 4, on=TODAY)
    assert found.stock == int(there)


@pytest.mark.parametrize(
    "values",
    [
        pytest.param({"effect": Effect.ADVISE}, id="advice only"),
        pytest.param({"kind": EquipmentKind.BP_HOSE}, id="about another kind"),
        pytest.param({"designation": "KD 2"}, id="about another designation"),
        pytest.param({"effective_from": day("2026-05-11")}, id="not in force yet"),
    ],
)
def test_a_unit_in_store_is_held_by_no_requirement_that_does_not_bear(at_desk, values):
    values = {"kind": EquipmentKind.DISTRIBUTOR, "months": 96} | values
    make_age_limit(code="age", **values)
    unit(designation="KD 1", made=Moment.parse("2014-05"))
    described()

    said = words(at_desk.get(address("group")))

    assert "Serviceable in store: 1" in said


def test_a_unit_in_store_past_its_age_is_overdue(at_desk):
    make_age_limit(kind=EquipmentKind.DISTRIBUTOR, title="Age", months=96)
    unit(made=Moment.parse("2014-05"))
    described()

    said = words(at_desk.get(address("group")))

    assert "In store, overdue: 1" in said
    assert "▲ Age overdue since 2 May 2022." in said


def test_a_unit_that_is_overdue_can_be_sent_away(at_desk):
    make_age_limit(kind=EquipmentKind.DISTRIBUTOR, title="Age", months=96)
    unit(serial="D 1", made=Moment.parse("2014-05"))
    described()

    assert "D 1" in words(at_desk.get(address("send")))


def test_units_to_send_are_offered_by_state_those_that_want_overhaul_first(at_desk):
    make_age_limit(kind=EquipmentKind.DISTRIBUTOR, title="Age", months=144)
    unit(serial="D 1", made=Moment.parse("2014-09"))
    unit(serial="D 2", made=Moment.parse("2012-05"))
    unit(serial="D 3", state=EquipmentState.UNSERVICEABLE)
    described()

    said = words(at_desk.get(address("send")))

    found = [
        said.index(words_of)
        for words_of in (
            "D 3, unserviceable,",
            "D 2, serviceable but overdue,",
            "D 1, serviceable,",
        )
    ]
    assert found == sorted(found)


def test_a_unit_at_a_contractor_is_listed_with_the_contractor(at_desk):
    one, other = unit(serial="D 1"), unit(serial="D 2")
    group = described().group
    days = {"sent_on": day("2026-05-01"), "expected_on": day("2026-06-09")}
    brindle = make_contractor().contractor
    send_away(by=None, group=group, items=[one], contractor=brindle, **days)
    send_away(by=None, group=group, items=[other], **days)
    unit(serial="D 3", state=EquipmentState.AT_CONTRACTOR)

    said = words(at_desk.get(address("group")))

    assert "Brindle Bench Works D 1 At contractor" in said
    assert "contractor not recorded D 3 At contractor" in said
    assert "In no consignment: put one of the two right" in said
    assert "Brindle Bench Works D 2" not in said


def coach_distributor(number):
    """What sits in the distributor's place of a coach."""
    from fleet.register.models import Fitting, VehicleVersion

    vehicle = VehicleVersion.objects.newest().get(number=number).vehicle
    rows = Fitting.objects.current().open_ended()
    return rows.get(vehicle=vehicle, position="distributor").equipment


def regroup(item):
    """Write the group on an item."""
    from fleet.register.services.equipment import alter_equipment

    alter_equipment(by=None, equipment=item, since=Moment.on(TODAY), group=CODE)


def test_units_are_sent_expected_later_and_taken_in_one_by_one(at_desk):
    first, second = unit(serial="D 1"), unit(serial="D 2")
    contractor = make_contractor(lead_weeks=6).contractor_id
    sent = {
        "submission": uuid.uuid4(),
        "label": "distributors",
        "alike": "Passenger timing",
        "contractor": contractor,
        "turnaround_weeks": "",
        "least": "2",
    }
    page = at_desk.post(address("describe"), sent, follow=True)
    assert "Brindle Bench Works, 6 weeks until one taken off" in words(page)

    assert 'value="2026-06-21"' in main(at_desk.get(address("send")))  # six weeks on
    sent = {
        "submission": uuid.uuid4(),
        "items": [first.pk, second.pk],
        "contractor": contractor,
        "reference": "Note 7",
        "sent_on": "2026-05-09",
        "expected_on": "2026-06-20",
    }
    page = at_desk.post(address("send"), sent, follow=True)
    assert "2 units to Brindle Bench Works" in words(page)
    assert "▲ 0 in store, at least 2 wanted" in words(page)
    away = Consignment.objects.get()

    sent = {"submission": uuid.uuid4(), "day": "2026-07-01"}
    expect = reverse("workshop:consignment-expect", args=[away.pk])
    page = at_desk.post(expect, sent, follow=True)
    assert "Expected 1 Jul 2026" in words(page)

    row = ConsignmentItem.objects.get(equipment=first)
    sent = {
        "submission": uuid.uuid4(),
        "items": [row.pk],
        "on": "2026-05-10",
        "state": EquipmentState.SERVICEABLE.value,
    }
    take_in = reverse("workshop:consignment-take-in", args=[away.pk])
    page = at_desk.post(take_in, sent, follow=True)
    assert [(r["Unit"], r["Back"]) for r in rows(main(page))] == [
        ("D 1", "10 May 2026"),
        ("D 2", "not yet"),
    ]
    assert "1 away, expected 1 Jul 2026" in words(at_desk.get(address("group")))

    sent = {"submission": uuid.uuid4(), "reason": "It was D 3"}
    undo = reverse("workshop:return-retract", args=[row.pk])
    page = at_desk.post(undo, sent, follow=True)
    assert "10 May 2026 Serviceable" not in words(page)
    undo = reverse("workshop:consignment-retract", args=[away.pk])
    page = at_desk.post(undo, sent | {"submission": uuid.uuid4()}, follow=True)
    assert "they were never sent" in words(page)
    assert "Serviceable in store: 2" in words(at_desk.get(address("group")))


def test_what_is_overdue_says_so_wherever_it_is_listed(at_desk):
    item = unit()
    group = described().group
    days = {"sent_on": day("2026-03-01"), "expected_on": day("2026-05-09")}
    send_away(by=None, group=group, items=[item], **days)

    assert "overdue" in words(at_desk.get(reverse("workshop:exchange")))
    assert "▲ overdue" in words(at_desk.get(address("group")))
    away = reverse("workshop:consignment", args=[Consignment.objects.get().pk])
    assert "counted on by nobody" in words(at_desk.get(away))


def test_units_that_differ_within_a_group_are_warned_of(at_desk):
    def rated(bar, bracket="B1", **more):
        particulars = {"timing": Timing.PASSENGER, "bracket": bracket}
        return unit(particulars=particulars | {"max_cylinder_bar": bar}, **more)

    rated("3.80")
    rated("3.80")
    assert "not all alike" not in words(at_desk.get(address("group")))

    rated("3.60", "B2", designation="D9")

    said = words(at_desk.get(address("group")))
    assert "▲ These units are not all alike." in said
    assert "Bracket: 2 B1, 1 B2." in said
    assert "Maximum cylinder pressure: 1 3.60 bar, 2 3.80 bar." in said
    assert "Timing" not in said
    assert "Type designation" not in said  # one states it, two do not


def test_an_item_fitted_though_recorded_as_away_is_pointed_out(at_desk):
    item = unit()
    group = described().group
    days = {"sent_on": day("2026-05-01"), "expected_on": day("2026-06-09")}
    send_away(by=None, group=group, items=[item], **days)
    vehicle = coach("T 1", tested=None)
    old = coach_distributor("T 1")
    assert old != item
    from fleet.register.services.fittings import exchange as swap
    from tests.register.factories import make_depot

    swap(
        by=None,
        vehicle=vehicle,
        position="distributor",
        equipment=item,
        at=Moment.on(TODAY),
        to=make_depot(),
    )

    assert "▲ Also recorded as away" in words(at_desk.get(address("group")))


def test_a_code_that_no_item_bears_has_no_page_and_an_empty_register_says_so(at_desk):
    assert at_desk.get(address("group", "none")).status_code == 404
    assert "No item bears" in words(at_desk.get(reverse("workshop:exchange")))


def test_nothing_chosen_is_said_beside_the_field(at_desk):
    unit()
    described()
    sent = {"sent_on": "2026-05-09", "expected_on": "2026-05-01", "reference": ""}

    said = words(at_desk.post(address("send"), sent))

    assert "This field is required." in said
    assert not Consignment.objects.exists()


def test_everybody_looks_and_those_who_plan_write(client, people):
    item = unit()
    group = described().group
    days = {"sent_on": day("2026-05-01"), "expected_on": day("2026-06-09")}
    away = send_away(by=None, group=group, items=[item], **days).consignment
    planning = {"planner", "manager", "administrator"}
    pages = {
        reverse("workshop:exchange"): set(people),
        address("group"): set(people),
        reverse("workshop:consignment", args=[away.pk]): set(people),
    }
    for verb in ("describe", "undescribe", "send"):
        pages[address(verb)] = planning
    for verb in ("take-in", "expect", "correct", "retract"):
        pages[reverse(f"workshop:consignment-{verb}", args=[away.pk])] = planning
    for page, may in pages.items():
        for role, user in people.items():
            client.force_login(user)
            status = client.get(page).status_code
            assert status == (200 if role in may else 403), (page, role)


def test_pages_ask_as_often_for_many_units_as_for_few(at_desk):
    make_requirement(
        subject=Subject.EQUIPMENT,
        kind=EquipmentKind.DISTRIBUTOR,
        procedure=make_bench_test(),
    )

    def fill():
        group = described().group
        days = {"sent_on": day("2026-05-01"), "expected_on": day("2026-06-09")}
        send_away(by=None, group=group, items=[unit(), unit()], **days)
        unit(group=f"other {uuid.uuid4()}"[:20])

    def asked(page):
        with CaptureQueriesContext(connection) as queries:
            assert at_desk.get(page).status_code == 200
        return len(queries)

    unit()
    fill()
    away = reverse("workshop:consignment", args=[Consignment.objects.get().pk])
    pages = [reverse("workshop:exchange"), address("group"), address("send"), away]
    few = [(asked(page), asked(page))[1] for page in pages]
    for _ in range(5):
        fill()

    assert [asked(page) for page in pages] == few


def test_fitted_units_and_those_in_store_are_counted_apart(at_desk):
    described_vehicle = coach("T 1", tested=None)
    regroup(coach_distributor("T 1"))
    unit()
    unit(state=EquipmentState.UNSERVICEABLE)
    unit(state=EquipmentState.SCRAPPED)
    assert described_vehicle

    (row,) = rows(main(at_desk.get(reverse("workshop:exchange"))))

    assert (row["Fitted"], row["Serviceable in store"]) == ("1", "1")
    assert row["In store, not serviceable"] == "1"

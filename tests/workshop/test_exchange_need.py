"""Need of exchange units month by month, and units in store that nobody counts on."""

import datetime as dt

import pytest
from django.urls import reverse

from fleet.engineering.calendar import Moment
from fleet.register.vocabulary import Effect, EquipmentKind, EquipmentState
from fleet.upkeep.vocabulary import Subject
from fleet.workshop.exchange import Coming, floats
from fleet.workshop.exchange_need import months_of
from fleet.workshop.exchange_services import send_away
from tests.examination.factories import make_bench_test, make_test
from tests.upkeep.factories import make_age_limit, make_requirement
from tests.web.reading import main, rows, words
from tests.web.scenes import TODAY, standing_at_today
from tests.workshop.kept import day, make_contractor
from tests.workshop.units import (
    CODE,
    address,
    described,
    overhauls_due,
    unit,
)

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def _today():
    with standing_at_today():  # 10 May 2026
        yield


@pytest.fixture
def at_desk(client, planner):
    """A browser in which the planner has signed in."""
    client.force_login(planner)
    return client


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


def test_the_page_of_a_group_says_what_falls_due_and_what_is_there(at_desk):
    overhauls_due(96, T1="2018-07-20", T2="2018-07-02")
    unit()
    described()

    said = words(at_desk.get(address("group")))
    assert "July 2026 ▲ Two needed, one there, one has no unit coming" in said
    said = words(at_desk.get(reverse("workshop:exchange")))
    assert (
        "▲ DV/P, distributors, will be short: July 2026: two needed, one there" in said
    )


def test_work_that_falls_due_again_within_the_year_needs_a_unit_again(at_desk):
    overhauls_due(5, T1="2026-02-20", T2="2025-11-02")
    described()

    said = words(at_desk.get(address("group")))

    # T2 is overdue since April and counts today, 10 May
    assert "May 2026 ▲ One needed" in said
    assert "July 2026 ▲ One needed" in said
    assert "October 2026 ▲ One needed" in said
    assert "December 2026 ▲ One needed" in said
    assert "March 2027 ▲ One needed" in said
    assert "May 2027 ▲ One needed" not in said


def test_a_group_short_for_many_months_is_told_of_the_first_six(at_desk):
    overhauls_due(1, T1="2026-05-01")

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

"""The due list: what falls due across the fleet, overdue first, narrowed down."""

import pytest
from django.urls import reverse

from fleet.engineering.calendar import Moment
from fleet.examination.models import Procedure
from fleet.fitness.services import mark_for_rebuild
from fleet.register.services.usage import log_usage
from fleet.register.vocabulary import EquipmentKind
from tests.examination.factories import make_test
from tests.fitness.histories import make_slack_requirement
from tests.register.factories import (
    air_places,
    make_depot,
    make_equipment,
    make_fitting,
    make_type,
    make_vehicle,
)
from tests.upkeep.factories import make_age_limit
from tests.web.reading import links, main, rows, words
from tests.web.scenes import (
    coach,
    day,
    dual_coach,
    fleet,
    make_practice,
    on,
    standing_at_today,
)

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def _today():
    with standing_at_today():
        yield


@pytest.fixture
def shown(client, train_crew):
    """`shown(**asked)`: the due list for what is asked; everyone signed in may look."""
    client.force_login(train_crew)

    def show(**asked):
        answer = client.get(reverse("web:due-list"), asked)
        assert answer.status_code == 200
        return answer

    return show


def listed(answer):
    """What is on the list, in order: vehicle, requirement, due."""
    return [
        (row["Vehicle"], row["Requirement"].split()[0], row["Due"])
        for row in rows(main(answer))
    ]


def bare(number, **values):
    """A vehicle with nothing on it but its brake pipe hose."""
    type_ = make_type("bare", positions=air_places()[:1])
    return make_vehicle(number=number, type=type_, **values)


@pytest.fixture
def line():
    """One overrun, one within its tolerance, one soon, one later, one undatable."""
    make_practice()
    make_age_limit(code="hoses")
    for number, tested in (
        ("T 1", "2025-04-01"),  # due 1 April 2026: overrun
        ("T 2", "2025-06-20"),  # due 20 June 2026
        ("T 3", "2026-02-01"),  # due 1 February 2027
    ):
        make_test(vehicle=bare(number), on=on(tested))
    old = make_equipment(EquipmentKind.BP_HOSE, serial="H-9", made=Moment.unknown())
    vehicle = bare("T 4")
    make_test(vehicle=vehicle, on=on("2026-05-01"))
    make_fitting(vehicle=vehicle, position="bp-hose-1", equipment=old)


def test_what_cannot_be_dated_comes_first_then_overdue_then_what_falls_due(shown, line):
    assert listed(shown()) == [
        ("T 4", "hoses", "cannot be worked out"),
        ("T 1", "annual", "1 Apr 2026 overrun"),
        ("T 2", "annual", "20 Jun 2026"),
    ]


@pytest.mark.parametrize(
    ("days", "last", "numbers"),
    [
        ("30", "9 June 2026", ["T 4", "T 1"]),
        ("90", "8 August 2026", ["T 4", "T 1", "T 2"]),
        ("365", "10 May 2027", ["T 4", "T 1", "T 2", "T 3", "T 4"]),
    ],
)
def test_the_list_looks_as_far_ahead_as_asked(shown, line, days, last, numbers):
    answer = shown(days=days)

    assert [number for number, *_ in listed(answer)] == numbers
    assert f"Up to {last}" in words(answer)


def test_the_list_says_how_many_are_overrun_across_the_fleet(shown, line):
    assert "1 overrun across the fleet" in words(shown(find="T 2"))


def test_a_tolerance_is_told_from_an_overrun(shown):
    make_practice()
    make_slack_requirement(None, months=12, tolerance_days=30)
    type_ = make_type(
        "geared", positions=[p for p in air_places() if p["code"] == "slack-adjuster"]
    )
    for number, examined in (("T 1", "2025-04-20"), ("T 2", "2025-04-01")):
        vehicle = make_vehicle(number=number, type=type_)
        make_test(vehicle=vehicle, on=on("2026-05-01"))
        item = make_fitting(vehicle=vehicle, position="slack-adjuster").equipment
        procedure = Procedure.objects.get(code="slack-test")
        make_test(equipment=item, procedure=procedure, on=on(examined))

    assert listed(shown()) == [
        ("T 2", "slack", "1 Apr 2026 overrun"),
        ("T 1", "slack", "20 Apr 2026 past, within tolerance"),
    ]


def test_a_date_that_rests_on_usage_is_marked_as_a_forecast(shown):
    make_practice()
    make_slack_requirement(1_000)
    type_ = make_type(
        "geared", positions=[p for p in air_places() if p["code"] == "slack-adjuster"]
    )
    vehicle = make_vehicle(number="T 1", type=type_)
    make_test(vehicle=vehicle, on=on("2026-05-01"))
    item = make_fitting(
        vehicle=vehicle, position="slack-adjuster", since=on("2026-01-02")
    ).equipment
    procedure = Procedure.objects.get(code="slack-test")
    make_test(equipment=item, procedure=procedure, on=on("2026-01-01"))
    log_usage(
        by=None,
        vehicle=vehicle,
        first=day("2026-01-02"),
        last=day("2026-05-09"),
        miles=640,
        days=64,
    )

    due = {code: due for _, code, due in listed(shown(days="1096"))}

    assert due["slack"].endswith("forecast")
    assert not due["annual"].endswith("forecast")


def test_a_row_says_what_it_counts_from_and_leads_to_its_records(shown):
    vehicle = dual_coach("T 107")
    item = vehicle.fittings.get(position="distributor", closed_by=None).equipment

    answer = shown(find="dv-overhaul")

    (row,) = rows(main(answer))
    assert row["If overrun"] == "Not counted as braked"
    assert "20 Apr 2018" in row["Counted"]
    leads = dict(links(main(answer)))
    assert leads["T 107"] == reverse("web:vehicle", args=[vehicle.pk])
    assert leads["dv-overhaul"] == reverse("web:practice") + "#dv-overhaul"
    assert leads[row["Item"]] == item.get_absolute_url()


@pytest.mark.parametrize(
    ("find", "numbers"),
    [
        ("t 2", ["T 2"]),
        (" HOSES ", ["T 4"]),
        ("air brake", ["T 1", "T 2"]),
        ("annual", ["T 1", "T 2"]),
        ("wheel", []),
    ],
)
def test_the_list_is_narrowed_down_by_requirement_or_number(shown, line, find, numbers):
    assert [number for number, *_ in listed(shown(find=find))] == numbers


def test_the_list_of_a_depot_has_the_vehicles_at_home_there(shown):
    make_practice()
    shed = make_depot("shed", "Marrow shed")
    for number, depot in (("T 1", shed), ("T 2", None)):
        make_test(vehicle=bare(number, depot=depot), on=on("2025-06-20"))

    answer = shown(depot=shed.pk)

    assert [number for number, *_ in listed(answer)] == ["T 1"]
    assert "Up to 8 August 2026" in words(answer)
    assert '<option value="90" selected>' in main(answer)


@pytest.mark.parametrize("asked", [{"days": "ninety"}, {"depot": "999"}])
def test_what_cannot_be_asked_is_an_error_and_ninety_days_are_shown(shown, line, asked):
    answer = shown(**asked)

    assert "not one of the available choices" in words(answer)
    assert "Up to 8 August 2026" in words(answer)
    assert len(listed(answer)) == 3


def test_a_vehicle_not_yet_reassessed_is_marked(shown):
    make_practice()
    vehicle = bare("T 1")
    make_test(vehicle=vehicle, on=on("2025-06-20"))
    mark_for_rebuild([vehicle.pk])

    ((number, *_),) = listed(shown())

    assert number == "T 1 (not yet reassessed)"


def test_nothing_due_says_so(shown):
    fleet(1)

    assert "Nothing recorded that answers to this." in words(shown(days="30"))


def test_the_list_can_be_sorted_by_vehicle(shown, line):
    assert [n for n, *_ in listed(shown(sort="number"))] == ["T 1", "T 2", "T 4"]


@pytest.mark.parametrize("vehicles", [1, 4])
def test_the_list_asks_as_often_for_few_vehicles_as_for_many(
    shown, vehicles, django_assert_num_queries
):
    make_practice()
    for n in range(vehicles):
        coach(f"T {n}", tested="2025-06-20")

    # Session, account, how many rows, rows, how many overrun, depots of the filter.
    with django_assert_num_queries(7):
        answer = shown()
    assert len(listed(answer)) == vehicles

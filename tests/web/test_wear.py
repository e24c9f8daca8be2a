"""How blocks and piston travel wear, and the two limits they are held against."""

import datetime as dt

import pytest
from django.core.exceptions import ValidationError
from django.db import connection
from django.test.utils import CaptureQueriesContext

from fleet.engineering.calendar import Moment
from fleet.examination.lines import procedure_lines
from fleet.examination.models import Test
from fleet.examination.revisions import changes_between
from fleet.examination.vocabulary import Found
from fleet.upkeep.vocabulary import Subject
from fleet.upkeep.wear import wear_of
from tests.examination.factories import (
    make_person,
    make_procedure,
    make_test,
    measured,
)
from tests.register.factories import make_vehicle
from tests.upkeep.factories import make_requirement

pytestmark = pytest.mark.django_db

DAYS = [dt.date(2023, 3, 1), dt.date(2024, 3, 1), dt.date(2025, 3, 1)]
TODAY = dt.date(2025, 6, 1)


def rigging():
    """An examination of blocks and piston travel; 15 mm at least, condemned below 10."""
    blocks = measured("Block thickness, thinnest", "length", "mm", "15", condemned="10")
    return make_procedure(
        "rigging",
        title="Rigging",
        lines=[
            blocks,
            measured("Piston stroke", "length", "mm", None, "130", finds=Found.STROKE),
        ],
    )


def worn(vehicle, *readings):
    """Rigging examined year by year: block and stroke in mm."""
    person = make_person()
    for day, (block, stroke) in zip(DAYS, readings, strict=False):
        make_test(
            procedure=rigging(),
            vehicle=vehicle,
            on=Moment.on(day),
            done_by=person,
            readings=[
                {"line": 1, "value": block, "unit": "mm"},
                {"line": 2, "value": stroke, "unit": "mm"},
            ],
        )


def test_a_block_is_foreseen_to_reach_both_its_limits_at_its_recent_rate():
    vehicle = make_vehicle()
    worn(vehicle, ("40", "90"), ("35", "95"), ("30", "100"))
    block, stroke = wear_of(vehicle, TODAY)
    assert block.readings[0] == ("1 Mar 2025", "30 mm")
    assert "5.0 mm a year" in block.rate
    release, condemned = block.limits
    # 15 mm left to 15 and 20 mm to 10, at 5 mm a year: three and four years.
    assert (release.mm, condemned.mm) == (15, 10)
    assert release.reached.endswith("2028")
    assert condemned.reached.endswith("2029")
    assert not block.grave
    assert stroke.limits[0].reached.endswith("2031")  # 30 mm at 5 mm a year


def test_a_block_between_its_limits_is_not_to_be_released_and_below_condemned():
    between, below = make_vehicle(), make_vehicle()
    worn(between, ("20", "90"), ("12", "90"))
    worn(below, ("20", "90"), ("9", "90"))
    assert wear_of(between, TODAY)[0].standing.startswith("Not to be released")
    assert wear_of(below, TODAY)[0].standing == "Beyond the condemning limit."


def test_a_renewed_block_begins_its_trend_anew():
    vehicle = make_vehicle()
    worn(vehicle, ("30", "90"), ("16", "90"), ("60", "90"))
    assert wear_of(vehicle, TODAY)[0].rate.startswith("No rate yet")


def test_wear_is_read_at_one_cost_for_few_and_many_tests(django_assert_num_queries):
    few, many = make_vehicle(), make_vehicle()
    worn(few, ("40", "90"))
    worn(many, ("40", "90"), ("35", "95"), ("30", "100"))
    with CaptureQueriesContext(connection) as once:
        assert len(wear_of(few, TODAY)) == 2
    with django_assert_num_queries(len(once)):
        assert len(wear_of(many, TODAY)) == 2


def due_after(months):
    """A requirement that asks for the rigging examination every so many months."""
    make_requirement(procedure=rigging(), subject=Subject.VEHICLE, months=months)


def test_what_is_left_till_the_next_examination_is_added_to_the_condemning_limit():
    due_after(18)
    vehicle = make_vehicle()
    worn(vehicle, ("40", "90"), ("33", "90"), ("26", "90"))
    laid_down, own, condemned = wear_of(vehicle, TODAY)[0].limits
    # 7 mm a year for 18 months is 10.5 mm, upon the 10 mm it is condemned below.
    assert (laid_down.mm, condemned.mm) == (15, 10)
    assert own.mm == pytest.approx(20.5, abs=0.05)
    assert "18 months" in own.name
    # From 26 mm down to 20.5 mm at 7 mm a year: nine and a half months.
    assert own.reached == "13 Dec 2025"


def test_a_block_that_would_not_last_till_the_next_examination_is_not_to_be_released():
    due_after(18)
    vehicle = make_vehicle()
    worn(vehicle, ("33", "90"), ("26", "90"), ("19", "90"))
    block = wear_of(vehicle, TODAY)[0]
    assert block.grave  # 19 mm: above the 15 mm laid down, below 20.5 mm of its own
    assert block.standing.startswith("Not to be released")


def test_wear_counts_what_was_measured_up_to_the_day_alone():
    vehicle = make_vehicle()
    worn(vehicle, ("40", "90"), ("35", "95"), ("30", "100"))
    block = wear_of(vehicle, DAYS[1])[0]
    assert [day for day, _mm in block.readings] == ["1 Mar 2024", "1 Mar 2023"]


@pytest.mark.parametrize(
    ("mm", "words"),
    [
        ("15", "15 mm, limit at least 15 mm"),
        ("12", "not to be released, though not yet condemned below 10 mm"),
        ("10", "not to be released, though not yet condemned below 10 mm"),
        ("9.9", "limit at least 15 mm; condemned"),
    ],
    ids=["at the limit to release", "between", "at condemning", "beyond"],
)
def test_the_page_of_a_test_says_which_of_the_two_limits_is_passed(
    client, train_crew, mm, words
):
    client.force_login(train_crew)
    vehicle = make_vehicle()
    worn(vehicle, (mm, "90"))
    page = client.get(f"/tests/{Test.objects.get().pk}/").content.decode()
    assert words in page
    assert "at least 15 mm. Condemned below 10 mm" in page


@pytest.mark.parametrize(
    ("values", "words"),
    [
        ({"condemned": "16"}, "beyond the limit to release by"),
        ({"low": None, "condemned": "10"}, "give the limit to release by"),
    ],
    ids=["on the wrong side", "alone"],
)
def test_a_condemning_limit_that_would_be_passed_first_is_refused(values, words):
    line = measured("Block", "length", "mm", "15") | values
    with pytest.raises(ValidationError, match=words):
        make_procedure("wrong", lines=[line])


def test_a_condemning_limit_taken_away_or_moved_outward_weakens_the_procedure():
    def lines(condemned):
        line = measured("Block", "length", "mm", "15", condemned=condemned)
        return procedure_lines([line])

    def turn(old, new):
        changed = changes_between(lines(old), lines(new))
        return bool(changed.weakened)

    assert turn("10", None)
    assert turn("10", "8")
    assert not turn("10", "12")
    assert not turn(None, "10")


def test_the_page_of_wear_shows_limits_and_what_is_not_recorded(client, train_crew):
    client.force_login(train_crew)
    vehicle, bare = make_vehicle(), make_vehicle()
    worn(vehicle, ("40", "90"), ("35", "95"))
    page = client.get(f"/vehicles/{vehicle.pk}/wear/").content.decode()
    assert "Condemned below" in page
    assert "two readings have no band" in page
    page = client.get(f"/vehicles/{bare.pk}/wear/").content.decode()
    assert "No block thickness and no piston travel is recorded" in page

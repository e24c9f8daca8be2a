"""Brake force on pages: of a type, of a test, of a vehicle, and what asks why."""

import datetime as dt

import pytest
from django.urls import reverse

from fleet.engineering.calendar import Moment
from fleet.examination.forces import forces_of
from fleet.examination.models import TestRecord
from fleet.examination.services import correct_test
from fleet.examination.vocabulary import Found
from fleet.register.services.types import define_type
from fleet.register.vocabulary import Effect
from tests.examination.factories import make_procedure, make_test, measured
from tests.register.factories import air_places, equip, make_vehicle
from tests.upkeep.factories import make_conditions
from tests.web.reading import words
from tests.web.scenes import standing_at_today

pytestmark = pytest.mark.django_db

# One cylinder of 254 mm at 3.8 bar through 6.5 with an efficiency of 0.8:
# pi/4 x 0.254^2 x 380 kPa x 6.5 x 0.8 = 100.1 kN, 69.9 % of 14.6 t, by hand.
FIGURES = {
    "system": "air",
    "cylinders": 1,
    "bore_mm": 254,
    "travel_mm": 120,
    "ratio": "6.5",
    "efficiency": "0.8",
    "blocks": 8,
    "full_cylinder_bar": "3.8",
    "full_drop_bar": "1.5",
    "reservoir_volume_l": 30,
    "braked_weight_t": 14,
    "source": "Brake drawing 7",
}


@pytest.fixture(autouse=True)
def _clock():
    with standing_at_today():
        yield


@pytest.fixture
def hopper():
    """A vehicle whose type has brake figures."""
    type_ = define_type(
        by=None,
        code="hopper",
        name="Hopper wagon",
        effective_from=dt.date(2015, 1, 1),
        positions=air_places(),
        figures=[FIGURES],
    )
    return make_vehicle(number="T 107", type=type_, tare_t="14.6")


@pytest.fixture
def page(client, fitter):
    client.force_login(fitter)
    return client


def force_test(vehicle, bar, on, stroke="120"):
    """A test that measured cylinder pressure and stroke."""
    lines = [
        measured("Maximum cylinder pressure", "pressure", "bar", finds=Found.MAXIMUM),
        measured("Piston stroke", "length", "mm", finds=Found.STROKE),
    ]
    procedure = make_procedure("force", title="Brake force test", lines=lines)
    readings = [
        {"line": 1, "value": bar, "unit": "bar"},
        {"line": 2, "value": stroke, "unit": "mm"},
    ]
    when = Moment.on(dt.date.fromisoformat(on))
    return make_test(vehicle=vehicle, procedure=procedure, readings=readings, on=when)


def test_the_page_of_a_type_shows_its_figures_and_the_force_that_follows(page, hopper):
    said = words(page.get(reverse("register:type", args=["hopper"])))

    assert "Brake figures, air brake" in said
    assert "Cylinder bore (mm) 254" in said
    assert "Force of all blocks that follows (kN) 100.1" in said
    assert "Source Brake drawing 7" in said


def test_a_type_without_figures_says_what_that_means(page):
    make_vehicle()

    said = words(page.get(reverse("register:type", args=["coach-air"])))

    assert "No brake figures are recorded" in said


def test_the_page_of_a_test_shows_its_force_beside_type_and_result_before(page, hopper):
    force_test(hopper, "3.8", "2026-01-10")
    record = force_test(hopper, "3.42", "2026-04-10", stroke="150")

    said = words(page.get(record.test.get_absolute_url()))

    assert "90.1 kN of all blocks, 11.3 kN each, from 3.42 bar in the cylinder" in said
    assert "Block force over tare 63 %" in said
    assert "Braked weight percentage 95 %" in said
    assert "The type's figure 100.1 kN: 10 % less" in said
    assert "The result before 10 Jan 2026" in said
    assert "100.1 kN: 10 % less Stroke" in said
    assert "a calculation, not a measured force" in said


def test_a_long_stroke_says_what_the_reservoir_can_still_reach(page, hopper):
    """7.60 l swept from 30 l at 5 bar: (6.01325 x 30)/37.60 - 1.01325 = 3.78 bar."""
    record = force_test(hopper, "3.7", "2026-04-10", stroke="150")

    said = words(page.get(record.test.get_absolute_url()))

    assert "At 150 mm a full application from 5 bar reaches 3.78 bar by Boyle" in said


def test_a_test_that_measured_no_force_says_nothing_of_it(page, hopper):
    record = make_test(vehicle=hopper)

    assert "Brake force" not in words(page.get(record.test.get_absolute_url()))


def test_what_was_corrected_counts_not_what_stood_before(page, hopper):
    first = force_test(hopper, "2.8", "2026-01-10")
    correct_test(
        by=None,
        record=first,
        reason="Misread",
        readings=[
            {"line": 1, "value": "3.8", "unit": "bar"},
            {"line": 2, "value": "120", "unit": "mm"},
        ],
    )
    later = force_test(hopper, "3.8", "2026-04-10")

    said = words(page.get(later.test.get_absolute_url()))

    assert "100.1 kN: the same within one per cent" in said
    assert "73.8 kN" not in said


def test_a_fall_asks_why_on_the_page_of_the_vehicle(page, hopper):
    make_conditions()
    record = force_test(hopper, "3.3", "2026-04-10")

    answer = page.get(hopper.get_absolute_url())

    assert "The force is 13% below the figure of the type, more than 10%" in words(
        answer
    )
    assert "Hopper wagon" in words(answer) and "13 % less" in words(answer)
    assert record.test.get_absolute_url() in answer.content.decode()


def test_the_operator_may_make_it_a_condition(page, hopper):
    make_conditions(force_fall_effect=Effect.CONDITION)
    equip(hopper)
    force_test(hopper, "3.3", "2026-04-10")

    said = words(page.get(hopper.get_absolute_url()))

    assert "Air: Air brake force low: The force is 13% below" in said


def test_within_the_percentage_nothing_asks(page, hopper):
    make_conditions()
    force_test(hopper, "3.5", "2026-04-10")

    said = words(page.get(hopper.get_absolute_url()))

    assert "find out why" not in said
    assert "8 % less" in said


def test_the_practice_says_what_asks_why(page):
    make_conditions(force_fall_percent=15)

    said = words(page.get(reverse("web:practice")))

    assert "Brake force more than 15 % below the type's figure" in said


@pytest.mark.parametrize("before", [1, 6])
def test_query_count_does_not_grow_with_the_tests_before(
    hopper, django_assert_num_queries, before
):
    for month in range(1, before + 1):
        force_test(hopper, "3.8", f"2025-{month:02}-10")
    made = force_test(hopper, "3.8", "2026-04-10")
    record = TestRecord.objects.for_page().get(pk=made.pk)

    # particulars, revision of the type, its figures; readings before, their lines
    with django_assert_num_queries(5):
        (force,) = forces_of(record)

    assert force.before is not None
    assert force.before.kn == pytest.approx(100.1, abs=0.05)

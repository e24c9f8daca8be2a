"""Pages of what thins: the walls of a vessel."""

import datetime as dt
from decimal import Decimal

import pytest

from fleet.engineering.calendar import Moment
from fleet.examination.vocabulary import LineKind
from fleet.register.services.equipment import alter_equipment
from fleet.register.vocabulary import EquipmentKind
from tests.examination.factories import (
    make_bench_test,
    make_test,
    question,
)
from tests.register.factories import make_equipment

pytestmark = pytest.mark.django_db

DAYS = [dt.date(2023, 3, 1), dt.date(2024, 3, 1), dt.date(2025, 3, 1)]


def surveyed(least, *surveys):
    """A reservoir measured at its belly and end on the days given."""
    vessel = make_equipment(
        EquipmentKind.AUXILIARY_RESERVOIR, particulars={"minimum_thickness_mm": least}
    )
    asked = question("Thickness at named points") | {"kind": LineKind.SURVEY}
    kind = EquipmentKind.AUXILIARY_RESERVOIR
    procedure = make_bench_test("reservoir", kind, lines=[asked])
    for day, (belly, end) in zip(DAYS, surveys, strict=False):
        points = [
            ("Belly", Decimal(belly), Decimal(0)),
            ("End", Decimal(end), Decimal(0)),
        ]
        make_test(
            procedure=procedure,
            equipment=vessel,
            on=Moment.on(day),
            readings=[{"line": 1, "thicknesses": points}],
        )
    return vessel


def test_the_page_of_surveys_names_the_worst_point_and_the_next_survey(
    client, train_crew
):
    client.force_login(train_crew)
    vessel = surveyed(4, ("6", "6.5"), ("5.5", "6.5"), ("5", "6.4"))
    page = client.get(f"/equipment/{vessel.pk}/surveys/").content.decode()
    assert "Belly, governs" in page
    # 1 mm in two years leaves 1 mm, two years; half of them from 1 March 2025.
    assert "28 Feb 2026" in page or "1 Mar 2026" in page
    assert "Required: <strong>4 mm</strong> by drawing or plate" in page


def test_surveys_without_a_required_thickness_say_what_is_lacking(client, train_crew):
    client.force_login(train_crew)
    vessel = surveyed(None, ("6", "6.5"))
    page = client.get(f"/equipment/{vessel.pk}/surveys/").content.decode()
    assert "no minimum from drawing or plate is recorded" in page
    assert "the formula lacks the working pressure, diameter, allowable stress" in page


def test_surveys_are_judged_by_the_formula_where_no_plate_states_a_minimum(
    client, train_crew
):
    client.force_login(train_crew)
    vessel = surveyed(None, ("6", "6.5"))
    # Shell 0.7 MPa * 200 mm / (70 MPa - 0.42 MPa) = 2.012 mm, ends 2.002 mm, rounded up.
    figures = {
        "working_pressure_bar": 7,
        "diameter_mm": 400,
        "diameter_at": "inside",
        "allowable_stress_mpa": 100,
        "joint_efficiency": "0.7",
        "end_shape": "ellipse",
    }
    alter_equipment(
        by=None,
        equipment=vessel,
        since=Moment.parse("2026-01-01"),
        particulars=figures,
    )
    page = client.get(f"/equipment/{vessel.pk}/surveys/").content.decode()
    assert "Required: <strong>2.02 mm</strong> by formula, shell 2.02 mm" in page
    item = client.get(f"/equipment/{vessel.pk}/").content.decode()
    assert "2.02 mm by formula, shell 2.02 mm (ASME VIII-1 UG-27)" in item


@pytest.mark.parametrize("surveys", [1, 3])
def test_the_page_of_surveys_costs_the_same_for_few_and_many(
    client, train_crew, django_assert_max_num_queries, surveys
):
    client.force_login(train_crew)
    vessel = surveyed(4, *[("6", "6.5"), ("5.5", "6.5"), ("5", "6.4")][:surveys])
    with django_assert_max_num_queries(8):
        client.get(f"/equipment/{vessel.pk}/surveys/")

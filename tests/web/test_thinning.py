"""Pages of what thins: wear of a vehicle's blocks and piston travel, walls of a vessel."""

import datetime as dt
from decimal import Decimal

import pytest

from fleet.engineering.calendar import Moment
from fleet.examination.vocabulary import LineKind
from fleet.register.services.equipment import alter_equipment
from fleet.register.vocabulary import EquipmentKind
from fleet.web.wear import wear_of
from tests.examination.factories import (
    make_bench_test,
    make_person,
    make_procedure,
    make_test,
    measured,
    question,
)
from tests.register.factories import make_equipment, make_vehicle

pytestmark = pytest.mark.django_db

DAYS = [dt.date(2023, 3, 1), dt.date(2024, 3, 1), dt.date(2025, 3, 1)]


def rigging():
    """An examination of blocks and piston travel; 15 mm at least, condemned below 10."""
    blocks = measured("Block thickness, thinnest", "length", "mm", "15")
    return make_procedure(
        "rigging",
        title="Rigging",
        lines=[
            blocks | {"criterion": "Condemned below 10 mm"},
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
    block, stroke = wear_of(vehicle)
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
    assert wear_of(between)[0].standing.startswith("Not to be released")
    assert wear_of(below)[0].standing == "Beyond the condemning limit."


def test_a_renewed_block_begins_its_trend_anew():
    vehicle = make_vehicle()
    worn(vehicle, ("30", "90"), ("16", "90"), ("60", "90"))
    assert wear_of(vehicle)[0].rate.startswith("No rate yet")


@pytest.mark.parametrize("tests", [1, 3])
def test_wear_is_read_in_one_query(django_assert_num_queries, tests):
    vehicle = make_vehicle()
    worn(vehicle, *[("40", "90"), ("35", "95"), ("30", "100")][:tests])
    with django_assert_num_queries(1):
        assert len(wear_of(vehicle)) == 2


def test_the_page_of_wear_shows_limits_and_what_is_not_recorded(client, train_crew):
    client.force_login(train_crew)
    vehicle, bare = make_vehicle(), make_vehicle()
    worn(vehicle, ("40", "90"), ("35", "95"))
    page = client.get(f"/vehicles/{vehicle.pk}/wear/").content.decode()
    assert "Condemned beyond" in page
    assert "two readings have no band" in page
    page = client.get(f"/vehicles/{bare.pk}/wear/").content.decode()
    assert "No block thickness and no piston travel is recorded" in page


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

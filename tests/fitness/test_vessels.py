"""Reservoirs that thin: what their surveys say, and what becomes due because of it."""

import datetime as dt
from dataclasses import replace
from decimal import Decimal

import pytest

from fleet.engineering.calendar import Moment
from fleet.examination.vocabulary import LineKind
from fleet.fitness.examples import RESERVOIR, item, passed, policy, requirement, sound
from fleet.fitness.facts import SurveyFact
from fleet.fitness.gather import ASKED, vehicle_files
from fleet.fitness.practice import practice_known
from fleet.fitness.rules import BOOK
from fleet.fitness.surveys import known_by_surveys
from fleet.fitness.verdict import verdict
from fleet.records.models import Entry
from fleet.register.services.equipment import alter_equipment
from fleet.register.vocabulary import Effect, EquipmentKind, Scope
from fleet.upkeep.vocabulary import Subject
from tests.examination.factories import make_bench_test, make_test, question
from tests.fitness.files import PRACTICE
from tests.register.factories import make_equipment, make_fitting, make_vehicle

EXAM = "RES"
FIRST, SECOND = dt.date(2020, 3, 1), dt.date(2024, 3, 1)  # 1461 days, four years
EVERY_FOUR_YEARS = requirement(
    "R-RES",
    subject=Subject.EQUIPMENT,
    kind=EquipmentKind.AUXILIARY_RESERVOIR,
    procedure=EXAM,
    months=48,
    effect=Effect.ISOLATE,
)


def survey(on, *points, test=70):
    """A survey on a day: point, mm, within how much."""
    return SurveyFact(Moment.on(on), EXAM, test, points)


def reservoir(*surveys, least=4.0):
    """The reservoir of the examples, surveyed."""
    return item(4, RESERVOIR, surveys=surveys, minimum_thickness_mm=least)


def file_of(vessel):
    """A sound vehicle that carries it, examined whenever it was surveyed."""
    tests = tuple(
        passed(s.test, EXAM, s.on.earliest, equipment=4) for s in vessel.surveys
    )
    return sound(policy(EVERY_FOUR_YEARS), equipment={4: vessel}, tests=tests)


def due_of(vessel):
    """When the reservoir is due, by its requirement and its wall."""
    example = file_of(vessel)
    found = verdict(example.file, example.policy, BOOK).due
    return next(due for due in found if due.equipment == 4)


def test_a_reservoir_that_thins_fast_is_due_at_half_its_remaining_life():
    # 1 mm in 1461 days; 0.5 mm left over 4 mm lasts 730 days, half of it 365.
    thin = reservoir(
        survey(FIRST, ("Belly", 5.5, 0.0)), survey(SECOND, ("Belly", 4.5, 0.0), test=71)
    )
    due = due_of(thin)
    assert due.due_on == SECOND + dt.timedelta(days=365)
    assert "Half the remaining life of Belly" in due.basis
    assert due.last_good_day == due.due_on


def test_a_reservoir_that_thins_slowly_is_due_by_its_requirement():
    # 0.1 mm in four years leaves decades over 4 mm: the four years of the operator govern.
    sound_wall = reservoir(
        survey(FIRST, ("Belly", 6.0, 0.0)), survey(SECOND, ("Belly", 5.9, 0.0), test=71)
    )
    due = due_of(sound_wall)
    assert due.due_on == dt.date(2028, 3, 1)
    assert "life" not in due.basis


def test_the_worst_point_governs_not_the_thinnest():
    worst = reservoir(
        survey(FIRST, ("Belly", 9.0, 0.0), ("End", 4.6, 0.0)),
        survey(SECOND, ("Belly", 6.0, 0.0), ("End", 4.6, 0.0), test=71),
    )
    assert known_by_surveys(worst)[-1].life.worst.point == "Belly"


def test_a_wall_that_seems_to_grow_is_bounded_by_the_error_of_its_readings():
    grown = reservoir(
        survey(FIRST, ("Belly", 4.4, 0.2)), survey(SECOND, ("Belly", 4.6, 0.2), test=71)
    )
    due = due_of(grown)
    # rate = sqrt(0.2² + 0.2²) mm in 1461 days; 0.6 mm last 3099 days, half of it 1549:
    # later than the four years (1461 days) of the requirement.
    assert due.due_on == dt.date(2028, 3, 1)
    assert known_by_surveys(grown)[-1].half_on == SECOND + dt.timedelta(days=1549)


@pytest.mark.parametrize(
    ("scope", "effect"),
    [(Scope.AIR_BRAKE, Effect.ISOLATE), (Scope.VEHICLE, Effect.STOP)],
)
def test_what_is_too_thin_weighs_by_the_scope_of_its_position(scope, effect):
    example = file_of(reservoir(survey(SECOND, ("Belly", 3.9, 0.0))))
    types = {
        code: tuple(
            replace(
                revision,
                positions=tuple(
                    replace(p, scope=scope) if p.code == RESERVOIR.code else p
                    for p in revision.positions
                ),
            )
            for revision in revisions
        )
        for code, revisions in example.file.types.items()
    }
    found = BOOK.findings(replace(example.file, types=types), example.policy)
    thin = [f for f in found if f.code == "V01"]
    assert [(f.effect, f.scope, f.since) for f in thin] == [(effect, scope, SECOND)]
    assert "3.9 mm left at Belly, required 4 mm" in thin[0].text


def test_a_survey_without_a_required_thickness_is_reported_as_missing():
    example = file_of(reservoir(survey(SECOND, ("Belly", 5.0, 0.0)), least=None))
    found = BOOK.findings(example.file, example.policy)
    assert [f.missing for f in found if f.code == "V01"] == [True]


def test_the_next_survey_ends_what_the_last_one_said():
    vessel = reservoir(
        survey(FIRST, ("Belly", 3.9, 0.0)), survey(SECOND, ("Belly", 4.2, 0.0), test=71)
    )
    found = BOOK.findings(file_of(vessel).file, PRACTICE)
    assert [(f.since, f.until) for f in found if f.code == "V01"] == [(FIRST, SECOND)]


def survey_procedure():
    """An examination of reservoirs that asks for thicknesses."""
    asked = question("Thickness at named points") | {"kind": LineKind.SURVEY}
    kind = EquipmentKind.AUXILIARY_RESERVOIR
    return make_bench_test("reservoir", kind, lines=[asked])


def make_surveyed(vehicle, code="aux-reservoir"):
    """A reservoir fitted to a vehicle and surveyed once."""
    vessel = make_equipment(
        EquipmentKind.AUXILIARY_RESERVOIR, particulars={"minimum_thickness_mm": 4}
    )
    make_fitting(equipment=vessel, vehicle=vehicle, position=code)
    points = [
        ("Belly", Decimal("5.25"), Decimal("0.1")),
        ("End", Decimal(6), Decimal(0)),
    ]
    record = make_test(
        procedure=survey_procedure(),
        equipment=vessel,
        readings=[{"line": 1, "thicknesses": points}],
    )
    return vessel, record


@pytest.mark.django_db
def test_surveys_and_the_required_thickness_reach_the_file_of_the_vehicle():
    vehicle = make_vehicle()
    before = Entry.objects.latest("number").number
    vessel, record = make_surveyed(vehicle)
    fact = next(vehicle_files([vehicle.pk])).equipment[vessel.pk]
    assert fact.minimum_thickness_mm == 4
    assert [(s.procedure, s.test) for s in fact.surveys] == [
        ("reservoir", record.test_id)
    ]
    assert fact.surveys[0].points == (("Belly", 5.25, 0.1), ("End", 6.0, 0.0))
    assert record.passed
    known = next(vehicle_files([vehicle.pk], known_at=before))
    assert vessel.pk not in known.equipment


@pytest.mark.django_db
@pytest.mark.parametrize("vehicles", [1, 3])
def test_surveys_are_gathered_in_one_query_however_many_vehicles(
    django_assert_num_queries, vehicles
):
    carriers = [make_vehicle() for _ in range(vehicles)]
    for vehicle in carriers:
        make_surveyed(vehicle)
    practice_known(None)
    with django_assert_num_queries(1 + len(ASKED) + 1):
        files = list(vehicle_files([v.pk for v in carriers]))
    assert all(any(e.surveys for e in f.equipment.values()) for f in files)


@pytest.mark.django_db
def test_a_wall_by_formula_reaches_the_file_and_the_finding_says_so():
    vehicle = make_vehicle()
    vessel, _record = make_surveyed(vehicle)
    figures = {
        "minimum_thickness_mm": None,
        "working_pressure_bar": 10,
        "diameter_mm": 700,
        "diameter_at": "inside",
        "allowable_stress_mpa": 90,
        "joint_efficiency": "0.7",
        "end_shape": "ellipse",
    }
    alter_equipment(
        by=None,
        equipment=vessel,
        since=Moment.on(dt.date(2020, 1, 1)),
        particulars=figures,
    )

    file = next(vehicle_files([vehicle.pk]))
    # 1 MPa * 350 mm / (63 MPa - 0.6 MPa) = 5.609 mm: the belly has 5.25 mm.
    assert file.equipment[vessel.pk].minimum_thickness_mm == 5.61
    found = verdict(file, practice_known(None).policy, BOOK).findings
    text = next(f.text for f in found if f.code == "V01")
    assert "5.25 mm left at Belly, required 5.61 mm by formula, shell 5.61 mm" in text

"""The rule of brake force: what the readings of tests say beside the type's figures."""

import datetime as dt
from dataclasses import replace

import pytest

from fleet.engineering.figures import Figures
from fleet.engineering.force import Rigging, block_force, piston_force_kn
from fleet.examination.vocabulary import Found
from fleet.fitness import gather
from fleet.fitness.examples import AIR_TEST, CONDITIONS, SOUND_AIR, SOUND_DUAL, passed
from fleet.fitness.examples import policy as practice_of
from fleet.fitness.rules import BOOK
from fleet.register.services.types import figures_held, revise_type
from fleet.register.vocabulary import Effect, Scope, System
from tests.examination.factories import make_procedure, make_test, measured
from tests.register.factories import air_places, make_type, make_vehicle

AIR = Figures(
    1, 254.0, 120.0, ratio=6.5, efficiency=0.8, blocks=8, full_cylinder_bar=3.8
)
VACUUM = Figures(
    1, 457.0, 100.0, ratio=12.0, efficiency=0.8, above_piston_l=40.0,
    reservoir_l=60.0, working_mbar=711.0,
)  # fmt: skip


def day(text):
    return dt.date.fromisoformat(text)


def recorded(on, number=90, **measures):
    """A passed test with what was measured: air_maximum=3.8 for "air.maximum"."""
    pairs = tuple((name.replace("_", "."), value) for name, value in measures.items())
    return passed(number, AIR_TEST, day(on), measures=pairs)


def found(*tests, figures=((System.AIR, AIR),), file=SOUND_AIR, **conditions):
    """What the rule finds in the tests, in order."""
    types = {
        code: tuple(replace(revision, figures=figures) for revision in revisions)
        for code, revisions in file.types.items()
    }
    policy = practice_of(conditions=(replace(CONDITIONS, **conditions),))
    file = replace(file, types=types, tests=tests)
    return [f for f in BOOK.findings(file, policy) if f.code == "F01"]


def test_the_force_of_a_type_is_that_of_its_gear():
    """Rule 3(b)(9) of interchange as quoted: 10 in at 50 psi gives 3927 lb at the piston."""
    figures = Figures(1, 254.0, 200.0, ratio=6.57, efficiency=1.0)

    force = figures.force_at_pressure(50 * 0.0689475729)

    assert force == pytest.approx(3927 * 4.44822e-3 * 6.57, rel=1e-4)


def test_two_cylinders_with_springs_make_twice_the_force_of_one():
    one = Figures(1, 305.0, 110.0, ratio=6.0, efficiency=0.83, return_kn=1.5)
    gear = Rigging(6.0, 0.83, 1, return_kn=1.5)

    force = block_force(piston_force_kn(3.8, 305.0), gear).total_kn

    assert one.force_at_pressure(3.8) == pytest.approx(force)
    assert replace(one, cylinders=2).force_at_pressure(3.8) == pytest.approx(2 * force)


def test_what_is_not_given_is_not_worked_out():
    bare = Figures(1, 254.0, 120.0, full_cylinder_bar=3.8)

    assert bare.force_at_pressure(3.8) is None
    assert bare.type_kn is None
    assert bare.reaches_bar(120.0, 5.0) is None


def test_long_travel_lets_the_reservoir_give_out_first():
    """406 mm by 120 mm from 100 l at 5 bar equalises at 4.19 bar: Boyle by hand."""
    figures = Figures(
        1, 406.0, 120.0, reservoir_l=100.0, full_cylinder_bar=4.5, full_drop_bar=1.5
    )

    assert figures.reaches_bar(120.0, 5.0) == pytest.approx(4.19, abs=0.01)
    assert figures.reaches_bar(60.0, 5.0) == pytest.approx(4.5)


def test_a_fall_against_the_type_holds_until_the_force_is_measured_again():
    low = recorded("2026-01-10", air_maximum=3.3)
    good = recorded("2026-03-10", 91, air_maximum=3.8)

    (finding,) = found(low, good)

    assert (finding.since, finding.until) == (day("2026-01-10"), day("2026-03-10"))
    assert finding.scope is Scope.AIR_BRAKE and finding.effect is Effect.ADVISE
    assert "13% below the figure of the type" in finding.text


def test_a_fall_against_the_result_before_is_asked_about_though_the_type_is_met():
    before = recorded("2025-01-10", air_maximum=4.4)
    now = recorded("2026-01-10", 91, air_maximum=3.8)

    (finding,) = found(before, now)

    assert finding.since == day("2026-01-10")
    assert "14% below the previous result" in finding.text


def test_the_operator_sets_how_much_asks_and_what_it_weighs():
    low = recorded("2026-01-10", air_maximum=3.3)

    assert found(low, force_fall_percent=20) == []
    (finding,) = found(low, force_fall_effect=Effect.CONDITION)
    assert finding.effect is Effect.CONDITION
    assert finding.condition.startswith("Air brake force low")


def test_a_longer_stroke_pulls_less_on_a_vacuum_brake():
    both = ((System.AIR, AIR), (System.VACUUM, VACUUM))
    sound = recorded("2026-01-10", vacuum_stroke=100.0)
    long = recorded("2026-03-10", 91, vacuum_stroke=190.0)

    (finding,) = found(sound, long, figures=both, file=SOUND_DUAL)

    assert finding.scope is Scope.VACUUM_BRAKE
    assert finding.since == day("2026-03-10")


@pytest.mark.parametrize(
    "tests",
    [
        pytest.param((recorded("2026-01-10"),), id="nothing measured"),
        pytest.param(
            (recorded("2026-01-10", vacuum_stroke=900.0),), id="beyond its top"
        ),
        pytest.param((recorded("2026-01-10", air_stroke=130.0),), id="stroke alone"),
    ],
)
def test_what_the_force_does_not_follow_from_is_passed_over(tests):
    both = ((System.AIR, AIR), (System.VACUUM, VACUUM))

    assert found(*tests, figures=both, file=SOUND_DUAL) == []


def test_a_type_without_figures_is_passed_over():
    assert found(recorded("2026-01-10", air_maximum=1.0), figures=()) == []


@pytest.mark.django_db
class TestFromTheTables:
    """What gather makes of procedures that say which of their lines is which."""

    @pytest.fixture
    def procedure(self):
        lines = [
            measured(
                "Maximum cylinder pressure", "pressure", "bar", finds=Found.MAXIMUM
            ),
            measured("Piston stroke", "length", "mm", finds=Found.STROKE),
            measured("Release time", "time", "s", "15", "20"),
        ]
        return make_procedure("force", lines=lines)

    @pytest.fixture
    def vehicle(self):
        type_ = make_type("coach-figures")
        figures = {"system": "air", "cylinders": 1, "bore_mm": 254, "travel_mm": 120}
        gear = {
            "ratio": 6.5,
            "efficiency": "0.8",
            "full_cylinder_bar": "3.8",
            "source": "x",
        }
        revise_type(
            by=None,
            type=type_,
            name="Coach",
            effective_from=dt.date(2020, 1, 1),
            positions=air_places(),
            figures=[figures | gear],
        )
        return make_vehicle(type=type_)

    def read(self, vehicle):
        (file,) = gather.vehicle_files([vehicle.pk])
        return file

    def sheet(self, pressure, unit="bar"):
        return [
            {"line": 1, "value": pressure, "unit": unit},
            {"line": 2, "value": "5", "unit": "in"},
            {"line": 3, "value": "17", "unit": "s"},
        ]

    def test_readings_come_in_bar_and_mm_whatever_they_were_typed_in(
        self, vehicle, procedure
    ):
        make_test(
            vehicle=vehicle, procedure=procedure, readings=self.sheet("50", "psi")
        )

        (test,) = self.read(vehicle).tests

        measures = dict(test.measures)
        assert measures["air.maximum"] == pytest.approx(3.447, abs=1e-3)
        assert measures["air.stroke"] == pytest.approx(127)

    def test_the_rule_reads_them_against_the_figures_in_force(self, vehicle, procedure):
        make_test(vehicle=vehicle, procedure=procedure, readings=self.sheet("3.3"))

        findings = BOOK.findings(self.read(vehicle), gather.policy())

        assert [f.text[-30:] for f in findings if f.code == "F01"] != []

    def test_figures_go_on_through_a_revision_that_does_not_name_them(self, vehicle):
        type_ = vehicle.versions.get().type
        before = type_.revisions.latest("number")

        after = revise_type(
            by=None,
            type=type_,
            name="Coach",
            effective_from=dt.date(2021, 1, 1),
            positions=air_places(),
        )

        assert figures_held(after) == figures_held(before) != []

    @pytest.mark.parametrize("vehicles", [1, 5])
    def test_query_count_does_not_grow(
        self, vehicle, procedure, django_assert_num_queries, vehicles
    ):
        type_ = vehicle.versions.get().type
        for _ in range(vehicles):
            other = make_vehicle(type=type_)
            make_test(vehicle=other, procedure=procedure, readings=self.sheet("3.8"))
        list(gather.vehicle_files(None))  # the practice is kept from here on

        with django_assert_num_queries(1 + len(gather.ASKED) + 1):
            files = list(gather.vehicle_files(None))

        assert sum(bool(t.measures) for f in files for t in f.tests) == vehicles

"""The change and test matrix: any one of a line's tests, and only lines that apply."""

from dataclasses import replace

import pytest

from fleet.defects.vocabulary import Brake
from fleet.fitness.examples import (
    AIR_TEST,
    DAY,
    DISTRIBUTOR,
    ENTERED,
    MATRIX,
    SOUND_AIR,
    days_ago,
    fitted,
    item,
    passed,
    policy,
)
from fleet.fitness.rules import BOOK
from fleet.register.vocabulary import Scope
from fleet.upkeep.vocabulary import Change
from tests.fitness.files import isolation

EXCHANGED = days_ago(3)
LINE = MATRIX[0]


def after_exchange(*tests):
    """Return a sound vehicle whose distributor was exchanged three days ago."""
    others = (f for f in SOUND_AIR.fitted if f.position != DISTRIBUTOR.code)
    return replace(
        SOUND_AIR,
        equipment={**SOUND_AIR.equipment, 90: item(90, DISTRIBUTOR)},
        fitted=(
            *others,
            fitted(DISTRIBUTOR, 3, ENTERED, EXCHANGED),
            fitted(DISTRIBUTOR, 90, EXCHANGED),
        ),
        tests=(*SOUND_AIR.tests, *tests),
    )


def missing(file, *lines):
    return BOOK["M01"].findings(file, policy(matrix=lines))


@pytest.mark.parametrize("done", [AIR_TEST, "svt-air-goods"])
def test_any_one_of_the_tests_of_a_line_is_enough(done):
    line = replace(LINE, procedures=(AIR_TEST, "svt-air-goods"))

    found = missing(after_exchange(passed(90, done, DAY)), line)

    assert not [f for f in found if f.holds_on(DAY)]


def test_two_lines_ask_for_a_test_each():
    other = replace(LINE, code="M-99", procedures=("rigging",))

    found = missing(after_exchange(passed(90, AIR_TEST, DAY)), LINE, other)

    assert [f.evidence[0].id for f in found if f.holds_on(DAY)] == ["M-99"]


@pytest.mark.parametrize(
    ("scope", "asked"),
    [
        pytest.param(Scope.AIR_BRAKE, True, id="the vehicle has a working air brake"),
        pytest.param(Scope.VACUUM_BRAKE, False, id="and no vacuum brake"),
    ],
)
def test_a_line_asks_only_for_what_the_vehicle_has(scope, asked):
    found = missing(after_exchange(), replace(LINE, scope=scope))

    assert bool([f for f in found if f.holds_on(DAY)]) is asked


@pytest.mark.parametrize(
    ("restored", "asks"),
    [
        (Brake.HAND, {"HAND", "ANY"}),
        (Brake.AIR, {"AIR", "ANY"}),
    ],
)
def test_a_brake_that_is_back_asks_for_its_own_test_and_not_for_the_others(
    restored, asks
):
    back = replace(isolation(-5, -3, brake=restored), ends=True)
    file = replace(SOUND_AIR, isolations=(back,))
    line = replace(LINE, change=Change.ISOLATION_ENDED, kind=None)
    lines = (
        replace(line, code="HAND", scope=Scope.HAND_BRAKE),
        replace(line, code="AIR", scope=Scope.AIR_BRAKE),
        replace(line, code="ANY", scope=Scope.VEHICLE),
    )

    found = missing(file, *lines)

    assert {f.evidence[0].id for f in found if f.holds_on(DAY)} == asks

"""Rules that read test records: failures, unfinished tests, tests after a change."""

from dataclasses import replace

import pytest

from fleet.engineering.calendar import Moment
from fleet.fitness import examples
from fleet.fitness.facts import (
    FailedLine,
    StorageFact,
    WorkFact,
)
from fleet.register.vocabulary import (
    Effect,
    Scope,
    VehicleStatus,
)
from fleet.upkeep.vocabulary import Change
from tests.fitness.files import (
    DAY,
    codes,
    day,
    held,
    isolation,
    level,
    off,
    on,
    passed_air,
    sound_air,
)


def test_an_unfinished_test_is_not_a_pass():
    test = examples.passed(90, examples.AIR_TEST, day(-1))
    file = sound_air(tests=(replace(test, passed=False, unanswered=1),))

    (only,) = held(file)

    assert "1 line not answered" in only.text
    assert (only.effect, only.scope) == (Effect.DISCOUNT, Scope.AIR_BRAKE)


SLOW = FailedLine("Release time", Scope.AIR_BRAKE, Effect.ISOLATE, "28 s, limit 20 s")
LEAK = FailedLine("Leakage", Scope.BRAKE_PIPE, Effect.CONDITION, "0.4 bar in 5 min")


def failed(at, *lines, **fields):
    test = examples.passed(80 + len(lines), examples.AIR_TEST, DAY)
    return replace(test, on=at, passed=False, failed=lines, **fields)


def test_every_line_that_failed_is_a_finding_with_its_reading():
    found = held(sound_air(tests=(failed(on(0), SLOW, LEAK),)))

    assert [f.text.split("failed, ")[1] for f in found] == [
        "Leakage: 0.4 bar in 5 min",
        "Release time: 28 s, limit 20 s",
    ]


def test_a_failed_line_of_a_through_pipe_is_never_less_than_stop():
    (only,) = held(sound_air(tests=(failed(on(0), LEAK),)))

    assert only.effect is Effect.STOP


def test_a_failed_main_reservoir_pipe_may_be_a_condition():
    line = replace(LEAK, scope=Scope.MAIN_RESERVOIR_PIPE)

    assert level(sound_air(tests=(failed(on(0), line),))) == "CONDITIONAL"


def test_a_later_test_takes_over_from_the_one_before():
    file = sound_air(tests=(failed(on(-2), SLOW), failed(on(-1), LEAK, SLOW)))

    assert len(held(file)) == 2


@pytest.mark.parametrize(
    ("test_at", "pass_at", "clear"),
    [
        pytest.param(on(0, at=9), on(0, at=15), True, id="later the same day"),
        pytest.param(on(0, at=15), on(0, at=9), False, id="earlier the same day"),
        pytest.param(on(0), on(0), False, id="order of the day not recorded"),
        pytest.param(on(0, order=1), on(0, order=2), True, id="order of the day kept"),
        pytest.param(on(0), Moment.unknown(), False, id="pass of unknown date"),
    ],
)
def test_only_a_pass_known_to_be_later_clears_a_failure(test_at, pass_at, clear):
    tests = (failed(test_at, SLOW), passed_air(pass_at))

    found = held(sound_air(tests=tests))

    assert (found == []) is clear


def test_a_failure_of_an_item_holds_only_where_it_is_fitted():
    bench = failed(on(-9), SLOW, procedure=examples.OVERHAUL, equipment=3)
    file = off(examples.DISTRIBUTOR, on(-3)).with_(tests=(bench,))

    assert "T01" in codes(file, offset=-4)
    assert "T01" not in codes(file, offset=-3)


ONLY_MATRIX = examples.policy(matrix=examples.MATRIX)


@pytest.mark.parametrize(
    "facts",
    [
        pytest.param(
            {"isolations": (isolation(-9, -2, ends=True),)}, id="isolation restored"
        ),
        pytest.param({"storage": (StorageFact(on(-9), on(-2)),)}, id="storage ended"),
        pytest.param({"work": (WorkFact(1, "rigging", on(-9), on(-2)),)}, id="work"),
    ],
)
def test_a_test_must_follow_each_change_of_the_matrix(facts):
    tested = passed_air(on(-1))

    assert codes(sound_air(**facts), ONLY_MATRIX) == ["M01"]
    assert codes(sound_air(**facts, tests=(tested,)), ONLY_MATRIX) == []


def test_the_next_state_of_an_isolation_record_is_not_its_end():
    facts = {"isolations": (isolation(-9, -2), isolation(-2, -1))}

    assert codes(sound_air(**facts), ONLY_MATRIX) == []


def test_a_visitor_is_tested_on_arrival():
    home = examples.particulars(until=on(-9))
    visiting = examples.particulars(since=on(-9), status=VehicleStatus.VISITING)
    file = replace(sound_air(), particulars=(home, visiting))

    assert codes(file, ONLY_MATRIX) == ["M01", "S04", "S06"]


def test_the_first_fitting_of_all_counts_as_a_change():
    file = replace(sound_air(), tests=())

    assert codes(file, ONLY_MATRIX) == ["M01", "M01"]


def test_a_test_on_the_day_of_a_change_in_unknown_order_does_not_count_and_says_so():
    file = sound_air(
        work=(WorkFact(1, "rigging", on(-9), on(-2)),),
        tests=(passed_air(on(-2)),),
    )

    (only,) = held(file, ONLY_MATRIX)

    assert "does not count: which came first is not recorded" in only.text


def test_a_change_of_unknown_date_is_followed_by_no_test():
    hose = next(f for f in sound_air().fitted if f.position == examples.HOSE.code)
    rest = tuple(f for f in sound_air().fitted if f is not hose)
    file = replace(sound_air(), fitted=(*rest, replace(hose, since=Moment.unknown())))

    (only,) = held(file, ONLY_MATRIX)

    assert (only.code, only.missing) == ("M01", True)


def test_a_change_is_judged_by_the_matrix_of_its_time():
    later = examples.matrix(Change.WORK_RELEASED, examples.AIR_TEST, since=day(-1))
    file = sound_air(work=(WorkFact(1, "rigging", on(-9), on(-2)),))

    assert codes(file, examples.policy(matrix=(later,))) == []

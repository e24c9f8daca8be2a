"""The rules: each by its own pair of examples, then what the pairs do not say."""

import datetime as dt
from dataclasses import replace

import pytest

from fleet.engineering.calendar import Moment
from fleet.fitness import examples
from fleet.fitness.facts import (
    FailedLine,
    StorageFact,
    UsageFact,
    WorkFact,
)
from fleet.fitness.rulebook import InForce, RuleBook
from fleet.fitness.rules import BOOK
from fleet.register.vocabulary import (
    Effect,
    Fitment,
    Scope,
    VehicleStatus,
)
from fleet.upkeep.vocabulary import Change, CountedFrom
from tests.fitness.files import (
    DAY,
    PRACTICE,
    VACUUM,
    codes,
    day,
    defect,
    finding,
    held,
    isolation,
    level,
    on,
    passed_air,
    sound_air,
    sound_dual,
    span,
    toy_rule,
)

BY_CODE = pytest.mark.parametrize("rule", list(BOOK), ids=lambda rule: rule.code)


def flagged(rule, example):
    found = BOOK.findings(example.file, example.policy)
    return [f for f in found if f.code == rule.code and f.holds_on(example.on)]


@BY_CODE
def test_a_rule_flags_its_own_example(rule):
    assert flagged(rule, rule.flags)


@BY_CODE
def test_a_rule_passes_its_own_example(rule):
    assert flagged(rule, rule.passes) == []


@BY_CODE
def test_a_finding_says_what_what_clears_it_and_on_whose_word(rule):
    for found in flagged(rule, rule.flags):
        assert found.text
        assert found.clears
        assert found.source
        assert found.effect is not Effect.CONDITION or found.condition


@BY_CODE
def test_a_rule_explains_itself(rule):
    assert rule.title
    assert rule.why.endswith(".")
    assert rule.clears.endswith(".")
    assert rule.source


def test_the_codes_of_the_book_are_the_ones_given_out():
    assert sorted(rule.code for rule in BOOK) == [
        "B01",
        "D01",
        "D02",
        "E01",
        "E02",
        "I01",
        "I02",
        "I03",
        "K01",
        "K02",
        "M01",
        "O01",
        "P01",
        "P02",
        "P03",
        "P04",
        "P05",
        "P06",
        "P07",
        "R01",
        "R02",
        "R03",
        "R04",
        "R05",
        "S01",
        "S02",
        "S03",
        "S04",
        "S05",
        "T01",
        "T02",
        "U01",
        "W01",
    ]


def test_a_book_refuses_two_rules_of_one_code():
    with pytest.raises(ValueError, match="two rules carry the code X01"):
        RuleBook(toy_rule("X01", list), toy_rule("X01", list), version="toy")


def test_a_book_refuses_a_rule_without_a_source():
    with pytest.raises(ValueError, match="X01"):
        RuleBook(toy_rule("X01", list, source=""), version="toy")


def test_a_rule_is_found_by_its_code():
    assert BOOK["P01"].title == "Position empty"


def test_a_retired_rule_finds_nothing_after_its_last_day():
    def always(rule, case, found):
        days = examples.ENTERED, dt.date.max
        yield rule.finding(case, days, Effect.STOP, Scope.VEHICLE, "toy")

    retired = toy_rule("X01", always, in_force=InForce(until=DAY))

    (only,) = RuleBook(retired, version="toy").findings(sound_air(), PRACTICE)

    assert only.until == DAY


def test_an_empty_finding_is_left_out():
    rule = toy_rule("X01", lambda *_: [finding(3, 3, Effect.STOP)])

    assert RuleBook(rule, version="toy").findings(sound_air(), PRACTICE) == ()


def off(position, at, fitted_again=None):
    """The sound coach with an item taken off, and put on again at a moment."""
    file = sound_air()
    old = next(f for f in file.fitted if f.position == position.code)
    kept = tuple(f for f in file.fitted if f is not old)
    more = ()
    if fitted_again:
        more = (replace(old, since=fitted_again, until=None),)
    return replace(file, fitted=(*kept, replace(old, until=at), *more))


def test_a_missing_through_pipe_part_stops_its_system_only():
    (only,) = [f for f in held(off(examples.COCK, on(-1))) if f.code == "P01"]

    assert (only.effect, only.scope) == (Effect.STOP, Scope.BRAKE_PIPE)
    assert only.since == day(-1)
    assert only.clears == "Fit brake pipe end cock, No. 1 end."


def test_an_exchange_within_one_day_leaves_no_empty_position():
    assert codes(off(examples.RIGGING, on(-1), on(-1))) == []


def test_a_position_filled_some_time_in_a_month_counts_as_empty_until_its_end():
    file = off(examples.RIGGING, on(-40), Moment(day(-20), day(10)))

    assert "P01" in codes(file, offset=9)
    assert "P01" not in codes(file, offset=10)


def test_parts_of_a_system_the_vehicle_has_not_are_not_missed():
    vacuum_only = examples.particulars(air=Fitment.NONE, vacuum=Fitment.BRAKED)
    file = replace(sound_dual(), fitted=(), particulars=(vacuum_only,))

    missed = {f.position for f in held(file) if f.code == "P01"}

    assert missed == {"vacuum_hose_1", "vacuum_cylinder", "rigging"}


@pytest.mark.parametrize(
    ("position", "unknown"),
    [
        (examples.HOSE, {"bore_mm": None}),
        (examples.RESERVOIR, {"pressure_bar": None}),
        (examples.DISTRIBUTOR, {"group": ""}),
    ],
    ids=["bore", "pressure rating", "group"],
)
def test_what_is_not_known_of_an_item_is_not_taken_as_right(position, unknown):
    number = examples.AIR_POSITIONS.index(position) + 1
    file = sound_air(equipment={number: examples.item(number, position, **unknown)})

    (only,) = held(file)

    assert only.missing


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

    assert codes(file, ONLY_MATRIX) == ["M01", "S04"]


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


def test_an_unassessed_defect_of_a_through_pipe_stops():
    raised = defect(("raised", 0), scope=Scope.BRAKE_PIPE, effect=Effect.ADVISE)

    assert level(sound_air(defects=(raised,))) == "STOPPED"
    assert codes(sound_air(defects=(raised,))) == ["D01"]


def test_an_unassessed_defect_weighs_what_the_operator_says():
    mild = replace(examples.CONDITIONS, unassessed_effect=Effect.DISCOUNT)
    file = sound_air(defects=(defect(("raised", 0)),))

    assert level(file, policy=replace(PRACTICE, conditions=(mild,))) == "PIPED"


@pytest.mark.parametrize("step", ["in_hand", "done", "tested"])
def test_a_defect_holds_until_it_is_released(step):
    taken = defect(("raised", -5), ("assessed", -4), (step, -3))

    assert codes(sound_air(defects=(taken,))) == ["D02"]


@pytest.mark.parametrize("step", ["released", "no_fault"])
def test_a_defect_ends_with_its_release_or_with_no_fault_found(step):
    taken = defect(("raised", -5), ("assessed", -4), (step, 0))

    assert codes(sound_air(defects=(taken,)), offset=-1) == ["D02"]
    assert codes(sound_air(defects=(taken,))) == []


def test_a_release_of_imprecise_date_counts_from_its_last_day():
    taken = defect(("raised", -5), ("assessed", -4), ("released", 0))
    ended = replace(taken.steps[-1], on=Moment(day(-3), day(3)))
    file = sound_air(defects=(replace(taken, steps=(*taken.steps[:-1], ended)),))

    assert codes(file, offset=2) == ["D02"]
    assert codes(file, offset=3) == []


def test_a_defect_of_an_item_leaves_with_it():
    taken = defect(("raised", -5), ("assessed", -4), equipment=3)
    file = off(examples.DISTRIBUTOR, on(-2)).with_(defects=(taken,))

    assert "D02" in codes(file, offset=-3)
    assert "D02" not in codes(file, offset=-2)


def test_a_part_isolation_carries_its_words_to_the_crew():
    words = "One bogie isolated: braked weight 18 t."
    file = sound_air(isolations=(isolation(-1, whole=False, condition=words),))

    assert span(file).conditions == (words,)
    assert level(file) == "CONDITIONAL"


def test_the_other_system_isolated_still_carries_its_condition():
    file = sound_dual(isolations=(isolation(-1),))

    assert level(file) == "PIPED"
    assert span(file, VACUUM).conditions == (
        f"In a vacuum train: {examples.CONDITIONS.air_dead_words}.",
    )


def test_with_both_systems_sound_the_words_about_the_other_are_advice():
    now = span(sound_dual(), VACUUM)

    assert now.level.name == "BRAKED"
    assert [f.code for f in now.findings] == ["O01"]


def test_a_requirement_of_a_vehicle_with_a_made_date_asks_for_what_nobody_recorded():
    odd = examples.requirement("ODD", counted_from=CountedFrom.MADE, months=12)

    (only,) = held(sound_air(), examples.policy(odd))

    assert (only.code, only.missing) == ("R05", True)


def test_a_requirement_by_usage_alone_cannot_be_worked_out_without_usage():
    by_miles = replace(examples.AIR_YEARLY, months=None, miles=9_000.0)
    file = replace(sound_air(), usage=())

    found = {f.code: f for f in held(file, examples.policy(by_miles))}

    assert found["R05"].missing
    assert level(file, policy=examples.policy(by_miles)) == "PIPED"


def test_work_last_done_on_an_unknown_date_does_not_count():
    file = replace(sound_air(), tests=(passed_air(Moment.unknown()),))

    (only,) = held(file, examples.policy(examples.AIR_YEARLY))

    assert (only.code, only.missing) == ("R05", True)


def test_an_overrun_by_forecast_is_marked():
    by_miles = replace(examples.AIR_YEARLY, months=None, miles=9_000.0)

    (only,) = [
        f
        for f in BOOK.findings(sound_air(), examples.policy(by_miles))
        if f.code == "R02" and f.until is None
    ]

    assert only.forecast


def test_usage_may_be_silent_where_nothing_counts_it():
    file = replace(sound_air(), usage=())
    found = BOOK.findings(file, examples.policy(examples.AIR_YEARLY))

    assert "U01" not in {f.code for f in found}


def test_usage_is_not_expected_of_a_stored_vehicle():
    by_miles = examples.policy(replace(examples.AIR_YEARLY, miles=9_000.0))
    last = UsageFact(day(-400), day(-300), 100.0, 5)
    stored = StorageFact(on(-299), None)

    def silent(file):
        found = BOOK.findings(file, by_miles)
        return [f for f in found if f.code == "U01" and f.holds_on(DAY)]

    assert silent(replace(sound_air(), usage=(last,)))
    assert not silent(replace(sound_air(), usage=(last,), storage=(stored,)))

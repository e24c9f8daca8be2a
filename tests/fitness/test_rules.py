"""The rules: each by its own pair of examples, then what the pairs do not say."""

import datetime as dt
from dataclasses import replace

import pytest

from fleet.engineering.calendar import Moment
from fleet.fitness import examples
from fleet.fitness.facts import (
    StorageFact,
    UsageFact,
)
from fleet.fitness.rulebook import InForce, RuleBook
from fleet.fitness.rules import BOOK
from fleet.register.vocabulary import (
    Effect,
    Fitment,
    Scope,
)
from fleet.upkeep.vocabulary import CountedFrom
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
    off,
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
        "A01",
        "A02",
        "B01",
        "C01",
        "C02",
        "D01",
        "D02",
        "E01",
        "E02",
        "F01",
        "G01",
        "I01",
        "I02",
        "I03",
        "I04",
        "I05",
        "I06",
        "K01",
        "K02",
        "M01",
        "N01",
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
        "S06",
        "S07",
        "S08",
        "T01",
        "T02",
        "U01",
        "V01",
        "V02",
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

"""From findings to levels: the table of effects and the two stories."""

import datetime as dt
from dataclasses import replace

import pytest

from fleet.defects.vocabulary import Brake
from fleet.engineering.calendar import Moment
from fleet.fitness import examples
from fleet.fitness.facts import Policy, VehicleFile, WorkFact
from fleet.fitness.rulebook import RuleBook
from fleet.fitness.rules import BOOK
from fleet.fitness.verdict import verdict
from fleet.register.vocabulary import Effect, Fitment, Level, Scope, System
from fleet.upkeep.vocabulary import CountedFrom
from tests.fitness.files import (
    AIR,
    DAY,
    PRACTICE,
    VACUUM,
    codes,
    day,
    defect,
    finding,
    isolation,
    level,
    on,
    passed_air,
    sound_air,
    sound_dual,
    sound_vacuum,
    span,
    toy_rule,
    toy_spans,
)

STRICT = replace(
    PRACTICE, conditions=(replace(examples.CONDITIONS, discount_needs_isolation=True),)
)


@pytest.mark.parametrize(
    ("effect", "expected"),
    [
        (Effect.ADVISE, Level.BRAKED),
        (Effect.CONDITION, Level.CONDITIONAL),
        (Effect.DISCOUNT, Level.PIPED),
        (Effect.ISOLATE, Level.STOPPED),
        (Effect.STOP, Level.STOPPED),
    ],
)
def test_each_effect_has_its_level(effect, expected):
    (only,) = toy_spans(finding(-9_999, None, effect))

    assert only.level is expected


@pytest.mark.parametrize(
    ("effect", "expected"),
    [(Effect.ISOLATE, "PIPED"), (Effect.DISCOUNT, "PIPED"), (Effect.STOP, "STOPPED")],
)
def test_a_complete_isolation_lets_a_faulty_brake_be_conveyed_as_piped(
    effect, expected
):
    file = sound_air(isolations=(isolation(-5),))

    found = toy_spans(finding(-5, None, effect), file=file, policy=STRICT)

    assert found[-1].level.name == expected


def test_where_the_operator_says_so_a_lapsed_brake_is_stopped_until_isolated():
    isolated = sound_air(isolations=(isolation(-5),))
    lapsed = finding(-9, None, Effect.DISCOUNT)

    assert toy_spans(lapsed, policy=STRICT)[-1].level is Level.STOPPED
    assert toy_spans(lapsed, file=isolated, policy=STRICT)[-1].level is Level.PIPED


def test_a_vehicle_built_piped_has_no_brake_to_isolate():
    file = replace(
        examples.SOUND_AIR, particulars=(examples.particulars(air=Fitment.PIPED),)
    )

    assert level(file, policy=STRICT) == "PIPED"


@pytest.mark.parametrize(
    "change", [{"complete": False}, {"whole": False}, {"brake": Brake.VACUUM}]
)
def test_no_other_isolation_frees_a_faulty_brake(change):
    file = sound_dual(isolations=(isolation(-5, **change),))

    found = toy_spans(finding(-5, None, Effect.ISOLATE), file=file)

    assert [s.level for s in found if s.system is AIR][-1] is Level.STOPPED


@pytest.mark.parametrize(
    ("out", "expected"),
    [({Brake.HAND}, "PIPED"), ({Brake.AIR}, "STOPPED"), (set(), "STOPPED")],
)
def test_a_faulty_handbrake_is_cut_out_by_its_own_isolation_only(out, expected):
    file = sound_air(isolations=tuple(isolation(-5, brake=brake) for brake in out))

    found = toy_spans(
        replace(finding(-5, None, Effect.ISOLATE), scope=Scope.HAND_BRAKE), file=file
    )

    assert found[-1].level.name == expected


def test_a_handbrake_out_of_use_does_not_cut_out_the_air_brake():
    file = sound_air(isolations=(isolation(-5, brake=Brake.HAND),))
    hand = replace(finding(-5, None, Effect.ISOLATE), scope=Scope.HAND_BRAKE)
    air = replace(finding(-5, None, Effect.DISCOUNT), text="Air brake test overrun")

    found = toy_spans(hand, air, file=file, policy=STRICT)

    assert (found[-1].level, found[-1].headline) == (
        Level.STOPPED,
        "Air brake test overrun",
    )


def test_an_isolation_of_imprecise_date_counts_from_its_last_day():
    since = Moment(day(-9), day(-3))
    file = sound_air(isolations=(replace(isolation(0), since=since),))

    found = toy_spans(finding(-9, None, Effect.ISOLATE), file=file)

    assert [(s.level.name, s.since) for s in found[-2:]] == [
        ("STOPPED", day(-9)),
        ("PIPED", day(-3)),
    ]


def test_a_system_that_is_not_fitted_has_no_span():
    assert {s.system for s in toy_spans()} == {AIR}


def test_spans_end_where_a_system_is_taken_off():
    parts = (
        examples.particulars(until=on(0)),
        examples.particulars(since=on(0), air=Fitment.NONE, vacuum=Fitment.BRAKED),
    )

    found = toy_spans(file=replace(examples.SOUND_AIR, particulars=parts))

    assert [(s.system, s.since, s.until) for s in found] == [
        (AIR, examples.ENTERED, DAY),
        (VACUUM, DAY, None),
    ]
    assert found[0].change == "No longer fitted for air"


def test_the_heaviest_finding_is_the_headline_and_each_condition_is_listed():
    light = finding(-3, None, Effect.CONDITION, text="light", condition="slowly")
    heavy = finding(-3, None, Effect.DISCOUNT, text="heavy")

    now = toy_spans(light, heavy)[-1]

    assert (now.headline, now.conditions) == ("heavy", ("slowly",))
    assert now.findings == (heavy, light)


def test_what_is_not_to_run_has_no_conditions_to_run_under():
    light = finding(-3, None, Effect.CONDITION, text="light", condition="slowly")
    stop = finding(-3, None, Effect.STOP, text="stop", condition="never")

    now = toy_spans(light, stop)[-1]

    assert (now.level, now.conditions) == (Level.STOPPED, ())


@pytest.mark.parametrize(
    ("scope", "whole"),
    [
        (Scope.VEHICLE, True),
        (Scope.SHARED_GEAR, True),
        (Scope.BRAKE_PIPE, False),
        (Scope.AIR_BRAKE, False),
    ],
)
def test_a_stop_that_hits_every_system_stops_the_whole_vehicle(scope, whole):
    assert toy_spans(finding(-3, None, Effect.STOP, scope))[-1].whole_vehicle is whole


def test_a_span_says_what_the_next_one_is_due_to():
    found = toy_spans(
        finding(-9, None, Effect.CONDITION, text="stiff"),
        finding(-3, 3, Effect.STOP, text="chafed"),
    )

    assert [(s.level.name, s.change) for s in found] == [
        ("BRAKED", "stiff"),
        ("CONDITIONAL", "chafed"),
        ("STOPPED", "Ends: chafed"),
        ("CONDITIONAL", ""),
    ]


def test_days_that_show_the_same_are_one_span():
    found = toy_spans(
        finding(-9, None, Effect.STOP, text="chafed"),
        finding(-5, None, Effect.ADVISE, text="dirty"),
    )

    assert [s.since for s in found] == [examples.ENTERED, day(-9)]
    assert len(found[-1].findings) == 2


def test_an_empty_file_is_stopped_and_says_why():
    found = verdict(VehicleFile(1, ()), PRACTICE, BOOK)

    assert {(s.system, s.level.name) for s in found.spans} == {
        (AIR, "STOPPED"),
        (VACUUM, "STOPPED"),
    }
    assert found.spans[0].headline == "No particulars of the vehicle recorded"


def test_without_a_policy_nothing_is_fit_to_run_braked():
    assert level(examples.SOUND_AIR, policy=Policy()) == "PIPED"


@pytest.mark.parametrize(
    ("file", "systems"),
    [(sound_air(), [AIR]), (sound_vacuum(), [VACUUM]), (sound_dual(), [AIR, VACUUM])],
)
def test_a_sound_vehicle_is_fit_to_run_braked(file, systems):
    assert codes(file) == []
    assert [level(file, system) for system in systems] == ["BRAKED"] * len(systems)


def exchanged(at, **facts):
    """The sound air-braked coach with its distributor exchanged at a moment."""
    file = sound_air(**facts)
    old = next(f for f in file.fitted if f.position == "distributor")
    new = replace(old, id=90, equipment=90, since=at)
    kept = tuple(f for f in file.fitted if f is not old)
    return replace(
        file,
        fitted=(*kept, replace(old, until=at), new),
        equipment={**file.equipment, 90: examples.item(90, examples.DISTRIBUTOR)},
    )


def test_a_slow_distributor_from_found_to_fit_again():
    """All on one day, as the records stand after each step."""
    steps = [("raised", 0), ("assessed", 0)]
    open_defect = defect(*steps)
    released = defect(*steps, ("in_hand", 0), ("done", 0), ("released", 0))
    begun = isolation(0, complete=False)
    restored = replace(isolation(0, ends=True), until=on(0, at=14))
    in_hand = WorkFact(700, "distributor exchanged", on(0, at=11), None)
    done = replace(in_hand, until=on(0, at=14))
    fitted_at, tested = on(0, at=12), passed_air(on(0, at=15))
    ended = {"isolations": (restored,), "work": (done,)}

    def now(file):
        return level(file), span(file).whole_vehicle

    assert now(sound_air()) == ("BRAKED", False)
    assert now(sound_air(defects=(open_defect,))) == ("STOPPED", False)
    isolated = {"defects": (open_defect,), "isolations": (begun,)}
    assert now(sound_air(**isolated)) == ("STOPPED", False)
    isolated["isolations"] = (isolation(0),)
    assert now(sound_air(**isolated)) == ("PIPED", False)
    assert now(exchanged(fitted_at, **isolated, work=(in_hand,))) == ("STOPPED", True)
    untested = exchanged(fitted_at, **ended, defects=(released,))
    assert (level(untested), codes(untested)) == ("PIPED", ["M01"] * 3)
    again = exchanged(fitted_at, **ended, defects=(released,), tests=(tested,))
    assert now(again) == ("BRAKED", False)


def test_a_chafed_brake_pipe_hose_is_not_to_run_and_never_piped():
    chafed = defect(
        ("raised", 0), ("assessed", 0), scope=Scope.BRAKE_PIPE, effect=Effect.ISOLATE
    )
    file = sound_dual(defects=(chafed,), isolations=(isolation(0),))

    assert level(file, AIR) == "STOPPED"
    assert not span(file, AIR).whole_vehicle
    assert level(file, VACUUM) == "CONDITIONAL"


def test_a_dual_braked_vehicle_past_overhaul_runs_braked_in_a_vacuum_train():
    overhaul = replace(
        examples.DISTRIBUTOR_OVERHAUL, counted_from=CountedFrom.MADE, months=48
    )
    practice = replace(PRACTICE, requirements=(overhaul,))
    hanger = defect(
        ("raised", 0), ("assessed", 0), scope=Scope.SHARED_GEAR, effect=Effect.STOP
    )
    cracked = sound_dual(defects=(hanger,))

    assert level(sound_dual(), AIR, policy=practice) == "PIPED"
    vacuum = span(sound_dual(), VACUUM, policy=practice)
    assert vacuum.level is Level.CONDITIONAL
    assert vacuum.conditions == (
        f"In a vacuum train: {examples.CONDITIONS.air_dead_words}.",
    )
    for system in System:
        now = span(cracked, system, policy=practice)
        assert (now.level, now.whole_vehicle) == (Level.STOPPED, True)


def test_due_dates_lead_with_what_cannot_be_worked_out():
    never = examples.requirement("NEVER", procedure="NEVER", months=12)
    practice = replace(PRACTICE, requirements=(*PRACTICE.requirements, never))

    found = verdict(sound_air(), practice, BOOK).due

    assert [(d.requirement, d.due_on) for d in found] == [
        ("NEVER", None),
        ("AIR-12", dt.date(2027, 1, 10)),
        ("DIST-96", dt.date(2027, 11, 4)),
        ("HOSE-96", dt.date(2027, 11, 4)),
    ]
    assert found[0].basis == "never done"


def test_the_revision_in_force_when_the_date_comes_gives_the_due_date():
    stricter = replace(
        examples.AIR_YEARLY, revision=2, months=6, since=day(30), until=None
    )
    first = replace(examples.AIR_YEARLY, until=day(30))

    (only,) = verdict(sound_air(), examples.policy(first, stricter), BOOK).due

    # counted from 10 Jan 2026: 12 months end after the revision, so 6 months count
    assert (only.revision, only.due_on) == (2, dt.date(2026, 7, 10))


def test_a_requirement_holds_only_while_its_revision_is_in_force():
    stricter = replace(
        examples.AIR_YEARLY, revision=2, months=1, since=day(30), until=day(60)
    )
    file = sound_air()

    levels = [level(file, offset=at, policy=examples.policy(stricter)) for at in _EDGES]

    assert levels == ["BRAKED", "PIPED", "PIPED", "BRAKED"]


_EDGES = (29, 30, 59, 60)


def test_an_item_taken_off_is_no_longer_due_here():
    due = verdict(exchanged(on(1)), PRACTICE, BOOK).due

    assert [d.equipment for d in due if d.requirement == "DIST-96"] == [90]


def test_a_book_runs_ordinary_rules_first_and_then_those_that_follow():
    first = finding(0, None, Effect.STOP)
    seen = []

    def follow(rule, case, found):
        seen.extend(found)
        return []

    book = RuleBook(
        toy_rule("X02", follow, follows=True),
        toy_rule("X01", lambda rule, case, found: [first]),
        version="toy",
    )

    assert book.findings(sound_air(), PRACTICE) == (first,)
    assert seen == [first]

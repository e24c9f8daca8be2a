"""Running under a concession: from when, till when, and how it falls back by itself."""

import datetime as dt
from dataclasses import replace
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fleet.fitness import examples
from fleet.fitness.facts import ConcessionFact
from fleet.fitness.rules import BOOK
from fleet.fitness.verdict import verdict
from fleet.register.vocabulary import Effect, Scope
from fleet.upkeep.conceding import Checked, held_days, recheck_due
from tests.fitness.files import (
    codes,
    day,
    defect,
    level,
    on,
    passed_air,
    sound_air,
    span,
)

ANNUAL = examples.policy(examples.AIR_YEARLY)
LAST_GOOD = -10  # days from the day of the examples


def granted(since=LAST_GOOD + 1, until=20, **values):
    """A concession for the air brake test of the vehicle, re-checked once a fortnight."""
    plain = ConcessionFact(
        id=4,
        renewal=0,
        requirement="AIR-12",
        defect=None,
        equipment=None,
        since=day(since),
        until=day(until),
        ceiling_days=60,
        condition="Not as the last vehicle.",
        recheck_days=14,
    )
    return replace(plain, **values)


def seen(*offsets, holds=True):
    """Re-checks on days after the day of the examples."""
    return tuple(Checked(day(n), holds) for n in offsets)


def overrun(*concessions):
    """The sound coach, its yearly test overrun since the day after LAST_GOOD."""
    done = day(LAST_GOOD)
    test = passed_air(on(0))
    test = replace(test, on=type(test.on).on(done.replace(year=done.year - 1)))
    return replace(sound_air(), tests=(test,), concessions=concessions)


def levels(file, *offsets):
    """The level of the air brake on some days."""
    return [level(file, offset=n, policy=ANNUAL) for n in offsets]


def test_an_overrun_under_concession_runs_braked_on_its_condition():
    file = overrun(granted(checks=seen(0)))

    now = span(file, policy=ANNUAL)

    assert now.level.name == "CONDITIONAL"
    assert now.conditions == ("Not as the last vehicle.",)
    assert codes(file, ANNUAL) == ["A01"]


def test_it_falls_back_by_itself_the_day_after_the_last():
    file = overrun(granted(until=3))

    assert levels(file, 2, 3) == ["CONDITIONAL", "PIPED"]
    assert codes(file, ANNUAL, 3) == ["R02"]


def test_it_does_not_help_the_days_before_it_began():
    file = overrun(granted(since=-4))

    assert levels(file, -5, -4) == ["PIPED", "CONDITIONAL"]


def test_it_never_reaches_beyond_the_ceiling_counted_from_the_last_good_day():
    file = overrun(granted(until=300, ceiling_days=12, recheck_days=400))

    assert levels(file, LAST_GOOD + 12, LAST_GOOD + 13) == ["CONDITIONAL", "PIPED"]


def test_it_lapses_where_a_recheck_is_missed_and_holds_again_once_it_is_made():
    file = overrun(granted(checks=seen(9)))
    due = LAST_GOOD + 1 + 14  # counted from the day it was granted

    assert levels(file, due, due + 1, 8, 9) == [
        "CONDITIONAL",
        "PIPED",
        "PIPED",
        "CONDITIONAL",
    ]
    assert "A02" in {f.code for f in BOOK.findings(file, ANNUAL) if f.holds_on(day(8))}


def test_it_ends_the_day_its_terms_are_found_not_kept():
    file = overrun(granted(checks=seen(1, holds=False)))

    assert levels(file, 0, 1, 2) == ["CONDITIONAL", "PIPED", "PIPED"]


def test_it_is_spent_once_the_work_was_done():
    # Granted for the old overrun, with long to run; the next period overruns too.
    file = overrun(granted(since=-400, until=900, ceiling_days=900, recheck_days=900))

    assert codes(file, ANNUAL) == ["R02"]


def test_it_is_for_the_vehicle_or_the_item_it_names():
    assert codes(overrun(granted(equipment=3)), ANNUAL) == ["R02"]


def test_it_is_for_the_requirement_it_names():
    assert codes(overrun(granted(requirement="VAC-12")), ANNUAL) == ["R02"]


def test_what_was_never_done_is_not_extended():
    file = replace(overrun(granted(since=-400, until=90)), tests=())

    assert codes(file, ANNUAL) == ["R01"]


def test_a_requirement_that_only_advises_is_left_as_it_is():
    mild = examples.policy(replace(examples.AIR_YEARLY, effect=Effect.ADVISE))

    assert level(overrun(granted()), policy=mild) == "BRAKED"


def conceded_defect(*steps, scope=Scope.AIR_BRAKE, **values):
    """The sound coach with a defect and a concession to run with it."""
    taken = defect(*steps, scope=scope)
    leave = granted(requirement="", defect=taken.id, since=-3, **values)
    return sound_air(defects=(taken,), concessions=(leave,))


def test_a_defect_under_concession_is_a_condition_until_it_expires():
    file = conceded_defect(("raised", -5), ("assessed", -4), until=7)

    assert [level(file, offset=n) for n in (-4, -3, 6, 7)] == [
        "STOPPED",
        "CONDITIONAL",
        "CONDITIONAL",
        "STOPPED",
    ]


def test_a_defect_assessed_anew_is_no_longer_what_was_conceded():
    file = conceded_defect(("raised", -5), ("assessed", -4), ("assessed", 1))

    assert [level(file, offset=n) for n in (0, 1)] == ["CONDITIONAL", "STOPPED"]


def test_the_fault_of_a_through_pipe_is_never_conceded():
    file = conceded_defect(
        ("raised", -5), ("assessed", -4), scope=Scope.BRAKE_PIPE, until=7
    )

    assert level(file) == "STOPPED"


def test_a_renewal_carries_on_where_the_first_grant_ended():
    first = granted(until=0)
    renewed = granted(since=0, until=9, renewal=1, condition="Air tested daily.")
    file = overrun(renewed, first)

    assert levels(file, -1, 0, 8, 9) == ["CONDITIONAL"] * 3 + ["PIPED"]
    assert span(file, policy=ANNUAL).conditions == ("Air tested daily.",)


@pytest.mark.parametrize(
    ("checks", "due"),
    [
        pytest.param((), 14, id="none made yet"),
        pytest.param(seen(5), 19, id="one made"),
        pytest.param(seen(5) + seen(8, holds=False), 8, id="found not kept"),
        pytest.param(seen(-3, 40), 14, id="made before or after it ran"),
    ],
)
def test_the_next_recheck_is_counted_from_the_last(checks, due):
    assert recheck_due(day(0), day(30), 14, checks) == day(due)


DAYS = st.integers(0, 60).map(day)


@given(
    st.lists(st.builds(Checked, DAYS, st.booleans()), max_size=5),
    st.integers(1, 30),
    st.randoms(use_true_random=False),
)
def test_the_order_in_which_rechecks_came_in_does_not_matter(checks, every, random):
    shuffled = random.sample(checks, len(checks))

    held = held_days(day(0), day(50), every, checks)

    assert held == held_days(day(0), day(50), every, shuffled)
    assert all(day(0) <= since < until <= day(50) for since, until in held)
    assert all(a[1] < b[0] for a, b in pairwise(held))


@given(st.integers(1, 40), st.integers(1, 40), st.integers(0, 45))
def test_a_day_under_concession_is_within_both_its_days_and_its_ceiling(
    length, ceiling, offset
):
    start = LAST_GOOD + 1
    file = overrun(granted(until=start + length, ceiling_days=ceiling, recheck_days=90))
    on_day = start + offset

    found = verdict(file, ANNUAL, BOOK).findings
    under = any(f.code == "A01" and f.holds_on(day(on_day)) for f in found)

    assert under == (offset < min(length, ceiling))
    assert day(on_day) > dt.date(2026, 1, 1)

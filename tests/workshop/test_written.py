"""A problem and its programme can be laid away as plain text and come back the same."""

import json
from dataclasses import replace
from datetime import date

from hypothesis import given
from hypothesis import strategies as st

from fleet.workshop.engine.problem import (
    Capacity,
    Float,
    Job,
    Level,
    Need,
    Pin,
    Problem,
    Programme,
    Vehicle,
    Visit,
)
from fleet.workshop.engine.rules import best_rule
from fleet.workshop.engine.written import (
    digest,
    read_problem,
    read_programme,
    written,
)
from fleet.workshop.vocabulary import Place, Wish
from tests.workshop.generate import generated

NUMBERS = st.integers(-1_000, 100_000)
WORDS = st.text(max_size=8)
TURNS = st.tuples(WORDS, st.integers(0, 5))
STARTS = st.dictionaries(TURNS, st.integers(0, 200), max_size=4)


VEHICLES = st.builds(
    Vehicle,
    key=WORDS,
    label=WORDS,
    pools=st.frozensets(WORDS, max_size=3),
    kind=WORDS,
    depot=WORDS,
)
JOBS = st.builds(
    Job,
    key=WORDS,
    vehicle=WORDS,
    label=WORDS,
    due=NUMBERS,
    last_good=NUMBERS,
    life=st.integers(1, 9_000),
    hours=st.dictionaries(WORDS, NUMBERS, max_size=3),
    place=st.sampled_from(Place),
    group=st.none() | WORDS,
    interval=st.none() | st.integers(1, 9_000),
    holds=st.frozensets(WORDS, max_size=3),
)
WEEKS = st.lists(NUMBERS, max_size=4).map(tuple)
PROBLEMS = st.builds(
    Problem,
    start=st.dates(date(1990, 1, 1), date(2090, 1, 1)),
    weeks=st.integers(1, 200),
    vehicles=st.lists(VEHICLES, max_size=3).map(tuple),
    jobs=st.lists(JOBS, max_size=3).map(tuple),
    capacity=st.builds(
        Capacity,
        hours=st.dictionaries(WORDS, WEEKS, max_size=3),
        roads=WEEKS,
        pits=WEEKS,
        closed=st.frozensets(NUMBERS, max_size=3),
    ),
    floats=st.lists(
        st.builds(
            Float,
            group=WORDS,
            label=WORDS,
            stock=NUMBERS,
            turnaround=st.none() | NUMBERS,
            returns=st.lists(st.tuples(NUMBERS, NUMBERS), max_size=3).map(tuple),
        ),
        max_size=2,
    ).map(tuple),
    needs=st.lists(
        st.builds(Need, pool=WORDS, week=NUMBERS, vehicles=NUMBERS), max_size=3
    ).map(tuple),
    pins=st.lists(
        st.builds(
            Pin,
            wish=st.sampled_from(Wish),
            weeks=st.frozensets(NUMBERS, max_size=3),
            job=st.none() | WORDS,
            vehicle=st.none() | WORDS,
        ),
        max_size=3,
    ).map(tuple),
    published=STARTS,
    rate=st.floats(0, 10),
)
PROGRAMMES = st.builds(
    Programme,
    starts=STARTS,
    visits=st.lists(
        st.builds(
            Visit,
            vehicle=WORDS,
            week=NUMBERS,
            weeks=NUMBERS,
            turns=st.lists(TURNS, max_size=3).map(tuple),
        ),
        max_size=3,
    ).map(tuple),
    levels=st.lists(
        st.builds(Level, name=WORDS, value=NUMBERS, bound=st.none() | NUMBERS),
        max_size=4,
    ).map(tuple),
    wasted=NUMBERS,
    found_by=WORDS,
)


def through_text(value):
    return json.loads(json.dumps(written(value)))


@given(PROBLEMS)
def test_a_problem_comes_back_as_it_was(problem):
    assert read_problem(through_text(problem)) == problem


@given(PROGRAMMES)
def test_a_programme_comes_back_as_it_was(programme):
    assert read_programme(through_text(programme)) == programme


@given(PROBLEMS, PROGRAMMES)
def test_the_digest_is_of_what_is_said_not_of_how_it_was_kept(problem, programme):
    back = read_problem(through_text(problem)), read_programme(through_text(programme))

    assert digest(*back) == digest(problem, programme)


def test_one_visit_a_week_later_has_another_digest():
    problem = generated(4)
    programme = best_rule(problem)
    (turn, week), *_ = programme.starts.items()
    later = replace(programme, starts={**programme.starts, turn: week + 1})

    assert digest(problem, later) != digest(problem, programme)

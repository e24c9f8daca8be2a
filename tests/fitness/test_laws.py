"""Laws of rules and spans, for any facts whatever."""

from dataclasses import replace
from itertools import pairwise

from hypothesis import given
from hypothesis import strategies as st

from fleet.fitness import examples
from fleet.fitness.case import Case
from fleet.fitness.rules import BOOK
from fleet.fitness.verdict import level_on, spans, verdict
from fleet.register.vocabulary import System
from tests.fitness import strategies
from tests.fitness.files import (
    DAY,
    PRACTICE,
    sound_dual,
    toy_spans,
)


@given(strategies.files, strategies.policies)
def test_no_facts_break_the_book(file, policy):
    found = verdict(file, policy, BOOK)

    assert all(f.until is None or f.since < f.until for f in found.findings)
    for system in System:
        mine = [s for s in found.spans if s.system is system]
        assert all(s.until is None or s.since < s.until for s in mine)
        assert all(a.until <= b.since for a, b in pairwise(mine))


@given(strategies.files, strategies.policies, st.data())
def test_the_level_read_from_the_spans_is_that_of_the_day_alone(file, policy, data):
    found = verdict(file, policy, BOOK)
    edges = [s.since for s in found.spans]
    on_day = data.draw(strategies.DAYS | st.sampled_from(edges or [DAY]))

    for system in System:
        now = found.span_on(system, on_day)
        assert (now.level if now else None) == level_on(
            file, policy, BOOK, system, on_day
        )


@given(
    st.lists(strategies.findings, max_size=6),
    st.lists(strategies.findings, max_size=3),
    strategies.files,
    st.sampled_from([PRACTICE, strategies.STRICT]),
    strategies.DAYS,
)
def test_more_findings_never_improve_a_level(few, more, file, policy, on_day):
    case = Case(file, policy)

    def levels(findings):
        return {
            s.system: s.level
            for s in spans(case, findings)
            if s.since <= on_day and (s.until is None or on_day < s.until)
        }

    fewer, all_of_them = levels(few), levels([*few, *more])

    assert fewer.keys() == all_of_them.keys()
    assert all(all_of_them[system] <= fewer[system] for system in fewer)


@given(strategies.files, strategies.policies, st.randoms(use_true_random=False))
def test_the_order_of_facts_does_not_matter(file, policy, random):
    def shuffled(facts):
        return tuple(random.sample(facts, len(facts)))

    names = ("fitted", "tests", "defects", "isolations", "work", "storage", "usage")
    names += ("concessions",)
    other = replace(file, **{name: shuffled(getattr(file, name)) for name in names})

    assert verdict(other, policy, BOOK) == verdict(file, policy, BOOK)


@given(strategies.findings)
def test_a_finding_is_shown_on_its_own_system_only(one):
    file = sound_dual()

    hit = {s.system for s in toy_spans(one, file=file) if one in s.findings}

    if one.until is None or max(one.since, examples.ENTERED) < one.until:
        assert hit == set(one.scope.systems)
    else:
        assert hit == set()

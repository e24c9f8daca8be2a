"""Whatever is recorded in whatever order: what is stored is what the facts say."""

from collections import Counter

import pytest
from django.db import transaction
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from fleet.fitness.status import board_rows, current_verdict
from fleet.fitness.verifying import differences
from fleet.records.clock import now
from fleet.records.deeds import number_at
from fleet.register.vocabulary import System
from tests.fitness.yard import DEEDS, LOOKED, STORY, Yard

pytestmark = pytest.mark.django_db


def test_every_kind_of_deed_can_be_done_and_what_is_stored_follows():
    yard = Yard()
    for deed in STORY:
        yard.do(*deed)

    assert yard.done == Counter(kind for kind, *_ in STORY)
    assert list(differences()) == []


@settings(
    max_examples=9,
    suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow],
)
@given(st.lists(DEEDS, min_size=3, max_size=11), LOOKED)
def test_what_is_stored_is_what_the_facts_say(deeds, day):
    with transaction.atomic():
        yard = Yard()
        for deed in deeds:
            yard.do(*deed)

        assert list(differences()) == []
        for row in board_rows(day):
            span = current_verdict(row.vehicle).span_on(System.AIR, day)
            assert row.systems[System.AIR].level == span.level
            assert row.systems[System.AIR].span.headline == span.headline
        transaction.set_rollback(True)


@settings(
    max_examples=8,
    suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow],
)
@given(
    st.lists(DEEDS, min_size=2, max_size=8),
    st.lists(DEEDS, min_size=1, max_size=6),
    LOOKED,
)
def test_what_was_known_and_shown_then_never_follows_from_what_came_later(
    before, after, day
):
    with transaction.atomic():
        yard = Yard()
        for deed in before:
            yard.do(*deed)
        known = number_at(now())
        then = [current_verdict(vehicle.pk) for vehicle in yard.vehicles]
        shown = board_rows(day)
        for deed in after:
            yard.do(*deed)

        for vehicle, verdict in zip(yard.vehicles, then, strict=True):
            assert current_verdict(vehicle.pk, known_at=known) == verdict
        assert board_rows(day, known_at=known) == shown
        assert board_rows(day, known_at=known, again=True) == shown
        transaction.set_rollback(True)

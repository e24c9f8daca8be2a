"""Competences: granted, lapsed, withdrawn, put right; who held what at a moment."""

import datetime as dt

import pytest
from django.core.exceptions import ValidationError

from fleet.engineering.calendar import Moment
from fleet.people.competence import competent_on, competent_persons, matrix
from fleet.people.models import CompetenceVersion, Skill
from fleet.people.services import (
    correct_competence,
    retract_competence,
    withdraw_competence,
)
from fleet.records.clock import today
from fleet.records.refusing import codes_of
from tests.people.factories import PersonFactory, make_competence

pytestmark = pytest.mark.django_db


@pytest.fixture
def person():
    """Somebody who does tests."""
    return PersonFactory()


def on(text):
    """The moment of a day."""
    return Moment.parse(text)


def held(person, *days):
    """Whether a competence for air brake tests was held on each of some days."""
    return [competent_on(person, Skill.AIR, on(day)) is not None for day in days]


def test_a_competence_holds_from_its_assessment_to_its_last_day(person):
    make_competence(person, since="2025-03-01", last_day="2026-02-28")

    days = ["2025-02-28", "2025-03-01", "2026-02-28", "2026-03-01"]
    assert held(person, *days) == [False, True, True, False]


def test_without_a_last_day_it_holds_until_it_is_withdrawn(person):
    version = make_competence(person, since="2025-03-01")
    assert held(person, "2026-11-01") == [True]
    withdraw_competence(by=None, version=version, at=on("2026-06-01"), reason="left")

    assert held(person, "2026-05-31", "2026-06-01") == [True, False]


def test_it_is_for_one_person_and_one_skill(person):
    make_competence(person, since="2025-03-01")

    assert competent_on(person, Skill.VACUUM, on("2026-01-01")) is None
    assert competent_on(PersonFactory(), Skill.AIR, on("2026-01-01")) is None
    assert competent_persons(Skill.AIR, on("2026-01-01")) == [person]


def test_of_an_imprecise_date_every_day_must_be_covered(person):
    make_competence(person, since="2025-03-15", last_day="2026-06-10")

    assert held(person, "2025-03", "2025-04", "2026-06") == [False, True, False]
    assert competent_on(person, Skill.AIR, Moment.unknown()) is None


def test_assessed_anew_the_one_before_ends_there(person):
    make_competence(person, since="2025-03-01", last_day="2026-12-31")
    make_competence(person, since="2026-10-01", last_day="2028-10-01")

    first, second = CompetenceVersion.objects.current().order_by("since_key")
    assert (first.until, second.since) == (on("2026-10-01"), on("2026-10-01"))
    assert first.competence == second.competence
    assert held(person, "2026-09-30", "2026-10-01", "2027-06-01") == [True, True, True]


@pytest.mark.parametrize(
    ("values", "code"),
    [
        ({"since": "unknown"}, "unknown_date"),
        ({"since": "2190-01-01"}, "in_the_future"),
        ({"last_day": "2025-02-28"}, "ends_before_it_begins"),
        ({"skill": "juggling"}, "unknown_skill"),
        ({"since": "2024-01-01"}, "later_one_recorded"),
    ],
)
def test_what_cannot_be_is_refused_and_nothing_is_written(person, values, code):
    make_competence(person, since="2024-06-01", last_day="2024-12-31")

    with pytest.raises(ValidationError) as refusal:
        make_competence(person, **{"since": "2025-03-01"} | values)
    assert codes_of(refusal.value) == {code}
    assert CompetenceVersion.objects.count() == 1


def test_nobody_assessed_it_is_no_competence(person):
    with pytest.raises(ValidationError) as refusal:
        make_competence(person, assessed_by=" ")

    assert "assessed_by" in refusal.value.error_dict


@pytest.mark.parametrize(
    ("at", "reason", "code"),
    [
        ("2026-01-01", "", "no_reason"),
        ("2190-01-01", "left", "in_the_future"),
        ("2025-01-01", "left", "ends_before_it_begins"),
        ("2026-08-01", "left", "ended_already"),
    ],
)
def test_a_withdrawal_that_cannot_be_is_refused(person, at, reason, code):
    version = make_competence(person, since="2025-03-01", last_day="2026-06-30")

    with pytest.raises(ValidationError) as refusal:
        withdraw_competence(by=None, version=version, at=on(at), reason=reason)
    assert codes_of(refusal.value) == {code}


def test_a_correction_moves_its_days_and_both_versions_stay(person):
    version = make_competence(person, since="2025-03-01")
    correct_competence(
        by=None,
        version=version,
        reason="misread the certificate",
        since=on("2025-05-01"),
        last_day=dt.date(2026, 5, 1),
    )

    assert held(person, "2025-04-30", "2025-05-01", "2026-05-02") == [
        False,
        True,
        False,
    ]
    assert CompetenceVersion.objects.count() == 2


def test_retracted_it_never_held(person):
    version = make_competence(person, since="2025-03-01")
    retract_competence(by=None, version=version, reason="another person's")

    assert held(person, "2025-06-01") == [False]


def test_the_matrix_shows_everybody_beside_every_skill(
    person, django_assert_num_queries
):
    make_competence(person, since="2025-03-01", last_day="2025-12-31")
    for _ in range(5):
        make_competence(PersonFactory(), skill=Skill.VACUUM)

    with django_assert_num_queries(2):
        rows = matrix(today())
    row = next(row for row in rows if row.person == person)
    cells = dict(row.cells)
    assert len(rows) == 6
    assert set(cells) == set(Skill)
    assert cells[Skill.AIR].lapsed
    assert cells[Skill.AIR].last_day == dt.date(2025, 12, 31)
    assert cells[Skill.VACUUM] is None


def test_one_who_left_is_in_no_matrix(person):
    person.active = False
    person.save()

    assert matrix(today()) == []

"""Paper comes in late and in any order: what follows from it is the same."""

import datetime as dt

import pytest
from django.db import transaction
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from fleet.engineering.calendar import Moment
from fleet.examination.services import correct_test
from fleet.fitness.models import DueDate, StatusSpan
from fleet.people.models import Skill
from fleet.records.clock import today
from fleet.register.services.usage import return_vehicle, store_vehicle
from fleet.upkeep.concession_grants import grant_concession
from fleet.upkeep.concessions import (
    ask_concession,
    ask_renewal,
)
from fleet.upkeep.models import Requirement
from fleet.upkeep.rechecks import record_recheck
from fleet.upkeep.services import revise_requirement
from tests.defects.factories import person
from tests.examination.factories import good_readings, make_procedure, make_test
from tests.people.factories import PersonFactory, make_competence
from tests.register.factories import make_type, make_vehicle
from tests.upkeep.factories import (
    make_concession_policy,
    make_conditions,
    make_requirement,
)

pytestmark = pytest.mark.django_db

D = dt.date
LAST_GOOD = D(2026, 3, 29)  # 5 Mar 2025, a year, and 24 days credited


class Paper:
    """A vehicle, and the papers that tell its story; each may come in at any time."""

    def __init__(self):
        make_conditions()
        make_concession_policy(ceiling_days=300)
        make_requirement(code="annual", storage_credit_days=20)
        self.vehicle = make_vehicle(type=make_type("bare", positions=[]))
        self.entitled = PersonFactory()
        make_competence(self.entitled, skill=Skill.CONCEDE)

    def put_right(self):
        """A test entered under a wrong date, and superseded by the right one."""
        record = make_test(vehicle=self.vehicle, on=Moment.on(D(2024, 2, 1)))
        correct_test(
            by=None,
            record=record,
            reason="Day and month mixed up",
            readings=good_readings(make_procedure()),
            on=Moment.on(D(2024, 1, 2)),
        )

    def tested(self):
        """The test the next is counted from."""
        make_test(vehicle=self.vehicle, on=Moment.on(D(2025, 3, 5)))

    def stood(self):
        """Out of use from 1 to 25 November: 24 days."""
        since, at = Moment.on(D(2025, 11, 1)), Moment.on(D(2025, 11, 25))
        store_vehicle(by=None, vehicle=self.vehicle, since=since)
        return_vehicle(by=None, vehicle=self.vehicle, at=at)

    def conceded(self, *looked):
        """A concession with its renewal, and re-checks in the order given."""
        terms = {
            "by": None,
            "person": person(),
            "counted_from": LAST_GOOD,
            "recheck_days": 14,
            "why": "Shed full.",
            "risk": "Well within its limits.",
            "condition": "Not as the last vehicle.",
        }
        first = ask_concession(
            requirement=Requirement.objects.get(code="annual"),
            vehicle=self.vehicle,
            on=D(2026, 3, 28),
            since=D(2026, 3, 30),
            last_day=D(2026, 4, 30),
            **terms,
        )
        self._grant(first, D(2026, 3, 29))
        again = ask_renewal(
            concession=first.concession,
            on=D(2026, 4, 29),
            since=D(2026, 5, 1),
            last_day=D(2026, 5, 20),
            **terms,
        )
        self._grant(again, D(2026, 4, 30))
        for day, holds in looked:
            record_recheck(
                by=None,
                person=person(),
                concession=first.concession,
                on=day,
                holds=holds,
                found="Looked at",
            )

    def revised(self):
        """A revision that supersedes the requirement from tomorrow."""
        revise_requirement(
            by=None,
            requirement=Requirement.objects.get(code="annual"),
            effective_from=today() + dt.timedelta(days=1),
            reason="Wear",
            months=9,
        )

    def _grant(self, version, on):
        grant_concession(
            by=None,
            person=self.entitled,
            version=version,
            on=on,
            counted_from=LAST_GOOD,
        )

    def status(self):
        """All that follows: levels by day, conditions, due dates and how they came."""
        spans = StatusSpan.objects.filter(closed_by=None).order_by("system", "since")
        dues = DueDate.objects.order_by("requirement")
        return (
            list(spans.values_list("system", "since", "until", "level", "conditions")),
            list(dues.values_list("requirement", "revision", "due_on", "basis")),
        )


PAPERS = ("put_right", "tested", "stood", "conceded", "revised")
LOOKS = ((D(2026, 4, 10), True), (D(2026, 4, 20), True), (D(2026, 5, 6), False))


def told(papers, looks):
    """What follows from the papers, entered in an order."""
    with transaction.atomic():
        story = Paper()
        for name in papers:
            getattr(story, name)(*(looks if name == "conceded" else ()))
        status = story.status()
        transaction.set_rollback(True)
    return status


@settings(
    max_examples=8,
    suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow],
)
@given(st.permutations(PAPERS), st.permutations(LOOKS))
def test_credit_concession_and_supersession_do_not_depend_on_the_order(papers, looks):
    spans, dues = told(papers, looks)

    assert (spans, dues) == told(PAPERS, LOOKS)
    # Run out on 29 March; under the first grant to 30 April, under the renewal until its
    # terms were found not kept on 6 May.
    under = [(since, until) for _, since, until, _, words in spans if words]
    assert (under[0][0], under[-1][1]) == (D(2026, 3, 30), D(2026, 5, 6))
    assert [(due, basis) for _, _, due, basis in dues] == [
        (
            LAST_GOOD,
            "counted from 5 Mar 2025, 12 months, extended by 24 days out of use",
        )
    ]

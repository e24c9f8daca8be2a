"""The operator's policy: defined, revised, withdrawn, taken back; never edited."""

import datetime as dt

import pytest
from django.core.exceptions import ValidationError

from fleet.records.clock import now, today
from fleet.records.deeds import number_at
from fleet.records.models import Entry
from fleet.records.refusing import codes_of
from fleet.register.vocabulary import Effect
from fleet.upkeep import services
from fleet.upkeep.models import (
    ConditionsRevision,
    MatrixRevision,
    RequirementRevision,
)
from fleet.upkeep.vocabulary import CountedFrom, Subject
from tests.examination.factories import make_bench_test, make_procedure
from tests.upkeep.factories import (
    make_age_limit,
    make_conditions,
    make_matrix_line,
    make_requirement,
)

pytestmark = pytest.mark.django_db

DAY = dt.timedelta(days=1)


def tomorrow():
    return today() + DAY


def refused(code, call, /, **values):
    """Call with values; it must be refused with a code, and write nothing."""
    before = Entry.objects.count()
    with pytest.raises(ValidationError) as caught:
        call(**values)
    assert code in codes_of(caught.value)
    assert Entry.objects.count() == before


def in_force(model, day):
    """What is in force on a day, by number."""
    return [row.number for row in model.objects.in_force(day).order_by("number")]


def test_a_first_definition_may_be_in_force_from_a_day_long_past():
    make_requirement(effective_from=dt.date(2015, 1, 1))

    assert in_force(RequirementRevision, dt.date(2015, 1, 1)) == [1]
    assert in_force(RequirementRevision, dt.date(2014, 12, 31)) == []


def test_a_revision_takes_over_on_its_day_and_keeps_what_it_does_not_name():
    requirement = make_requirement(months=12, effect=Effect.DISCOUNT)

    revision = services.revise_requirement(
        by=None,
        requirement=requirement,
        effective_from=tomorrow(),
        months=9,
        reason="Two failures in the tenth month",
    )

    assert in_force(RequirementRevision, today()) == [1]
    assert in_force(RequirementRevision, tomorrow()) == [2]
    assert (revision.months, revision.effect) == (9, Effect.DISCOUNT)
    assert revision.requirement == requirement


@pytest.mark.parametrize(
    "days", [pytest.param(0, id="today"), pytest.param(-400, id="last year")]
)
def test_a_revision_never_takes_effect_before_tomorrow(days):
    requirement = make_requirement()

    refused(
        "takes_effect_too_soon",
        services.revise_requirement,
        by=None,
        requirement=requirement,
        effective_from=today() + days * DAY,
        reason="Sooner would be better",
    )


def test_a_revision_comes_after_the_one_already_planned():
    requirement = make_requirement()
    values = {"by": None, "requirement": requirement, "reason": "Wear"}
    services.revise_requirement(effective_from=today() + 30 * DAY, months=9, **values)

    refused(
        "before_last_revision",
        services.revise_requirement,
        effective_from=today() + 20 * DAY,
        months=6,
        **values,
    )


def test_a_revision_not_yet_in_force_can_be_taken_back_and_its_number_is_not_reused():
    requirement = make_requirement()
    values = {"by": None, "requirement": requirement, "reason": "Wear"}
    planned = services.revise_requirement(effective_from=tomorrow(), **values)

    services.take_back_revision(by=None, revision=planned, reason="Meant another")
    again = services.revise_requirement(effective_from=tomorrow(), months=6, **values)

    assert in_force(RequirementRevision, tomorrow()) == [3]
    assert again.number == 3


def test_a_revision_in_force_cannot_be_taken_back():
    requirement = make_requirement()

    refused(
        "in_force_already",
        services.take_back_revision,
        by=None,
        revision=requirement.revisions.get(),
        reason="Meant another",
    )


def test_a_requirement_withdrawn_rules_to_the_day_before():
    requirement = make_requirement()

    services.withdraw_requirement(
        by=None,
        requirement=requirement,
        withdrawn_from=tomorrow(),
        reason="Covered by another",
    )

    assert in_force(RequirementRevision, today()) == [1]
    assert in_force(RequirementRevision, tomorrow()) == []


def test_a_requirement_cannot_be_withdrawn_from_today():
    refused(
        "takes_effect_too_soon",
        services.withdraw_requirement,
        by=None,
        requirement=make_requirement(),
        withdrawn_from=today(),
        reason="Covered by another",
    )


@pytest.mark.parametrize(
    ("values", "code"),
    [
        pytest.param({"months": None}, "no_limit", id="no period"),
        pytest.param(
            {"subject": Subject.EQUIPMENT}, "kind_needed", id="equipment of no kind"
        ),
        pytest.param({"procedure": None}, "procedure_needed", id="done by nothing"),
    ],
)
def test_a_requirement_that_says_too_little_is_refused(values, code):
    make_procedure()

    refused(code, make_requirement, **values)


def test_a_code_is_given_once():
    make_requirement(code="R-1")

    refused("code_taken", make_requirement, code="R-1")


def test_an_age_limit_needs_no_procedure():
    requirement = make_age_limit()

    held = requirement.revisions.get()

    assert (held.procedure, held.counted_from) == (None, CountedFrom.MADE)


def test_a_matrix_line_keeps_its_tests_when_it_is_revised_and_withdrawn():
    svt, bench = make_procedure(), make_bench_test()
    line = make_matrix_line(procedures=[svt, bench])

    services.revise_matrix_line(
        by=None,
        line=line,
        effective_from=tomorrow(),
        effect=Effect.ISOLATE,
        reason="Two were missed",
    )
    services.withdraw_matrix_line(
        by=None, line=line, withdrawn_from=today() + 9 * DAY, reason="No more of them"
    )

    held = MatrixRevision.objects.in_force(tomorrow()).get()
    assert held.effect == Effect.ISOLATE
    assert [test.procedure for test in held.tests.order_by("pk")] == [svt, bench]
    assert in_force(MatrixRevision, today() + 9 * DAY) == []


def test_a_matrix_line_without_tests_is_refused():
    refused("no_tests", make_matrix_line, procedures=[])


def test_conditions_are_replaced_not_before_tomorrow_and_keep_what_is_not_named():
    make_conditions(usage_silent_days=75)

    refused(
        "takes_effect_too_soon",
        services.set_conditions,
        by=None,
        effective_from=today(),
        source="operator's own",
    )
    services.set_conditions(
        by=None,
        effective_from=tomorrow(),
        source="operator's own",
        unassessed_effect=Effect.STOP,
    )

    held = ConditionsRevision.objects.in_force(tomorrow()).get()
    assert (held.usage_silent_days, held.unassessed_effect) == (75, Effect.STOP)
    assert in_force(ConditionsRevision, today()) == [1]


def test_what_was_in_force_as_known_earlier_can_still_be_read():
    requirement = make_requirement()
    known = number_at(now())
    services.withdraw_requirement(
        by=None,
        requirement=requirement,
        withdrawn_from=tomorrow(),
        reason="Covered by another",
    )

    then = RequirementRevision.objects.known_at(known).get()

    assert then.withdrawn_from is None


@pytest.mark.parametrize(
    "service", [services.revise_requirement, services.withdraw_requirement]
)
def test_a_change_of_policy_needs_a_reason(service):
    requirement = make_requirement()
    date = (
        "effective_from" if service is services.revise_requirement else "withdrawn_from"
    )

    refused(
        "no_reason",
        service,
        by=None,
        requirement=requirement,
        reason=" ",
        **{date: tomorrow()},
    )

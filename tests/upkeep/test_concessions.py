"""Concessions: who may ask, agree and accept, how far one goes, what is refused."""

import datetime as dt

import pytest
import time_machine
from django.core.exceptions import ValidationError

from fleet.defects import services as defects
from fleet.engineering.calendar import Moment
from fleet.people.models import Skill
from fleet.records.models import Entry
from fleet.records.refusing import codes_of
from fleet.register.vocabulary import Effect, EquipmentKind, Scope
from fleet.upkeep import concessions
from fleet.upkeep.concession_grants import (
    agree_concession,
    correct_grant,
    grant_concession,
)
from fleet.upkeep.models import Concession, ConcessionVersion
from fleet.upkeep.rechecks import record_recheck
from tests.defects.factories import person
from tests.people.factories import PersonFactory, make_competence
from tests.register.factories import make_equipment, make_vehicle
from tests.upkeep.factories import (
    make_age_limit,
    make_concession_policy,
    make_requirement,
)

pytestmark = pytest.mark.django_db

TODAY = dt.date(2026, 5, 10)
LAST_GOOD = dt.date(2026, 5, 4)


def ahead(days):
    """A day so many days after today."""
    return TODAY + dt.timedelta(days=days)


@pytest.fixture(autouse=True)
def _today():
    noon = dt.datetime.combine(TODAY, dt.time(12), dt.UTC)
    with time_machine.travel(noon, tick=False):
        yield


@pytest.fixture
def policy(db):
    """The policy of a made-up line."""
    return make_concession_policy()


@pytest.fixture
def entitled(db):
    """Somebody entitled to agree to concessions."""
    found = PersonFactory()
    make_competence(found, skill=Skill.CONCEDE)
    return found


def refused(code, call, /, **values):
    """Call with values; it must be refused with a code, and write nothing."""
    before = Entry.objects.count()
    with pytest.raises(ValidationError) as caught:
        call(**values)
    assert code in codes_of(caught.value)
    assert Entry.objects.count() == before


def wanted(**values):
    """What is asked for the air brake test of a vehicle."""
    values = {
        "by": None,
        "person": person(),
        "on": TODAY,
        "counted_from": LAST_GOOD,
        "since": TODAY,
        "last_day": ahead(20),
        "recheck_days": 14,
        "why": "Shed full.",
        "risk": "Last test well within limits.",
        "condition": "Not as the last vehicle.",
    } | values
    if not {"requirement", "defect"} & set(values):
        values["requirement"] = make_requirement()
        values["vehicle"] = make_vehicle()
    return values


def ask(**values):
    """Ask for it."""
    return concessions.ask_concession(**wanted(**values))


def grant(version, agreed_by, **values):
    """Grant what was asked for."""
    values = {
        "by": None,
        "person": agreed_by,
        "on": TODAY,
        "counted_from": version.counted_from,
    } | values
    return grant_concession(version=version, **values)


def renew(concession, **values):
    """Ask for a renewal on the same terms."""
    said = wanted(requirement=concession.requirement, **values)
    del said["requirement"]
    said |= {"since": values.get("since", ahead(21)), "concession": concession}
    said["last_day"] = values.get("last_day", ahead(40))
    return concessions.ask_renewal(**said)


def test_asked_agreed_and_accepted_it_is_granted_under_the_ceiling_of_the_day(
    policy, entitled
):
    version = grant(ask(), entitled)

    assert version.status_words == "Granted"
    assert (version.ceiling_days, version.agreed_by) == (60, entitled)
    assert version.until == ahead(21)


def test_whoever_agrees_must_be_entitled_that_day(policy):
    lapsed = PersonFactory()
    make_competence(lapsed, skill=Skill.CONCEDE, last_day="2026-05-09")

    refused("not_entitled", grant, version=ask(), agreed_by=lapsed)


def test_whoever_asks_cannot_agree(policy, entitled):
    version = ask(person=entitled)

    refused("asked_for_it", grant, version=version, agreed_by=entitled)


@pytest.mark.parametrize(("days", "fits"), [(60, True), (61, False)])
def test_it_goes_no_further_than_the_ceiling_beyond_the_last_good_day(
    policy, days, fits
):
    said = wanted(last_day=LAST_GOOD + dt.timedelta(days=days))

    if fits:
        assert concessions.ask_concession(**said)
    else:
        refused("beyond_the_ceiling", concessions.ask_concession, **said)


def test_a_requirement_may_set_a_nearer_ceiling_of_its_own(policy):
    near = make_requirement(concession_days=10)
    said = wanted(requirement=near, vehicle=make_vehicle())

    refused("beyond_the_ceiling", concessions.ask_concession, **said)


def test_a_ceiling_lowered_meanwhile_holds_when_it_is_granted(policy, entitled):
    version = ask(last_day=ahead(40))
    make_concession_policy(effective_from=ahead(1), ceiling_days=30)

    with time_machine.travel(dt.datetime(2026, 5, 11, 12, tzinfo=dt.UTC)):
        refused(
            "beyond_the_ceiling",
            grant,
            version=version,
            agreed_by=entitled,
            on=ahead(1),
        )


def test_rechecks_are_no_rarer_than_the_policy_says(policy):
    refused(
        "rechecked_too_seldom", concessions.ask_concession, **wanted(recheck_days=15)
    )


def test_without_a_policy_none_can_be_asked_for():
    refused("no_policy", concessions.ask_concession, **wanted())


def test_what_was_never_done_is_not_extended(policy):
    refused(
        "nothing_to_count_from",
        concessions.ask_concession,
        **wanted(counted_from=None),
    )


def test_none_is_granted_for_what_the_operator_excepts(policy):
    hose = wanted(
        requirement=make_age_limit(), equipment=make_equipment(EquipmentKind.BP_HOSE)
    )
    vessel = wanted(
        requirement=make_age_limit(
            EquipmentKind.AUXILIARY_RESERVOIR, scope=Scope.AIR_BRAKE
        ),
        equipment=make_equipment(EquipmentKind.AUXILIARY_RESERVOIR),
    )

    refused("never_granted", concessions.ask_concession, **hose)
    refused("never_granted", concessions.ask_concession, **vessel)


def test_it_is_renewed_so_often_and_no_more(policy, entitled):
    first = grant(ask(), entitled)
    again = grant(renew(first.concession), entitled)

    assert again.renewal == 1
    refused(
        "no_more_renewals",
        renew,
        concession=first.concession,
        since=ahead(41),
        last_day=ahead(50),
    )


def test_a_second_concession_is_no_way_round_the_renewals(policy, entitled):
    first = grant(ask(), entitled)
    of = first.concession

    refused(
        "renew_instead",
        concessions.ask_concession,
        **wanted(requirement=of.requirement, vehicle=of.vehicle),
    )


def test_after_the_work_was_done_a_new_one_may_be_asked_for(policy, entitled):
    of = grant(ask(), entitled).concession
    next_year = LAST_GOOD.replace(year=2027)

    with time_machine.travel(dt.datetime(2027, 5, 10, 12, tzinfo=dt.UTC)):
        anew = ask(
            requirement=of.requirement,
            vehicle=of.vehicle,
            on=next_year,
            counted_from=next_year,
            since=next_year,
            last_day=next_year + dt.timedelta(days=20),
        )

    assert anew.concession != of


def test_a_renewal_begins_when_the_grant_before_it_has_ended(policy, entitled):
    first = grant(ask(), entitled)

    refused(
        "before_the_last_one_ends",
        renew,
        concession=first.concession,
        since=ahead(20),
    )


def test_refused_it_may_be_asked_for_again_and_both_stay_on_record(policy):
    version = ask()
    concessions.refuse_concession(
        by=None, person=person(), version=version, on=TODAY, reason="Do it on Monday"
    )

    again = renew(version.concession, since=TODAY, last_day=ahead(5))

    assert (again.renewal, again.status_words) == (0, "Asked for")
    assert version.concession.versions.count() == 3


def test_decided_once_it_is_decided(policy, entitled):
    version = grant(ask(), entitled)

    refused("not_asked", grant, version=version, agreed_by=entitled)
    refused(
        "not_asked",
        concessions.refuse_concession,
        by=None,
        person=person(),
        version=version,
        on=TODAY,
        reason="Second thoughts",
    )


def test_granted_late_it_does_not_reach_back(policy, entitled):
    version = ask(on=ahead(-4), since=ahead(-4))

    assert grant(version, entitled).since == TODAY


def test_it_can_be_withdrawn_from_today_at_the_earliest(policy, entitled):
    version = grant(ask(), entitled)
    withdrawing = {"by": None, "version": version, "reason": "Found worse"}

    refused(
        "not_within_it",
        concessions.withdraw_concession,
        withdrawn_from=ahead(-1),
        **withdrawing,
    )
    ended = concessions.withdraw_concession(withdrawn_from=ahead(2), **withdrawing)

    assert ended.until == ahead(2)


def test_a_recheck_falls_within_the_days_it_runs(policy, entitled):
    version = grant(ask(on=ahead(-4), since=ahead(-4)), entitled, on=ahead(-3))
    looking = {
        "by": None,
        "person": person(),
        "concession": version.concession,
        "holds": True,
        "found": "No worse",
    }

    refused("not_within_it", record_recheck, on=ahead(-4), **looking)
    refused("in_the_future", record_recheck, on=ahead(1), **looking)
    assert record_recheck(on=ahead(-1), **looking)


def slack(scope=Scope.HAND_BRAKE, effect=Effect.DISCOUNT, **values):
    """A defect of a vehicle, found the day before yesterday."""
    return defects.raise_defect(
        by=None,
        person=person(),
        title="Handbrake chain stretched",
        on=Moment.on(ahead(-2)),
        vehicle=make_vehicle(),
        scope=scope,
        effect=effect,
        **values,
    )


def test_a_defect_is_counted_from_the_day_it_was_found(policy):
    version = ask(defect=slack(), counted_from=None)

    assert version.counted_from == ahead(-2)
    assert version.concession.vehicle == version.concession.defect.vehicle


@pytest.mark.parametrize(
    ("values", "code"),
    [
        pytest.param({"effect": None}, "not_assessed", id="nobody assessed it"),
        pytest.param(
            {"scope": Scope.VACUUM_TRAIN_PIPE, "effect": Effect.STOP},
            "through_pipe_stops",
            id="through pipe",
        ),
        pytest.param(
            {"effect": Effect.CONDITION, "condition": "Not alone."},
            "nothing_to_concede",
            id="a condition already",
        ),
    ],
)
def test_a_defect_that_cannot_be_conceded_is_refused(policy, values, code):
    refused(
        code,
        concessions.ask_concession,
        **wanted(defect=slack(**values), counted_from=None),
    )


@pytest.mark.parametrize("field", ["why", "risk", "condition"])
def test_what_it_rests_on_must_be_written_down(policy, field):
    refused("no_words", concessions.ask_concession, **wanted(**{field: "  "}))
    assert not Concession.objects.exists()
    assert not ConcessionVersion.objects.exists()


def test_what_a_renewal_rests_on_is_not_retracted_before_it(policy, entitled):
    first = grant(ask(), entitled)
    again = grant(renew(first.concession), entitled)

    refused(
        "later_one_recorded",
        concessions.retract_concession,
        by=None,
        version=first,
        reason="Wrong vehicle",
    )
    concessions.retract_concession(by=None, version=again, reason="Wrong vehicle")
    concessions.retract_concession(by=None, version=first, reason="Wrong vehicle")

    refused("retracted", renew, concession=first.concession)


def agree(version, who, **values):
    """Sign as somebody entitled."""
    values = {"by": None, "person": who, "on": TODAY} | values
    return agree_concession(version=version, **values)


def correct(version, who, **values):
    """Put a grant right."""
    values = {"by": None, "person": who, "reason": "Misread the sheet"} | values
    return correct_grant(version=version, **values)


def test_one_agrees_and_another_accepts_each_by_their_own_hand(policy, entitled):
    chief = person()

    refused("not_entitled", grant, version=ask(), agreed_by=chief)
    granted = grant(agree(ask(), entitled), chief)

    assert (granted.agreed_by, granted.accepted_by) == (entitled, chief)


def test_whoever_asks_neither_agrees_nor_accepts_nor_corrects(policy, entitled):
    asker = PersonFactory()
    make_competence(asker, skill=Skill.CONCEDE)
    asked = ask(person=asker)

    refused("asked_for_it", agree, version=asked, who=asker)
    agreed = agree(asked, entitled)
    refused("asked_for_it", grant, version=agreed, agreed_by=asker)
    refused("asked_for_it", correct, version=grant(agreed, entitled), who=asker)


def test_it_is_agreed_to_once(policy, entitled):
    agreed = agree(ask(), entitled)

    refused("agreed_already", agree, version=agreed, who=entitled)


def test_a_grant_put_right_keeps_both_versions(policy, entitled):
    granted = grant(ask(), entitled)

    corrected = correct(granted, entitled, last_day=ahead(10), condition="Empty only.")

    assert (corrected.last_day, corrected.condition) == (ahead(10), "Empty only.")
    assert (corrected.replaces, corrected.reason) == (granted, "Misread the sheet")
    assert (corrected.agreed_by, corrected.decided_on) == (entitled, TODAY)
    assert ConcessionVersion.objects.granted().get() == corrected


@pytest.mark.parametrize(
    ("values", "code"),
    [
        pytest.param({"last_day": ahead(55)}, "beyond_the_ceiling", id="ceiling"),
        pytest.param({"recheck_days": 15}, "rechecked_too_seldom", id="re-checks"),
        pytest.param({"since": ahead(-1)}, "before_it_was_granted", id="too early"),
        pytest.param({"last_day": ahead(-1)}, "ends_before_it_begins", id="reversed"),
        pytest.param({"decided_on": ahead(1)}, "in_the_future", id="future"),
        pytest.param({"why": "Shed full."}, "nothing_changed", id="the same"),
        pytest.param({"risk": "None", "reason": " "}, "no_reason", id="no reason"),
    ],
)
def test_a_correction_is_held_to_the_terms_it_was_granted_on(
    policy, entitled, values, code
):
    refused(code, correct, version=grant(ask(), entitled), who=entitled, **values)


def test_only_what_was_granted_is_corrected_by_somebody_entitled(policy, entitled):
    asked = ask()

    refused("not_granted", correct, version=asked, who=entitled, last_day=ahead(10))
    granted = grant(asked, entitled)
    refused("not_entitled", correct, version=granted, who=person(), last_day=ahead(9))


def test_a_correction_is_judged_by_the_policy_of_the_day_it_was_granted(
    policy, entitled
):
    granted = grant(ask(recheck_days=10), entitled)
    make_concession_policy(effective_from=ahead(1), recheck_days=5)

    with time_machine.travel(dt.datetime(2026, 5, 12, 12, tzinfo=dt.UTC)):
        corrected = correct(granted, entitled, recheck_days=14)

    assert corrected.recheck_days == 14


def test_a_correction_does_not_reach_into_the_renewal(policy, entitled):
    first = grant(ask(), entitled)
    second = grant(renew(first.concession), entitled)

    refused(
        "over_another_grant", correct, version=first, who=entitled, last_day=ahead(21)
    )
    refused(
        "over_another_grant", correct, version=second, who=entitled, since=ahead(20)
    )

"""Counter-signing a test done by somebody who was not competent that day."""

from fleet.engineering.calendar import Moment, Order, order_of
from fleet.examination.flags import flags_of
from fleet.examination.models import CounterSignature, TestRecord
from fleet.people.competence import competent_on
from fleet.people.models import Person, Skill, User
from fleet.records.deeds import announce, deed
from fleet.records.moments import refuse_future, refuse_unknown
from fleet.records.refusing import refusing
from fleet.records.versions import open_version, retract_version


def counter_sign(
    *,
    by: User | None,
    record: TestRecord,
    person: Person,
    on: Moment,
    remark: str = "",
) -> CounterSignature:
    """
    Sign, as somebody competent, for a test done by one who was not.

    The signature is to the record as it stands: corrected, it wants another. Raises
    ValidationError: `already_superseded`, `not_needed`, `already_signed`,
    `somebody_else_needed`, `not_competent`, `before_the_test`, `in_the_future`.
    """
    refuse_unknown(on, "on")
    refuse_future(on, "on")
    locking = (record.vehicle, record.equipment, record.test)
    with deed("examination.counter_sign", by=by, locking=locking) as entry:
        _refuse_record(record)
        _refuse_signer(record, person, on)
        skill = record.procedure_revision.skill
        competence = competent_on(person, skill, on)
        if competence is None:
            words = Skill(skill).label.lower()
            raise refusing(
                f"{person} held no competence for {words} on {on}. Somebody who does "
                "must counter-sign.",
                code="not_competent",
            )
        signature: CounterSignature = open_version(
            CounterSignature,
            entry=entry,
            test=record.test,
            by=person,
            competence=competence,
            on=on,
            remark=remark.strip(),
        )
        announce(record.vehicle, record.equipment)
        return signature


def retract_signature(
    *, by: User | None, signature: CounterSignature, record: TestRecord, reason: str
) -> CounterSignature:
    """Take a counter-signature back; it stays to be seen, and the test wants another."""
    locking = (record.vehicle, record.equipment, signature.test)
    with deed("examination.retract_signature", by=by, locking=locking) as entry:
        retracted = retract_version(signature, entry=entry, reason=reason)
        announce(record.vehicle, record.equipment)
        return retracted


def _refuse_record(record: TestRecord) -> None:
    if not TestRecord.objects.current().filter(pk=record.pk).exists():
        raise refusing(
            "This record has been corrected or retracted meanwhile. Look at the newest.",
            code="already_superseded",
        )
    flags = flags_of([record])[record.pk]
    if not flags.lacking:
        raise refusing(
            "Whoever did this test was competent, or no competence is asked for.",
            code="not_needed",
        )
    if flags.signed is not None:
        raise refusing(
            f"{flags.signed.by} counter-signed it on {flags.signed.on}.",
            code="already_signed",
        )


def _refuse_signer(record: TestRecord, person: Person, on: Moment) -> None:
    if person.pk == record.done_by_id:
        raise refusing(
            "Nobody counter-signs a test of their own. Ask somebody else who is "
            "competent.",
            code="somebody_else_needed",
        )
    if order_of(on, record.on) is Order.BEFORE:
        raise refusing(
            f"The test was done on {record.on}; it cannot be signed for before that.",
            code="before_the_test",
            field="on",
        )

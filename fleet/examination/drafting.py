"""What people do with drafts: begin, write, throw away, approve."""

import datetime as dt
from collections.abc import Mapping, Sequence
from typing import Any

from django.db import transaction

from fleet.engineering.calendar import Moment
from fleet.examination.drafts import (
    changes_in,
    content_of,
    effective_in,
    head_in,
    last_revision,
    lines_in,
    unsaved_lines,
)
from fleet.examination.lines import one_line, refuse_unknown_keys
from fleet.examination.models import Procedure, ProcedureDraft, ProcedureRevision
from fleet.examination.services import define_procedure, revise_procedure
from fleet.people.competence import competent_on, competent_persons
from fleet.people.models import Person, Skill, User
from fleet.records.clock import now, today
from fleet.records.deeds import deed
from fleet.records.refusing import refusing

TAKEN = frozenset({"drafts", "new", "without-criterion"})  # addresses of pages


def begin_revision(*, person: Person, procedure: Procedure) -> ProcedureDraft:
    """Begin the next revision from the newest; go on with a draft already begun."""
    with transaction.atomic():
        begun = ProcedureDraft.objects.filter(procedure=procedure).first()
        if begun is not None:
            return begun
        last = procedure.revisions.current().latest("number")
        return _keep(
            ProcedureDraft(
                procedure=procedure,
                code=procedure.code,
                content=content_of(last),
                drafted_by=person,
            ),
            person,
        )


def begin_procedure(
    *, person: Person, code: str, title: str, subject: str, source: str, kind: str = ""
) -> ProcedureDraft:
    """Begin a procedure that is new; refuses a code in use, keyed `code`."""
    taken = Procedure.objects.filter(code=code).exists()
    if taken or code in TAKEN or ProcedureDraft.objects.filter(code=code).exists():
        raise refusing(
            f"The code {code} is in use. Choose another.",
            code="code_taken",
            field="code",
        )
    content = {
        "title": title,
        "subject": subject,
        "kind": kind,
        "scopes": [],
        "cautions": [],
        "skill": "",
        "source": source,
        "effective_from": "",
        "lines": [],
    }
    return _keep(ProcedureDraft(code=code, content=content, drafted_by=person), person)


def write_head(
    *,
    person: Person,
    draft: ProcedureDraft,
    reason: str = "",
    effective_from: dt.date | None = None,
    **head: Any,
) -> ProcedureDraft:
    """
    Write what stands beside the lines: title, source, scopes, cautions, skill.

    What a procedure is carried out on is its own for good, and is not written here.
    """
    refuse_unknown_keys(head.get("scopes", ()), head.get("cautions", ()))
    draft.reason = reason.strip()
    day = effective_from.isoformat() if effective_from else ""
    draft.content = draft.content | head | {"effective_from": day}
    return _keep(draft, person)


def write_line(
    *,
    person: Person,
    draft: ProcedureDraft,
    values: Mapping[str, Any],
    number: int | None = None,
) -> ProcedureDraft:
    """
    Write line `number` (from 1) anew, or, without a number, add one at the end.

    Raises ValidationError keyed `lines` if the line is wrong by itself; how it sits
    with the others is looked at on approval and shown until then.
    """
    lines = lines_in(draft)
    place = len(lines) if number is None else _index(lines, number)
    one_line(place + 1, values)
    lines[place : place + 1] = [dict(values)]
    return _relined(draft, lines, person)


def remove_line(
    *, person: Person, draft: ProcedureDraft, number: int
) -> ProcedureDraft:
    """Take a line out of a draft."""
    lines = lines_in(draft)
    del lines[_index(lines, number)]
    return _relined(draft, lines, person)


def move_line(
    *, person: Person, draft: ProcedureDraft, number: int, by: int
) -> ProcedureDraft:
    """Move a line up (by -1) or down (by 1); at the edge it stays where it is."""
    lines = lines_in(draft)
    line = lines.pop(_index(lines, number))
    lines.insert(max(0, number - 1 + by), line)
    return _relined(draft, lines, person)


def throw_away(*, draft: ProcedureDraft) -> None:
    """Throw a draft away: it is no fact yet."""
    draft.delete()


def approve_draft(
    *, by: User | None, person: Person, draft: ProcedureDraft
) -> ProcedureRevision:
    """
    Make a draft the next revision from its day on, approved by somebody else.

    Refuses, in this order: a draft somebody wrote in since it was read
    (`changed_meanwhile`), a person who wrote in it (`same_person`), one without the
    competence where competences are kept (`not_competent`), no day (`no_day`), lines
    that are wrong, no reason where something is removed or weakened (`no_reason`), a
    day before tomorrow (`too_soon`).
    """
    with deed("examination.approve_draft", by=by, policy=True):
        _refuse_changed(draft)
        _refuse_approver(draft, person)
        day = effective_in(draft)
        if day is None:
            raise refusing(
                "Say from which day it holds.", code="no_day", field="effective_from"
            )
        last = last_revision(draft)
        changes = changes_in(draft, unsaved_lines(draft), last)
        if changes.asks_less and not draft.reason:
            raise refusing(
                "It takes out or weakens something. Say why before it is approved.",
                code="no_reason",
                field="reason",
            )
        revision = _bring_in(draft, by=by, person=person, day=day)
        draft.delete()
        return revision


def writers_of(draft: ProcedureDraft) -> list[Person]:
    """Return everybody who wrote in a draft."""
    return list(Person.objects.filter(pk__in=draft.content.get("written_by", [])))


def _bring_in(
    draft: ProcedureDraft, *, by: User | None, person: Person, day: dt.date
) -> ProcedureRevision:
    head = head_in(draft)
    common: dict[str, Any] = {
        "by": by,
        "effective_from": day,
        "lines": lines_in(draft),
        "drafted_by": draft.drafted_by,
        "approved_by": person,
    }
    if draft.procedure is not None:
        fixed = {"subject", "kind"}
        values = {name: value for name, value in head.items() if name not in fixed}
        reason = draft.reason or "No line asks less than before."
        return revise_procedure(
            procedure=draft.procedure, reason=reason, **values, **common
        )
    if day <= today():
        raise refusing(
            "A new procedure takes effect tomorrow or later.",
            code="too_soon",
            field="effective_from",
        )
    made = define_procedure(code=draft.code, **head, **common)
    revision: ProcedureRevision = made.revisions.get()
    return revision


def _refuse_changed(draft: ProcedureDraft) -> None:
    held = ProcedureDraft.objects.filter(pk=draft.pk, changed_at=draft.changed_at)
    if not held.exists():
        raise refusing(
            "The draft was changed, approved or thrown away meanwhile. Look at it again.",
            code="changed_meanwhile",
        )


def _refuse_approver(draft: ProcedureDraft, person: Person) -> None:
    if person.pk in {draft.drafted_by_id, *draft.content.get("written_by", [])}:
        raise refusing(
            "You wrote in this draft. Somebody else looks it through and approves it.",
            code="same_person",
        )
    day = Moment.on(today())
    kept = competent_persons(Skill.APPROVE, day)
    if kept and competent_on(person, Skill.APPROVE, day) is None:
        names = ", ".join(other.name for other in kept)
        raise refusing(
            f"You hold no competence to approve procedures today. These do: {names}.",
            code="not_competent",
        )


def _index(lines: Sequence[Any], number: int) -> int:
    if not 1 <= number <= len(lines):
        raise refusing(
            "The draft has no such line any more. Look at it again.",
            code="no_such_line",
        )
    return number - 1


def _relined(
    draft: ProcedureDraft, lines: list[dict[str, Any]], person: Person
) -> ProcedureDraft:
    draft.content = draft.content | {"lines": lines}
    return _keep(draft, person)


def _keep(draft: ProcedureDraft, person: Person) -> ProcedureDraft:
    """Save a draft, and remember whose hand was in it."""
    hands = {*draft.content.get("written_by", []), person.pk}
    draft.content = draft.content | {"written_by": sorted(hands)}
    draft.changed_at = now()
    draft.full_clean()
    draft.save()
    return draft

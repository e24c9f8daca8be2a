"""The next revision of the policy while it is written: its content, what it changes."""

import datetime as dt
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from django.db import models

from fleet.defects.models import ClearingPolicy
from fleet.defects.services.policy import CLEARING_FIELDS
from fleet.examination.models import Procedure
from fleet.examination.revisions import Changes, Turn
from fleet.people.models import Person
from fleet.register.vocabulary import Effect, EquipmentKind, Scope
from fleet.upkeep.labels import LABELS
from fleet.upkeep.models import (
    ConcessionPolicy,
    ConditionsRevision,
    MatrixLine,
    MatrixRevision,
    PolicyDraft,
    Requirement,
    RequirementRevision,
)
from fleet.upkeep.services import (
    CONCESSION_FIELDS,
    CONDITIONS_FIELDS,
    MATRIX_FIELDS,
    REQUIREMENT_FIELDS,
)
from fleet.upkeep.vocabulary import PolicyKind

# Where a greater number, or none at all, asks less of the operator.
_LIMITS = frozenset(
    {
        "months",
        "calendar_days",
        "days_in_service",
        "miles",
        "usage_silent_days",
        "force_fall_percent",
    }
)
_ALLOWANCES = frozenset(
    {
        "tolerance_days",
        "concession_days",
        "storage_days_needing_tests",
        "ceiling_days",
        "most_renewals",
        "recheck_days",
        "recurrence_count",
    }
)
# How far or how long before something counts: the less, the weaker; none: never.
_REACHES = frozenset({"recurrence_days", "cock_repeat_days", "storage_credit_days"})

# What is named: the more, the stricter.
_NAMED: Mapping[str, Any] = {
    "never_scopes": Scope,
    "never_kinds": EquipmentKind,
    "independent_scopes": Scope,
}


@dataclass(frozen=True, slots=True)
class Sort:
    """What of the policy a draft revises: its tables, and what a revision holds."""

    identity: Any  # its model; None: there is only one of them
    revision: Any
    fields: tuple[str, ...]

    @property
    def names(self) -> str:
        """Return the field of a revision that names its identity, "" for none."""
        return str(self.revision.belongs_to)


SORTS: Mapping[str, Sort] = {
    PolicyKind.REQUIREMENT: Sort(Requirement, RequirementRevision, REQUIREMENT_FIELDS),
    PolicyKind.MATRIX: Sort(MatrixLine, MatrixRevision, MATRIX_FIELDS),
    PolicyKind.CONDITIONS: Sort(None, ConditionsRevision, CONDITIONS_FIELDS),
    PolicyKind.CONCESSIONS: Sort(None, ConcessionPolicy, CONCESSION_FIELDS),
    PolicyKind.CLEARING: Sort(None, ClearingPolicy, CLEARING_FIELDS),
}


def sort_of(draft: PolicyDraft) -> Sort:
    """Return what of the policy a draft revises."""
    return SORTS[draft.kind]


def identity_of(draft: PolicyDraft) -> Any:
    """Return what a draft revises; None where it is new, or the only one."""
    model = sort_of(draft).identity
    return model and model._base_manager.filter(code=draft.code).first()


def revisions_of(kind: str, code: str) -> Any:
    """Return the revisions held true of one part of the policy, the newest first."""
    sort = SORTS[kind]
    revisions = sort.revision.objects.newest_first()
    return (
        revisions.filter(**{f"{sort.names}__code": code}) if sort.names else revisions
    )


def last_revision(draft: PolicyDraft) -> Any:
    """Return the revision a draft follows; None: it is new."""
    return revisions_of(draft.kind, draft.code).first()


def content_of(kind: str, revision: Any) -> dict[str, Any]:
    """Return a revision as plain values, procedures by their codes."""
    content = {name: getattr(revision, name) for name in SORTS[kind].fields}
    if "procedure" in content:
        named = content["procedure"]
        content["procedure"] = named.code if named else ""
    if kind == PolicyKind.MATRIX:
        tests = revision.tests.select_related("procedure").order_by("pk")
        content["procedures"] = [test.procedure.code for test in tests]
    return content


def values_in(draft: PolicyDraft) -> dict[str, Any]:
    """Return the content of a draft as services take it."""
    values = dict(draft.content)
    if "procedure" in values:
        values["procedure"] = Procedure.objects.filter(
            code=values["procedure"] or ""
        ).first()
    if "procedures" in values:
        found = {p.code: p for p in Procedure.objects.all()}
        values["procedures"] = [
            found[code] for code in values["procedures"] if code in found
        ]
    return values


def supposed(draft: PolicyDraft, day: dt.date) -> Any:
    """
    Return the revision a draft would become, not saved, in force from a day.

    Of a matrix line, `asked` are the codes of its procedures.
    """
    sort, last = sort_of(draft), last_revision(draft)
    values = values_in(draft)
    asked = [procedure.code for procedure in values.pop("procedures", ())]
    if sort.names and sort.identity:
        values[sort.names] = identity_of(draft) or sort.identity(code=draft.code)
    number = (last.number if last else 0) + 1
    revision = sort.revision(number=number, effective_from=day, **values)
    revision.asked = asked
    return revision


def writers_of(draft: PolicyDraft) -> list[Person]:
    """Return everybody who wrote in a draft."""
    return list(Person.objects.filter(pk__in=draft.written_by))


def changes_in(draft: PolicyDraft) -> Changes:
    """Return what a draft changes against the newest revision, in sentences."""
    last = last_revision(draft)
    if draft.withdraws:
        return Changes(removed=(f"{last or draft.code}: withdrawn",))
    if last is None:
        titles = draft.content.get("title") or draft.code
        return Changes(added=(f"{titles}: new",))
    told = list(_differences(draft, content_of(draft.kind, last)))
    return Changes(
        weakened=tuple(words for turn, words in told if turn is Turn.WEAKER),
        tightened=tuple(words for turn, words in told if turn is Turn.TIGHTER),
        altered=tuple(words for turn, words in told if turn is Turn.OTHER),
    )


def _differences(
    draft: PolicyDraft, before: Mapping[str, Any]
) -> Iterator[tuple[Turn, str]]:
    for name, was in before.items():
        now = draft.content.get(name)
        if now != was:
            old, new = (words_of(draft.kind, name, value) for value in (was, now))
            label = label_of(draft.kind, name)
            yield _turn(name, was, now), f"{label}: was {old}, now {new}"


def label_of(kind: str, name: str) -> str:
    """Return what a value of a revision is called on pages."""
    given = LABELS[kind].get(name)
    words = given or str(_field(kind, name).verbose_name)
    return words[:1].upper() + words[1:]


def words_of(kind: str, name: str, value: Any) -> str:
    """Return a value of a revision as pages write it."""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if value is None or value in ("", []):
        return "none"
    known = _NAMED.get(name)
    if known is not None:
        return ", ".join(known(word).label.lower() for word in value)
    if isinstance(value, Sequence) and not isinstance(value, str):
        return ", ".join(map(str, value))
    field = None if name == "procedures" else _field(kind, name)
    choices = dict(field.flatchoices) if isinstance(field, models.Field) else {}
    return str(choices.get(value, value))


def _field(kind: str, name: str) -> Any:
    return SORTS[kind].revision._meta.get_field(name)


def _turn(name: str, was: Any, now: Any) -> Turn:
    """Say whether a change of a value asks less or more."""
    if name in _NAMED:
        return Turn.TIGHTER if set(was) < set(now) else Turn.WEAKER
    before, after = _ease(name, was), _ease(name, now)
    if before is None or after is None:
        return Turn.OTHER
    return Turn.WEAKER if before < after else Turn.TIGHTER


def _ease(name: str, value: Any) -> float | None:
    """Return how little a value asks, to be compared with another; None: neither way."""
    if name == "release_needed_from":
        return Effect(value).weight
    if name.endswith("effect"):
        return -Effect(value).weight
    if name in _LIMITS:
        return value or float("inf")
    if name in _ALLOWANCES:
        return value or 0
    if name in _REACHES:
        return float("-inf") if value is None else -value
    return None

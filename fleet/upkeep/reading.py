"""The policy as its pages show it: each part with all its revisions, and its drafts."""

import datetime as dt
from dataclasses import dataclass
from typing import Any

from fleet.upkeep.drafts import SORTS, label_of, words_of
from fleet.upkeep.models import PolicyDraft
from fleet.upkeep.vocabulary import PolicyKind

# Shown apart from the rest: they lead a page or stand in the list of revisions.
_ELSEWHERE = ("title", "source")


@dataclass(frozen=True, slots=True)
class Part:
    """A part of the policy: its newest revisions, and whether a draft is open."""

    code: str
    newest: Any
    in_force: Any  # None: not yet, or no longer
    draft: PolicyDraft | None

    @property
    def standing(self) -> str:
        """Return how it stands, in words."""
        if self.in_force is not None:
            ends = self.in_force.withdrawn_from
            return f"in force, withdrawn from {ends:%-d %b %Y}" if ends else "in force"
        if self.newest.withdrawn_from:
            return f"withdrawn from {self.newest.withdrawn_from:%-d %b %Y}"
        return f"comes into force on {self.newest.effective_from:%-d %b %Y}"


def parts(kind: str, day: dt.date) -> list[Part]:
    """Return every part of one kind, by code: three queries."""
    sort = SORTS[kind]
    related = (f"{sort.names}", *(("procedure",) if "procedure" in sort.fields else ()))
    newest: dict[str, Any] = {}
    revisions = sort.revision.objects.current().select_related(*related)
    for revision in revisions.order_by(f"{sort.names}__code", "number"):
        newest[getattr(revision, sort.names).code] = revision
    ruling = {
        getattr(revision, sort.names).code: revision
        for revision in sort.revision.objects.in_force(day).select_related(*related)
    }
    drafts = {draft.code: draft for draft in PolicyDraft.objects.filter(kind=kind)}
    return [
        Part(code, revision, ruling.get(code), drafts.get(code))
        for code, revision in newest.items()
    ]


def alone() -> list[tuple[str, str, Any]]:
    """Return what there is only one of: kind, words, newest revision or None."""
    return [
        (kind.value, kind.label, SORTS[kind].revision.objects.newest_first().first())
        for kind in PolicyKind
        if kind.alone
    ]


def lines_of(kind: str, revision: Any) -> list[tuple[str, str]]:
    """Return what a revision holds: pairs of label and value, in words."""
    told = []
    for name in SORTS[kind].fields:
        if name in _ELSEWHERE:
            continue
        value = getattr(revision, name)
        if value not in (None, ""):
            told.append((label_of(kind, name), words_of(kind, name, value)))
    if kind == PolicyKind.MATRIX:
        tests = revision.tests.select_related("procedure").order_by("pk")
        asked = ", or ".join(test.procedure.code for test in tests)
        told.append((label_of(kind, "procedures"), asked))
    return told

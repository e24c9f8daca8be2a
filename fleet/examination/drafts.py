"""The next revision of a procedure while it is written: its content, and what it changes."""

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from django.core.exceptions import ValidationError

from fleet.examination.judging import plain
from fleet.examination.lines import one_line, procedure_lines
from fleet.examination.models import (
    ProcedureDraft,
    ProcedureLine,
    ProcedureRevision,
)
from fleet.examination.revisions import Changes, changes_between, changes_of

# What stands in a draft beside its lines, as `define_procedure` takes it.
HEAD = ("title", "subject", "kind", "scopes", "cautions", "skill", "source")
LINE = (
    "text",
    "kind",
    "quantity",
    "unit",
    "low",
    "high",
    "criterion",
    "choices",
    "repeat",
    "stage",
    "finds",
    "reads_at",
    "condemned",
    "scope",
    "effect_failed",
    "required",
    "source",
)
NUMBERS = ("low", "high", "condemned", "reads_at")


@dataclass(frozen=True, slots=True)
class DraftLine:
    """A line of a draft in the words of a page."""

    number: int
    asked: str
    criterion: str
    repeat: str
    scope: str
    effect: str
    required: bool


@dataclass(frozen=True, slots=True)
class DraftSheet:
    """A draft as a page shows it: its lines, what it changes, what is still wrong."""

    lines: tuple[DraftLine, ...]
    changes: Changes | None
    problems: tuple[str, ...]
    last: ProcedureRevision | None  # the revision it follows
    day: dt.date | None  # from which it is to hold


def content_of(revision: ProcedureRevision) -> dict[str, Any]:
    """Return a revision as the content a draft starts from."""
    head = {name: getattr(revision, name) for name in HEAD}
    lines = [line_values(line) for line in revision.lines.all()]
    return head | {"effective_from": "", "lines": lines}


def line_values(line: ProcedureLine) -> dict[str, Any]:
    """Return a line as plain values, numbers as text."""
    values = {name: getattr(line, name) for name in LINE}
    return values | {name: plain(values[name]) for name in NUMBERS}


def lines_in(draft: ProcedureDraft) -> list[dict[str, Any]]:
    """Return the lines of a draft, in order."""
    return list(draft.content.get("lines", []))


def effective_in(draft: ProcedureDraft) -> dt.date | None:
    """Return the day a draft is meant to take effect; None: not said yet."""
    text = draft.content.get("effective_from") or ""
    return dt.date.fromisoformat(text) if text else None


def head_in(draft: ProcedureDraft) -> dict[str, Any]:
    """Return what stands in a draft beside its lines."""
    return {name: draft.content[name] for name in HEAD if name in draft.content}


def last_revision(draft: ProcedureDraft) -> ProcedureRevision | None:
    """Return the revision a draft follows; None: the procedure is new."""
    if draft.procedure is None:
        return None
    revisions = draft.procedure.revisions.current().prefetch_related("lines")
    found: ProcedureRevision | None = revisions.order_by("-number").first()
    return found


def unsaved_lines(draft: ProcedureDraft) -> list[ProcedureLine]:
    """Return the lines of a draft as they would be kept; may refuse, naming the line."""
    return procedure_lines(lines_in(draft), draft.content["subject"])


def changes_in(
    draft: ProcedureDraft,
    lines: Sequence[ProcedureLine],
    last: ProcedureRevision | None,
) -> Changes:
    """Return what a draft changes; of a new procedure every line is brought in."""
    if last is None:
        return changes_between((), lines)
    return changes_of(last, ProcedureRevision(**head_in(draft)), lines)


def read_draft(draft: ProcedureDraft) -> DraftSheet:
    """Return a draft as a page shows it; a wrong line hides the changes and is named."""
    rows = enumerate(lines_in(draft), start=1)
    lines = tuple(_shown(one_line(number, values)) for number, values in rows)
    last, day = last_revision(draft), effective_in(draft)
    try:
        kept = unsaved_lines(draft)
    except ValidationError as refusal:
        return DraftSheet(lines, None, tuple(refusal.messages), last, day)
    return DraftSheet(lines, changes_in(draft, kept, last), (), last, day)


def _shown(line: ProcedureLine) -> DraftLine:
    return DraftLine(
        number=line.order,
        asked=line.asked,
        criterion=line.criterion_words,
        repeat=line.get_repeat_display() if line.repeat else "",
        scope=line.get_scope_display(),
        effect=line.get_effect_failed_display(),
        required=line.required,
    )

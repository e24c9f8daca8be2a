"""From a page to a record: one submission, one test, whatever happens on the way."""

import uuid
from collections.abc import Callable
from typing import Any

from django.core.exceptions import ValidationError
from django.db.models import QuerySet

from fleet.engineering.calendar import Moment
from fleet.examination.models import ProcedureRevision, TestRecord
from fleet.examination.services import revision_in_force
from fleet.records.deeds import AlreadyRecorded, submitted

OTHER_LINES = (
    "On that day revision {} of the procedure was in force. Its lines are shown now, "
    "with what was already typed into lines that read the same. Look them through, then "
    "record again."
)


def once(submission: uuid.UUID, save: Callable[[], TestRecord]) -> TestRecord:
    """Save under a submission's number; sent twice, the record it became comes back."""
    try:
        with submitted(uuid=submission):
            return save()
    except AlreadyRecorded as already:
        found: TestRecord = TestRecord.objects.get(opened_by=already.entry)
        return found


def other_revision(shown: ProcedureRevision, on: Moment) -> ProcedureRevision | None:
    """Return the revision that should have been shown for a day, if another was."""
    if on.latest is None:
        return None
    try:
        right = revision_in_force(shown.procedure, on.latest)
    except ValidationError:
        return None  # the service refuses the day, with its sentence
    return right if right.pk != shown.pk else None


def shown_revision(
    revisions: "QuerySet[ProcedureRevision]", posted: Any, otherwise: ProcedureRevision
) -> ProcedureRevision:
    """Return the revision whose lines a page was sent with."""
    if not str(posted or "").isdigit():
        return otherwise
    found = revisions.filter(pk=int(posted)).first()
    return found or otherwise

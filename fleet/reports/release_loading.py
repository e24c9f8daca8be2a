"""What the paper of a release is decided from, read in a fixed number of queries."""

from collections.abc import Sequence

from django.db.models import Q

from fleet.defects.clearing import clearing_on
from fleet.defects.models import DefectStep, WorkInHand
from fleet.defects.signing import lacks
from fleet.engineering.calendar import Moment, Order, order_of
from fleet.examination.flags import flags_of
from fleet.examination.models import TestRecord
from fleet.register.vocabulary import Scope
from fleet.reports.release import LoadedRelease, ReleaseSheet, release_sheet, releasing
from fleet.reports.sheet import Printed
from fleet.reports.subject import subject_of


def release_of(work: int, *, printed: Printed) -> ReleaseSheet | None:
    """Return the paper of a signed release as it is recorded now; None: there is none."""
    signed = WorkInHand.objects.current().released().filter(pk=work)
    row = signed.select_related(
        "vehicle",
        "defect",
        "done_by",
        "released_by",
        "opened_by__user",
        "competence__competence",
    ).first()
    if row is None:
        return None
    steps = _steps(row)
    named = frozenset(step.test_id for step in steps if step.test_id is not None)
    tests = _tests(row, named)
    flags = flags_of(tests)
    carrier = releasing(row, steps)
    loaded = LoadedRelease(
        work=row,
        subject=subject_of(row.vehicle, None, row.until),
        steps=steps,
        tests=tests,
        named=named,
        flags=tuple((pk, "; ".join(found.words)) for pk, found in flags.items()),
        lack=lacks([carrier], Moment.on(printed.at.date())).get(carrier),
        somebody_else=clearing_on(row.until.latest).needs_somebody_else(
            Scope(row.scope)
        ),
    )
    return release_sheet(loaded, printed=printed)


def _steps(work: WorkInHand) -> Sequence[DefectStep]:
    if work.defect_id is None:
        return ()
    held = DefectStep.objects.current().filter(defect=work.defect_id)
    loaded = held.select_related("by", "competence__competence")
    return list(loaded.order_by("number"))


def _tests(work: WorkInHand, named: frozenset[int]) -> list[TestRecord]:
    """Return the tests between the start of work and its release, and those named."""
    assert work.until is not None
    between = Q(
        vehicle=work.vehicle_id,
        on_earliest__gte=work.since.earliest,
        on_latest__lte=work.until.latest,
    )
    tests = TestRecord.objects.current().filter(between | Q(test__in=named))
    loaded = tests.select_related("procedure_revision__procedure", "done_by")
    return [
        record
        for record in loaded.order_by("on_earliest", "on_at", "pk")
        if record.test_id in named or _between(record.on, work.since, work.until)
    ]


def _between(on: Moment, since: Moment, until: Moment) -> bool:
    """Say whether a test of these days may have been between two moments."""
    return Order.BEFORE not in (order_of(on, since), order_of(until, on))

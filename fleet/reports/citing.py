"""The versions a statement leans on: what is frozen with it so that they can be found wrong."""

import datetime as dt
from collections.abc import Iterator
from itertools import chain
from typing import Any

from django.db import models

from fleet.defects.models import (
    DefectStep,
    IsolationVersion,
    WorkInHand,
    WrongCockVersion,
)
from fleet.examination.models import CounterSignature, TestRecord
from fleet.fitness.case import Case
from fleet.fitness.findings import Verdict
from fleet.fitness.intervals import held
from fleet.fitness.statements import Citation
from fleet.records.models import Lasting, Version
from fleet.register.models import EquipmentVersion, Fitting, VehicleVersion
from fleet.reports.recorded import (
    fitted_on,
    last_tests_of,
    open_defects_of,
    place_words,
)
from fleet.upkeep.models import ConcessionVersion

# What evidence and lines call a thing, and where its versions are.
_BY_IDENTITY: tuple[tuple[str, type[Version]], ...] = (
    ("test", TestRecord),
    ("test", CounterSignature),
    ("defect", DefectStep),
    ("isolation", IsolationVersion),
    ("cock", WrongCockVersion),
    ("concession", ConcessionVersion),
    ("equipment", EquipmentVersion),
)
_CALLED: dict[type[models.Model], str] = {
    TestRecord: "test",
    CounterSignature: "counter-signature of a test",
    DefectStep: "step of a defect",
    IsolationVersion: "brake isolation",
    WrongCockVersion: "cock",
    ConcessionVersion: "concession",
    EquipmentVersion: "item",
    VehicleVersion: "particulars of",
    WorkInHand: "work in hand",
}


def cited(
    case: Case, found: Verdict, on: dt.date, known_at: int | None
) -> list[Citation]:
    """
    Return the versions that what a statement says of a day was read from.

    They are those held at entry `known_at` of what its paper lists and of what the
    findings that hold that day or are to come name. A fixed number of queries at most.
    """
    keys = _named(case, found, on)
    citations = list(_fittings(case, on))
    citations += _rows(VehicleVersion, {"vehicle": case.file.id}, on, known_at)
    if keys["work"]:
        citations += _rows(WorkInHand, {"pk__in": keys["work"]}, on, known_at)
    for kind, model in _BY_IDENTITY:
        if keys[kind]:
            asked = {f"{kind}__in": keys[kind]}
            citations += _rows(model, asked, on, known_at)
    return citations


def _named(case: Case, found: Verdict, on: dt.date) -> dict[str, set[Any]]:
    keys: dict[str, set[Any]] = {kind: set() for kind, _ in _BY_IDENTITY}
    keys["work"] = {
        work.id for work in case.file.work if _holds(work.since, work.until, on)
    }
    keys["test"] |= {test.id for test in last_tests_of(case, on)}
    keys["defect"] |= {defect.id for defect in open_defects_of(case, on)}
    keys["equipment"] |= set(fitted_on(case, on))
    keys["isolation"] |= {
        one.id for one in case.file.isolations if _holds(one.since, one.until, on)
    }
    ahead = (f for f in found.findings if f.until is None or f.until > on)
    for evidence in chain.from_iterable(finding.evidence for finding in ahead):
        if evidence.kind in keys:
            keys[evidence.kind].add(evidence.id)
    return keys


def _holds(since: Any, until: Any, on: dt.date) -> bool:
    first, end = held(since, until)
    return first <= on < end


def _fittings(case: Case, on: dt.date) -> Iterator[Citation]:
    for presence in case.presences:
        if presence.since <= on < presence.until:
            place = place_words(case, presence.fitting.position, on)
            yield Fitting._meta.label_lower, presence.fitting.id, f"fitting of {place}"


def _rows(
    model: type[Version], asked: dict[str, Any], on: dt.date, known_at: int | None
) -> Iterator[Citation]:
    rows: Any = model._default_manager.known_at(known_at).filter(**asked)
    if issubclass(model, Lasting):
        rows = rows.holding_on(on)
    if model is TestRecord:
        rows = rows.select_related("procedure_revision")
    label = model._meta.label_lower
    for row in rows.order_by("pk"):
        yield label, row.pk, f"{_CALLED[model]} {row}"

"""Who stands behind a record: person, competence as held that day, instrument, entry."""

import datetime as dt
from collections.abc import Callable, Iterable, Mapping
from dataclasses import replace
from typing import Any

from fleet.defects.models import DefectStep, IsolationVersion, WorkInHand
from fleet.engineering.calendar import Moment, Order, order_of
from fleet.examination.calibration import doubt
from fleet.examination.citing import records_of
from fleet.examination.models import (
    Calibration,
    CounterSignature,
    InstrumentVersion,
    Reading,
    TestRecord,
)
from fleet.fitness.findings import Evidence, EvidenceKind
from fleet.fitness.practice import practice_known
from fleet.fitness.witness import (
    Gauge,
    Hand,
    Key,
    Witness,
    entered,
    hand_of,
    held_words,
    known_rows,
    words_of_held,
)
from fleet.fitness.witnesses_beside import (
    cocks,
    notices,
    storage,
    usage,
    vehicles,
    visits,
)
from fleet.register.models import EquipmentVersion, Fitting, TypeRevision
from fleet.upkeep.due import written
from fleet.upkeep.models import (
    ConcessionVersion,
    MatrixRevision,
    RequirementRevision,
)


def read_witnesses(
    leaves: Iterable[Evidence], known_at: int | None = None
) -> dict[Key, Witness]:
    """
    Return what stands behind each record, by kind and id; what is not known is left out.

    `known_at` is the number of an entry: only what was recorded up to it counts. At most
    two dozen queries, however many records.
    """
    asked: dict[EvidenceKind, set[Any]] = {}
    for leaf in leaves:
        asked.setdefault(leaf.kind, set()).add(leaf.id)
    found: dict[Key, Witness] = {}
    for kind, read in READERS.items():
        if asked.get(kind):
            for witness in read(asked[kind], known_at):
                found[kind, witness.id] = replace(witness, kind=kind)
    return found


def _tests(keys: set[Any], known_at: int | None) -> Iterable[Witness]:
    rows = list(
        known_rows(
            TestRecord,
            known_at,
            "procedure_revision",
            "done_by",
            "competence__competence",
            test__in=keys,
        )
    )
    gauges = _gauges(rows, known_at)
    vouching = practice_known(known_at).vouching
    signed = {
        signature.test_id: signature
        for signature in known_rows(
            CounterSignature, known_at, "by", "competence__competence", test__in=keys
        )
    }
    for row in rows:
        revision = row.procedure_revision
        asked = revision.skill
        hands = [
            Hand(
                "done by", row.done_by.name, held_words(row.competence) if asked else ""
            )
        ]
        signature = signed.get(row.test_id)
        if signature is not None and signature.opened_by_id > row.opened_by_id:
            words = words_of_held(signature.competence, signature.on, vouching)
            hands.append(Hand("counter-signed by", signature.by.name, words))
        result = "passed" if row.passed else "not passed"
        yield entered(
            row,
            f"{revision.title}, revision {revision.number}, {row.on}: {result}",
            row.test_id,
            hands=tuple(hands),
            gauges=gauges.get(row.pk, ()),
            source=revision.source,
        )


def _gauges(
    rows: list[TestRecord], known_at: int | None
) -> Mapping[int, tuple[Gauge, ...]]:
    used = Reading.objects.filter(record__in=rows, instrument__isnull=False)
    pairs = sorted(set(used.order_by().values_list("record", "instrument")))
    if not pairs:
        return {}
    instruments = {instrument for _, instrument in pairs}
    versions, calibrations = _instruments(instruments, known_at)
    records = records_of(calibrations, versions)
    names = {version.instrument_id: version.number for version in versions}
    moments = {row.pk: row.on for row in rows}
    found: dict[int, tuple[Gauge, ...]] = {}
    for record, instrument in pairs:
        on = moments[record]
        words = doubt(records[instrument], on) or _calibrated(
            [c for c in calibrations if c.instrument_id == instrument], on
        )
        gauge = Gauge(instrument, names.get(instrument, "no record"), words)
        found[record] = (*found.get(record, ()), gauge)
    return found


def _instruments(
    keys: Iterable[int], known_at: int | None
) -> tuple[list[InstrumentVersion], list[Calibration]]:
    versions = known_rows(InstrumentVersion, known_at, instrument__in=keys)
    calibrations = known_rows(Calibration, known_at, instrument__in=keys)
    return list(versions.order_by("since_key", "pk")), list(calibrations)


def _calibrated(calibrations: list[Calibration], on: Moment) -> str:
    before = [c for c in calibrations if order_of(c.on, on) is Order.BEFORE]
    if not before:
        return "never calibrated before"
    newest = max(before, key=lambda c: c.on.latest or dt.date.min)
    certificate = f", certificate {newest.certificate}" if newest.certificate else ""
    return (
        f"calibrated {newest.on}{certificate}, good until {written(newest.good_until)}"
    )


def _instrument_rows(keys: set[Any], known_at: int | None) -> Iterable[Witness]:
    versions, calibrations = _instruments(keys, known_at)
    newest = {version.instrument_id: version for version in versions}
    for key, version in newest.items():
        mine = [c for c in calibrations if c.instrument_id == key]
        words = "; ".join(_comparison(c) for c in mine[-3:]) or "never calibrated"
        yield entered(version, f"{version.number}, {version.what}: {words}", key)


def _comparison(row: Calibration) -> str:
    found = "found good" if row.as_found_good else "found outside its class"
    return f"calibrated {row.on}, {found}"


def _defects(keys: set[Any], known_at: int | None) -> Iterable[Witness]:
    rows = known_rows(
        DefectStep,
        known_at,
        "defect",
        "by",
        "competence__competence",
        defect__in=keys,
    ).order_by("defect", "number")
    vouching = practice_known(known_at).vouching
    by_defect: dict[int, list[DefectStep]] = {}
    for row in rows:
        by_defect.setdefault(row.defect_id, []).append(row)
    for key, steps in by_defect.items():
        hands = tuple(
            Hand(
                f"{step.label.lower()} {step.on} by",
                step.by.name,
                words_of_held(step.competence, step.on, vouching) if step.skill else "",
            )
            for step in steps
        )
        last = steps[-1]
        words = f"Defect “{last.defect.title}”: {last.label.lower()} {last.on}"
        yield entered(last, words, key, hands=hands)


def _isolations(keys: set[Any], known_at: int | None) -> Iterable[Witness]:
    rows = known_rows(
        IsolationVersion, known_at, "isolation", "by", "restored_by", isolation__in=keys
    )
    newest = {row.isolation_id: row for row in rows.order_by("since_key", "pk")}
    for key, row in newest.items():
        hands = [Hand("isolated by", row.by.name)]
        if row.restored_by:
            hands.append(Hand("restored by", row.restored_by.name))
        state = "complete" if row.complete else "not complete"
        words = f"{row.isolation.brake.label} isolated {row.since}: {row.why}"
        yield entered(row, f"{words}, record {state}", key, hands=tuple(hands))


def _work(keys: set[Any], known_at: int | None) -> Iterable[Witness]:
    rows = known_rows(
        WorkInHand,
        known_at,
        "done_by",
        "released_by",
        "competence__competence",
        "defect",
        "vehicle",
        pk__in=keys,
    )
    vouching = practice_known(known_at).vouching
    for row in rows:
        hands = [hand_of("in hand with", row.done_by)]
        if row.released_by:
            at = row.until or Moment.unknown()
            words = words_of_held(row.competence, at, vouching) if row.skill else ""
            hands.append(Hand("released by", row.released_by.name, words))
        until = f", released {row.until}" if row.until else ""
        words = f"Work in hand since {row.since}: {row.what}{until}"
        yield entered(
            row,
            words,
            row.pk,
            hands=tuple(h for h in hands if h),
            address=(row.defect or row.vehicle).get_absolute_url(),
        )


def _fittings(keys: set[Any], known_at: int | None) -> Iterable[Witness]:
    for row in known_rows(Fitting, known_at, "equipment", pk__in=keys):
        until = f" to {row.until}" if row.until else ""
        address = row.equipment.get_absolute_url()
        yield entered(row, f"Fitted {row.since}{until}", row.pk, address=address)


def _equipment(keys: set[Any], known_at: int | None) -> Iterable[Witness]:
    rows = known_rows(EquipmentVersion, known_at, equipment__in=keys)
    newest = {row.equipment_id: row for row in rows.order_by("since_key", "pk")}
    for key, row in newest.items():
        words = f"{row.get_kind_display()} {row.serial}, made {row.made}"
        yield entered(row, f"{words}, {row.get_state_display().lower()}", key)


def _requirements(keys: set[Any], known_at: int | None) -> Iterable[Witness]:
    rows = known_rows(
        RequirementRevision, known_at, "requirement", requirement__code__in=keys
    )
    newest = {row.requirement.code: row for row in rows.order_by("number")}
    for code, row in newest.items():
        since = written(row.effective_from)
        words = f"{row.title}, revision {row.number}, in force from {since}"
        yield entered(row, words, code, source=row.source)


def _matrix(keys: set[Any], known_at: int | None) -> Iterable[Witness]:
    rows = known_rows(MatrixRevision, known_at, "line", line__code__in=keys)
    newest = {row.line.code: row for row in rows.order_by("number")}
    for code, row in newest.items():
        since = written(row.effective_from)
        words = f"{row}, revision {row.number}, in force from {since}"
        yield entered(row, words, code, source=row.source)


def _types(keys: set[Any], known_at: int | None) -> Iterable[Witness]:
    rows = known_rows(TypeRevision, known_at, "type", type__code__in=keys)
    newest = {row.type.code: row for row in rows.order_by("number")}
    for code, row in newest.items():
        yield entered(row, f"{row.name}, revision {row.number}", code)


def _concessions(keys: set[Any], known_at: int | None) -> Iterable[Witness]:
    rows = known_rows(
        ConcessionVersion,
        known_at,
        "asked_by",
        "agreed_by",
        "accepted_by",
        concession__in=keys,
    )
    for row in {row.concession_id: row for row in rows}.values():
        hands = (
            hand_of("asked by", row.asked_by),
            hand_of("agreed by", row.agreed_by),
            hand_of("accepted by", row.accepted_by),
        )
        words = f"Concession, {row.get_status_display().lower()}: {row.why}"
        kept = tuple(hand for hand in hands if hand)
        yield entered(row, words, row.concession_id, hands=kept)


READERS: Mapping[EvidenceKind, Callable[[set[Any], int | None], Iterable[Witness]]] = {
    "test": _tests,
    "instrument": _instrument_rows,
    "defect": _defects,
    "isolation": _isolations,
    "work": _work,
    "released": _work,
    "fitting": _fittings,
    "equipment": _equipment,
    "requirement": _requirements,
    "matrix": _matrix,
    "type": _types,
    "concession": _concessions,
    "notice": notices,
    "cock": cocks,
    "vehicle": vehicles,
    "storage": storage,
    "usage": usage,
    "visit": visits,
}

"""Rows of gather made into one vehicle's file. No reading happens here."""

import datetime as dt
from collections.abc import Mapping, Sequence
from decimal import Decimal
from functools import lru_cache
from operator import attrgetter, itemgetter
from typing import Any

from fleet.defects.vocabulary import Brake, Extent
from fleet.engineering.calendar import Moment
from fleet.examination.judging import Limits, judge
from fleet.fitness.assembling_beside import cock_of, notice_of, visit_of
from fleet.fitness.carrying import usage_of_items
from fleet.fitness.conceding import concessions_of
from fleet.fitness.facts import (
    DefectFact,
    DefectStepFact,
    EquipmentFact,
    FailedLine,
    FittedFact,
    IsolationFact,
    Particulars,
    StateFact,
    StorageFact,
    TestFact,
    UsageFact,
    VehicleFile,
    WorkFact,
)
from fleet.fitness.measuring import with_measures
from fleet.fitness.outside_facts import VisitFact, WrongCockFact
from fleet.fitness.practice import Practice
from fleet.fitness.thinning import with_surveys
from fleet.fitness.vouching import Vouching
from fleet.register.vocabulary import (
    Effect,
    EquipmentKind,
    EquipmentState,
    Fitment,
    MainReservoirPipe,
    Scope,
    VehicleStatus,
)

Row = tuple[Any, ...]
Rows = Sequence[Row]

# A dictionary finds the word of a value in a tenth of the time the enumeration takes.
_KIND = {word.value: word for word in EquipmentKind}
_STATE = {word.value: word for word in EquipmentState}
_SCOPE = {word.value: word for word in Scope}
_EFFECT = {word.value: word for word in Effect}

day = lru_cache(maxsize=65_536)(dt.date.fromisoformat)


@lru_cache(maxsize=65_536)
def moment(
    earliest: str | None, latest: str | None, at: str | None, order: int | None
) -> Moment:
    """Return the moment of four columns; the same columns give the same object."""
    if earliest is None or latest is None:
        return Moment(None, None, None, order)
    time = dt.time.fromisoformat(at) if at else None
    return Moment(day(earliest), day(latest), time, order)


def end(
    earliest: str | None, latest: str | None, at: str | None, order: int | None
) -> Moment | None:
    """Return the end of an interval; None while it lasts."""
    return None if earliest is None else moment(earliest, latest, at, order)


def file_of(
    vehicle: int, particulars: Rows, rows: Mapping[str, Rows], practice: Practice
) -> VehicleFile:
    """Return the file of one vehicle from the rows of every stream."""
    usage = _usage(rows["usage"])
    fitted, versions = _fitted(rows["fitted"])
    isolations, work, storage, visits, cocks = _standing(
        rows["standing"], practice.vouching
    )
    carried: dict[int, tuple[UsageFact, ...]] = {}
    if practice.usage_kinds:
        kept = [
            item
            for item, known in versions.items()
            if next(iter(known.values()))[13] in practice.usage_kinds
        ]
        carried = usage_of_items(kept, fitted, usage, _elsewhere(rows["item_usage"]))
    equipment = {
        item: _item(item, known, carried.get(item, ()))
        for item, known in versions.items()
    }
    if rows.get("surveyed"):
        equipment = with_surveys(equipment, rows["surveyed"], practice.procedures)
    failed = _failed(rows["failed"]) if rows["failed"] else {}
    return VehicleFile(
        id=vehicle,
        particulars=tuple(map(_particulars, particulars)),
        types=practice.types,
        fitted=fitted,
        equipment=equipment,
        tests=with_measures(
            _tests(rows["tests"], failed, rows["vouched"], practice),
            rows.get("measured", ()),
            practice.measuring,
        ),
        defects=(
            _defects(rows["defects"], practice.vouching) if rows["defects"] else ()
        ),
        isolations=isolations,
        work=work,
        storage=storage,
        visits=visits,
        wrong_cocks=cocks,
        notices=tuple(map(notice_of, dict.fromkeys(rows.get("notices", ())))),
        usage=usage,
        concessions=(
            concessions_of(rows["concessions"]) if rows["concessions"] else ()
        ),
    )


def _particulars(row: Row) -> Particulars:
    number, type_code, air, vacuum, main, hand_brake, status, depot = row[9:]
    return Particulars(
        moment(*row[1:5]),
        end(*row[5:9]),
        number,
        type_code,
        Fitment(air),
        Fitment(vacuum),
        MainReservoirPipe(main),
        bool(hand_brake),
        VehicleStatus(status),
        depot,
    )


def _fitted(rows: Rows) -> tuple[tuple[FittedFact, ...], dict[int, dict[int, Row]]]:
    """Return what was fitted, and for each item the rows of its versions by their key."""
    fitted: dict[int, FittedFact] = {}
    versions: dict[int, dict[int, Row]] = {}
    for row in rows:
        key, item, version = row[1], row[3], row[12]
        if key not in fitted:
            fitted[key] = FittedFact(
                key, row[2], item, moment(*row[4:8]), end(*row[8:12])
            )
        if version is not None:
            known = versions.get(item)
            if known is None:
                versions[item] = {version: row}
            else:
                known[version] = row
    return tuple(sorted(fitted.values(), key=attrgetter("id"))), versions


def _item(
    item: int, versions: dict[int, Row], usage: tuple[UsageFact, ...]
) -> EquipmentFact:
    rows = list(versions.values())
    if len(rows) > 1:
        rows.sort(key=_since_key)
    newest = rows[-1]
    return EquipmentFact(
        item,
        _KIND[newest[13]],
        newest[14],
        moment(newest[15], newest[16], None, None),
        tuple([_standing_of(*row[18:27]) for row in rows]),
        newest[27],
        newest[28],
        newest[29],
        newest[30],
        usage,
    )


@lru_cache(maxsize=65_536)
def _standing_of(*columns: Any) -> StateFact:
    """Return the standing of nine columns; many items came into store on one day."""
    return StateFact(moment(*columns[:4]), end(*columns[4:8]), _STATE[columns[8]])


def _since_key(row: Row) -> int:
    key: int = row[17]
    return key


def _tests(
    rows: Rows,
    failed: Mapping[int, tuple[FailedLine, ...]],
    vouched: Rows,
    practice: Practice,
) -> tuple[TestFact, ...]:
    procedures = practice.procedures
    vouching = practice.vouching
    cited, signed = _vouched(vouched) if vouched else ({}, {})
    found = [
        TestFact(
            test,
            procedures[revision][0],
            on := moment(earliest, latest, at, order),
            passed == 1,
            item,
            procedures[revision][1],
            failed.get(record, ()),
            unanswered,
            vouching.doubts(cited[record], on) if record in cited else (),
            practice.skills[revision]
            if revision in practice.skills and not vouching.competent(competence, on)
            else "",
            signed.get(record),
        )
        for (
            _,
            item,
            record,
            test,
            revision,
            earliest,
            latest,
            at,
            order,
            passed,
            unanswered,
            competence,
        ) in {row[2]: row for row in rows}.values()
    ]
    found.sort(key=_when)
    return tuple(found)


def _when(test: TestFact) -> tuple[dt.date, int]:
    return test.on.latest or dt.date.min, test.id


def _vouched(rows: Rows) -> tuple[dict[int, set[int]], dict[int, Moment]]:
    """Return, by record, the instruments it cites and when it was counter-signed."""
    cited: dict[int, set[int]] = {}
    signed: dict[int, Moment] = {}
    for _, record, instrument, *columns in rows:
        if instrument is not None:
            cited.setdefault(record, set()).add(instrument)
            continue
        on = moment(*columns)
        signed[record] = min(signed.get(record, on), on, key=_latest)
    return cited, signed


def _latest(on: Moment) -> dt.date:
    return on.latest or dt.date.max


def _failed(rows: Rows) -> dict[int, tuple[FailedLine, ...]]:
    found: dict[int, tuple[FailedLine, ...]] = {}
    for row in dict.fromkeys(rows):
        line = FailedLine(row[2], _SCOPE[row[3]], _EFFECT[row[4]], _found(row))
        found[row[1]] = (*found.get(row[1], ()), line)
    return found


def _found(row: Row) -> str:
    """Return the reading and its limit in words, or the note of a question not met."""
    quantity, limit_unit, low, high, typed, value, unit, note = row[5:13]
    if value is None:
        return note or "not met"
    limits = Limits(
        quantity, limit_unit, *(None if n is None else Decimal(n) for n in (low, high))
    )
    return judge(Decimal(typed or value), unit, limits).words


def _defects(rows: Rows, vouching: Vouching) -> tuple[DefectFact, ...]:
    about: dict[int, Row] = {}
    steps: dict[int, list[DefectStepFact]] = {}
    numbers: dict[int, set[int]] = {}
    for row in rows:
        defect, number = row[1], row[2]
        about.setdefault(defect, row)
        if number in numbers.setdefault(defect, set()):
            continue
        numbers[defect].add(number)
        on = moment(*row[6:10])
        steps.setdefault(defect, []).append(
            DefectStepFact(
                on,
                row[10],
                _SCOPE[row[11]],
                _EFFECT[row[12]],
                row[13],
                vouching.lacking(row[14], row[15], on),
                end(*row[16:20]),
            )
        )
    return tuple(
        DefectFact(defect, row[3], row[4], row[5], tuple(steps[defect]))
        for defect, row in about.items()
    )


def _standing(
    rows: Rows, vouching: Vouching
) -> tuple[
    tuple[IsolationFact, ...],
    tuple[WorkFact, ...],
    tuple[StorageFact, ...],
    tuple[VisitFact, ...],
    tuple[WrongCockFact, ...],
]:
    isolations, work, storage, visits, cocks = [], [], [], [], []
    for row in sorted(rows, key=itemgetter(16, 17)):
        since, until = moment(*row[3:7]), end(*row[7:11])
        text, condition, extent, complete, restored_by = row[11:16]
        if row[1] == "isolation":
            isolations.append(
                IsolationFact(
                    row[2],
                    Brake(text),
                    since,
                    until,
                    extent == Extent.WHOLE,
                    bool(complete),
                    condition,
                    until is not None and restored_by is not None,
                    row[18] or "",
                )
            )
        elif row[1] == "work":
            lacking = vouching.lacking(condition, complete, until) if until else ""
            signed = end(*row[18:22])
            work.append(WorkFact(row[2], text, since, until, lacking, signed))
        elif row[1] == "storage":
            storage.append(StorageFact(since, until, row[2]))
        elif row[1] == "visit":
            visits.append(visit_of(row))
        else:
            cocks.append(cock_of(row))
    return tuple(isolations), tuple(work), tuple(storage), tuple(visits), tuple(cocks)


def _usage(rows: Rows) -> tuple[UsageFact, ...]:
    found = [
        UsageFact(day(first), day(last), miles, days)
        for _, first, last, miles, days in rows
    ]
    found.sort()
    return tuple(found)


def _elsewhere(rows: Rows) -> list[tuple[FittedFact, UsageFact]]:
    """Return the fittings of items on other vehicles, each beside a usage of those."""
    return [
        (
            FittedFact(row[2], "", row[1], moment(*row[3:7]), end(*row[7:11])),
            UsageFact(day(row[11]), day(row[12]), row[13], row[14]),
        )
        for row in dict.fromkeys(rows)
    ]

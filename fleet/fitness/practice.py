"""
What files share: the operator's policy, the types with their positions, the procedures.

It changes a few times a year and is read at every deed, so the present one is kept in
the process, together with what would be different if anything had been added to it.
"""

import datetime as dt
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field, replace
from itertools import groupby
from operator import attrgetter
from typing import Any

from django.db import connection
from django.db.models import Exists, Model, OuterRef, Prefetch

from fleet.examination.force_readings import Measuring
from fleet.examination.models import (
    Calibration,
    InstrumentVersion,
    ProcedureLine,
    ProcedureRevision,
)
from fleet.examination.vocabulary import LineKind
from fleet.fitness.facts import (
    Conditions,
    MatrixFact,
    Policy,
    PositionFact,
    RequirementFact,
    TypeRevisionFact,
)
from fleet.fitness.measuring import figures_by_revision, measuring_lines
from fleet.fitness.vouching import Vouching, read_vouching
from fleet.people.models import CompetenceVersion, Skill
from fleet.register.models import BrakeFigures, Position, TypeRevision
from fleet.register.vocabulary import CockPosition, Effect, EquipmentKind, Scope
from fleet.upkeep.models import (
    ConditionsRevision,
    FleetNoticeVersion,
    MatrixRevision,
    MatrixTest,
    RequirementRevision,
)
from fleet.upkeep.vocabulary import Change, CountedFrom, Subject

Seal = tuple[tuple[Any, ...], ...]

_POLICY = (RequirementRevision, MatrixRevision, ConditionsRevision, ProcedureRevision)
_VOUCHING = (InstrumentVersion, Calibration, CompetenceVersion)
_SOURCES: tuple[type[Model], ...] = (
    *_POLICY,
    TypeRevision,
    FleetNoticeVersion,
    *_VOUCHING,
)
_FIRST_VOUCHING = len(_SOURCES) - len(_VOUCHING)


@dataclass(frozen=True, slots=True)
class Practice:
    """
    Policy, positions by type code, code and number of each procedure revision.

    `skills` are the competences procedure revisions ask for, in words.
    """

    policy: Policy = field(default_factory=Policy)
    types: Mapping[str, tuple[TypeRevisionFact, ...]] = field(default_factory=dict)
    procedures: Mapping[int, tuple[str, int]] = field(default_factory=dict)
    usage_kinds: tuple[str, ...] = ()  # of equipment whose upkeep counts usage
    measuring: Mapping[int, Measuring] = field(default_factory=dict)  # by line
    noticing: bool = False  # a fleet notice was ever issued
    surveying: bool = False  # some procedure asks for thicknesses
    skills: Mapping[int, str] = field(default_factory=dict)  # by procedure revision
    vouching: Vouching = field(default_factory=Vouching)


_kept: dict[str, tuple[Seal, Practice]] = {}  # by database
_then: dict[tuple[str, int], tuple[Seal, Practice]] = {}  # and number of an entry
_KEPT = 8  # states of knowledge, the one asked for last at the end


def practice_known(known_at: int | None) -> Practice:
    """Return what was held at an entry, None for now; one query where it is kept."""
    name = str(connection.settings_dict["NAME"])
    if known_at is not None:
        return _known_then(name, known_at)
    seal = _seal()
    kept = _kept.get(name)
    if kept is None or kept[0] != seal:
        kept = _kept[name] = (seal, _anew(kept, seal))
    return kept[1]


def _known_then(name: str, known_at: int) -> Practice:
    """Return what was held at an entry; the last few asked for are kept, too."""
    seal = _seal(known_at)
    kept = _then.pop((name, known_at), None)
    if kept is None or kept[0] != seal:
        read = _read(known_at, _revision(seal))
        kept = seal, replace(read, vouching=read_vouching(known_at))
    _then[name, known_at] = kept
    while len(_then) > _KEPT:
        _then.pop(next(iter(_then)), None)
    return kept[1]


def _anew(kept: tuple[Seal, Practice] | None, seal: Seal) -> Practice:
    """Return the present practice, reading only the half of it that was touched."""
    parts = [_parts(s) for s in (seal, kept[0] if kept else ())]
    (policy, vouching), (old_policy, old_vouching) = parts
    same_policy = kept is not None and policy == old_policy
    practice = kept[1] if kept and same_policy else _read(None, _revision(seal))
    if kept and vouching == old_vouching:
        return replace(practice, vouching=kept[1].vouching)
    return replace(practice, vouching=read_vouching(None))


def _parts(seal: Seal) -> tuple[Seal, Seal]:
    """Return the rows of the policy and types, and those of what vouches for tests."""
    return (
        tuple(row for row in seal if row[0] < _FIRST_VOUCHING),
        tuple(row for row in seal if row[0] >= _FIRST_VOUCHING),
    )


def _seal(known_at: int | None = None) -> Seal:
    """
    Return the newest row of every source: rank, key, deed, number of the deed.

    Whatever changes a source adds a row to it. The deed's own id tells a row from one of
    the same key that was rolled back before. A deed still running has no number yet; as
    it keeps other writers of policy out, it will be the next.
    """
    known = "" if known_at is None else f" AND x.number <= {known_at}"
    newest = " UNION ALL ".join(
        f"SELECT {rank}, r.id, CAST(e.uuid AS text), COALESCE(e.number, "  # noqa: S608  # the names of our own tables
        "(SELECT COALESCE(MAX(n.number), 0) + 1 FROM records_entry n)) "
        f"FROM {model._meta.db_table} r JOIN records_entry e ON e.id = r.opened_by_id "
        f"WHERE r.id = (SELECT MAX(v.id) FROM {model._meta.db_table} v "
        f"JOIN records_entry x ON x.id = v.opened_by_id{known})"
        for rank, model in enumerate(_SOURCES)
    )
    with connection.cursor() as cursor:
        cursor.execute(newest)
        return tuple(cursor.fetchall())


def _revision(seal: Seal) -> int:
    """Return the number of the newest entry that touched the policy; 0: none has."""
    return max((row[3] for row in seal if row[0] < len(_POLICY)), default=0)


def _read(known_at: int | None, revision: int) -> Practice:
    policy = Policy(
        requirements=tuple(requirement_facts(requirement_rows(known_at))),
        matrix=tuple(matrix_facts(matrix_rows(known_at))),
        conditions=tuple(condition_facts(condition_rows(known_at))),
        procedures=_titles(known_at),
        revision=revision,
    )
    surveys = ProcedureLine.objects.filter(
        revision=OuterRef("pk"), kind=LineKind.SURVEY
    )
    codes = ProcedureRevision.objects.values_list(
        "pk", "procedure__code", "number", "skill", Exists(surveys)
    )
    revisions = list(codes)
    types = _types(known_at)
    given = any(r.figures for revisions_of in types.values() for r in revisions_of)
    return Practice(
        policy=policy,
        types=types,
        measuring=measuring_lines() if given else {},
        noticing=FleetNoticeVersion.objects.known_at(known_at).exists(),
        surveying=any(surveys for *_, surveys in revisions),
        procedures={pk: (code, number) for pk, code, number, *_ in revisions},
        usage_kinds=tuple(sorted(set(kinds_by_usage(policy)))),
        skills={
            pk: Skill(skill).label.lower() for pk, _, _, skill, _ in revisions if skill
        },
    )


def kinds_by_usage(policy: Policy) -> Iterator[str]:
    """Yield the kinds of equipment whose upkeep counts miles or days in service."""
    for requirement in policy.requirements:
        counted = requirement.miles or requirement.days_in_service
        if requirement.kind is not None and counted:
            yield requirement.kind.value


def _in_turn(
    rows: Iterable[Any], identity: str
) -> Iterator[tuple[Any, dt.date | None]]:
    """Yield each revision with the day it ends: on the next, or when withdrawn."""
    same = attrgetter(identity) if identity else _one
    for _, revisions in groupby(rows, key=same):
        held = list(revisions)
        for at, row in enumerate(held):
            ends = [getattr(row, "withdrawn_from", None)]
            if at + 1 < len(held):
                ends.append(held[at + 1].effective_from)
            known = [day for day in ends if day is not None]
            until = min(known, default=None)
            if until is None or row.effective_from < until:
                yield row, until


def _one(_row: Any) -> None:
    """Put all rows in one group."""


def requirement_rows(known_at: int | None) -> Iterable[RequirementRevision]:
    """Return every revision of every requirement held true, in order."""
    return (
        RequirementRevision.objects.known_at(known_at)
        .select_related("requirement", "procedure")
        .order_by("requirement__code", "number")
    )


def requirement_facts(
    rows: Iterable[RequirementRevision],
) -> Iterator[RequirementFact]:
    """Yield the facts of revisions, each with the day it ends; rows in order."""
    for row, until in _in_turn(rows, "requirement_id"):
        yield RequirementFact(
            code=row.requirement.code,
            revision=row.number,
            title=row.title,
            subject=Subject(row.subject),
            since=row.effective_from,
            until=until,
            source=row.source,
            effect=Effect(row.effect),
            scope=Scope(row.scope),
            counted_from=CountedFrom(row.counted_from),
            kind=EquipmentKind(row.kind) if row.kind else None,
            designation=row.designation,
            procedure=row.procedure.code if row.procedure else "",
            months=row.months,
            calendar_days=row.calendar_days,
            days_in_service=row.days_in_service,
            miles=row.miles,
            tolerance_days=row.tolerance_days,
            storage_credit_days=row.storage_credit_days,
            clears=row.clears,
            condition=row.condition,
        )


def matrix_rows(known_at: int | None) -> Iterable[MatrixRevision]:
    """Return every revision of every line held true, in order, with its tests."""
    asked = MatrixTest.objects.select_related("procedure").order_by("pk")
    return (
        MatrixRevision.objects.known_at(known_at)
        .select_related("line")
        .prefetch_related(Prefetch("tests", queryset=asked))
        .order_by("line__code", "number")
    )


def matrix_facts(rows: Iterable[MatrixRevision]) -> Iterator[MatrixFact]:
    """Yield the facts of lines; a row not saved says itself what it asks, in `asked`."""
    for row, until in _in_turn(rows, "line_id"):
        yield MatrixFact(
            code=row.line.code,
            revision=row.number,
            change=Change(row.change_kind),
            since=row.effective_from,
            until=until,
            source=row.source,
            procedures=tuple(
                row.asked
                if row.pk is None
                else (test.procedure.code for test in row.tests.all())
            ),
            effect=Effect(row.effect),
            scope=Scope(row.scope) if row.scope else None,
            kind=EquipmentKind(row.kind) if row.kind else None,
            condition=row.condition,
        )


def condition_rows(known_at: int | None) -> Iterable[ConditionsRevision]:
    """Return every revision of the general conditions held true, in order."""
    return ConditionsRevision.objects.known_at(known_at).order_by("number")


def condition_facts(rows: Iterable[ConditionsRevision]) -> Iterator[Conditions]:
    """Yield the facts of the general conditions, each with the day it ends."""
    for row, until in _in_turn(rows, ""):
        yield Conditions(
            since=row.effective_from,
            until=until,
            revision=row.number,
            source=row.source,
            usage_silent_days=row.usage_silent_days,
            usage_silent_effect=Effect(row.usage_silent_effect),
            usage_window_days=row.usage_window_days,
            discount_needs_isolation=row.discount_needs_isolation,
            unassessed_effect=Effect(row.unassessed_effect),
            uncertified_effect=Effect(row.uncertified_effect),
            force_fall_percent=row.force_fall_percent,
            force_fall_effect=Effect(row.force_fall_effect),
            hand_brake_out_effect=Effect(row.hand_brake_out_effect),
            hand_brake_out_condition=row.hand_brake_out_condition,
            storage_days_needing_tests=row.storage_days_needing_tests,
            visiting_condition=row.visiting_condition,
            air_dead_words=row.air_dead_words,
            vacuum_dead_words=row.vacuum_dead_words,
        )


def _titles(known_at: int | None) -> dict[str, str]:
    rows = ProcedureRevision.objects.known_at(known_at).order_by("number")
    return dict(rows.values_list("procedure__code", "title"))


def _types(known_at: int | None) -> dict[str, tuple[TypeRevisionFact, ...]]:
    """Return the positions of every type; the first counts for all the time before it."""
    places = Position.objects.order_by("order", "code")
    rows = (
        TypeRevision.objects.known_at(known_at)
        .select_related("type")
        .annotate(given=Exists(BrakeFigures.objects.filter(revision=OuterRef("pk"))))
        .prefetch_related(Prefetch("positions", queryset=places))
        .order_by("type__code", "effective_from", "number")
    )
    figures = figures_by_revision() if any(row.given for row in rows) else {}
    found: dict[str, tuple[TypeRevisionFact, ...]] = {}
    for row, until in _in_turn(rows, "type_id"):
        before = found.get(row.type.code, ())
        since = row.effective_from if before else dt.date.min
        positions = tuple(_position(place) for place in row.positions.all())
        fact = TypeRevisionFact(
            since, until, row.number, positions, figures.get(row.pk, ())
        )
        found[row.type.code] = (*before, fact)
    return found


def _position(row: Position) -> PositionFact:
    return PositionFact(
        code=row.code,
        label=row.label,
        kind=EquipmentKind(row.kind),
        scope=Scope(row.scope),
        mandatory=row.mandatory,
        effect_missing=Effect(row.effect_missing),
        normal=CockPosition(row.normal),
        group=row.group,
        bore_mm=row.bore_mm,
        min_pressure_bar=(
            None if row.min_pressure_bar is None else float(row.min_pressure_bar)
        ),
    )

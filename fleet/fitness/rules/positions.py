"""Rules of positions: what must be fitted where, and that it suits."""

from collections.abc import Iterator
from dataclasses import replace

from fleet.fitness.case import Case, Layout, sentence
from fleet.fitness.examples import (
    AIR_POSITIONS,
    DISTRIBUTOR,
    ENTERED,
    HOSE,
    RESERVOIR,
    SOUND_AIR,
    changed,
    fitted,
    sound,
)
from fleet.fitness.examples import item as make_item
from fleet.fitness.facts import EquipmentFact, FittedFact, PositionFact
from fleet.fitness.findings import Evidence, Finding
from fleet.fitness.intervals import Interval, gaps, overlap
from fleet.fitness.rulebook import Rule, rule
from fleet.fitness.rules.faults import weighed
from fleet.register.vocabulary import Effect, EquipmentKind, Fitment, Scope

_PRACTICE = "common practice"


def _with_item(position: PositionFact, **changes: object) -> dict[int, EquipmentFact]:
    number = AIR_POSITIONS.index(position) + 1
    return {number: make_item(number, position, **changes)}


def _without(position: PositionFact) -> tuple[FittedFact, ...]:
    return tuple(f for f in SOUND_AIR.fitted if f.position != position.code)


@rule(
    "P01",
    "Position empty",
    why="A brake with a part missing does not work as it was proved to work; an open "
    "pipe end does not hold the brake pipe.",
    source=_PRACTICE,
    clears="Fit an item of the right kind in the position.",
    flags=changed(fitted=_without(HOSE)),
    passes=sound(),
)
def position_empty(rule: Rule, case: Case) -> Iterator[Finding]:
    """Yield the days a position that must be filled was empty."""
    filled = _filled(case)
    for layout in case.layouts:
        for position in layout.positions.values():
            if not position.mandatory:
                continue
            days = filled.get(position.code, [])
            if len(days) == 1 and overlap(days[0], layout[:2]) == layout[:2]:
                continue  # filled all the while: the usual file
            for needed in _fitted_for(case, layout, position.scope):
                for empty in gaps(days, needed):
                    yield rule.finding(
                        case,
                        empty,
                        weighed(position.scope, position.effect_missing),
                        position.scope,
                        f"Nothing fitted: {position.label}",
                        clears=f"Fit {position.label}.",
                        position=position.code,
                    )


def _filled(case: Case) -> dict[str, list[Interval]]:
    """Return the days each position was surely filled."""
    ordered = sorted(case.presences, key=lambda p: (p.since, p.until, p.fitting.id))
    filled: dict[str, list[Interval]] = {}
    for presence in ordered:
        days = filled.setdefault(presence.fitting.position, [])
        since = presence.since
        freed = days[-1][1] if days else case.begin
        latest = presence.fitting.since.latest
        if latest is not None and freed < since < latest:
            since = latest  # not a change-over: it may have been empty until then
        if since < presence.until:
            days.append((since, presence.until))
    return filled


def _fitted_for(case: Case, layout: Layout, scope: Scope) -> Iterator[Interval]:
    """Yield the days of a layout on which the vehicle has a system the scope bears on."""
    for phase in case.phases:
        systems = (phase.particulars.fitment(system) for system in scope.systems)
        if all(fitment is Fitment.NONE for fitment in systems):
            continue
        part = overlap((layout.since, layout.until), (phase.since, phase.until))
        if part:
            yield part


def _placed(case: Case) -> Iterator[tuple[Interval, PositionFact, EquipmentFact]]:
    for days, position, _, item in case.placed:
        if position is not None and item is not None:
            yield days, position, item


def _misfit(
    rule: Rule,
    case: Case,
    days: Interval,
    position: PositionFact,
    item: EquipmentFact,
    text: str,
    *,
    missing: bool = False,
) -> Finding:
    return rule.finding(
        case,
        days,
        weighed(position.scope, position.effect_missing),
        position.scope,
        f"{sentence(position.label)}: {text}",
        position=position.code,
        equipment=item.id,
        evidence=(Evidence("equipment", item.id, item.serial),),
        missing=missing,
    )


@rule(
    "P02",
    "Wrong kind of equipment",
    why="An item of another kind does not do the work of the position.",
    source=_PRACTICE,
    clears="Exchange it for an item of the right kind, or correct the record.",
    flags=sound(equipment=_with_item(DISTRIBUTOR, kind=EquipmentKind.TRIPLE_VALVE)),
    passes=sound(equipment=_with_item(DISTRIBUTOR, kind=EquipmentKind.DISTRIBUTOR)),
)
def wrong_kind(rule: Rule, case: Case) -> Iterator[Finding]:
    """Yield the days an item of another kind sat in a position."""
    for days, position, item in _placed(case):
        if item.kind is not position.kind:
            text = f"{item.kind.label.lower()} {item.serial} fitted"
            text += f", {position.kind.label.lower()} required"
            yield _misfit(rule, case, days, position, item, text)


@rule(
    "P03",
    "Not interchangeable",
    why="Only items of one group were proved to work in the position.",
    source=_PRACTICE,
    clears="Exchange it for an item of the group, or record its group.",
    flags=sound(equipment=_with_item(DISTRIBUTOR, group="D2")),
    passes=sound(equipment=_with_item(DISTRIBUTOR, group="D1")),
)
def wrong_group(rule: Rule, case: Case) -> Iterator[Finding]:
    """Yield the days an item of another or no known group sat in a position."""
    for days, position, item in _placed(case):
        if position.group and item.group != position.group:
            has = f"is of group {item.group}" if item.group else "has no group recorded"
            text = f"{item.serial} {has}, group {position.group} required"
            yield _misfit(
                rule, case, days, position, item, text, missing=not item.group
            )


@rule(
    "P04",
    "Wrong bore",
    why="A smaller bore chokes the pipe and slows the brake along the train.",
    source=_PRACTICE,
    clears="Exchange it for an item of the right bore, or record its bore.",
    flags=sound(equipment=_with_item(HOSE, bore_mm=31)),
    passes=sound(equipment=_with_item(HOSE, bore_mm=32)),
)
def wrong_bore(rule: Rule, case: Case) -> Iterator[Finding]:
    """Yield the days an item of another or unknown bore sat in a position."""
    for days, position, item in _placed(case):
        if position.bore_mm is not None and item.bore_mm != position.bore_mm:
            unknown = item.bore_mm is None
            has = "has no bore recorded" if unknown else f"has {item.bore_mm} mm bore"
            text = f"{item.serial} {has}, {position.bore_mm} mm required"
            yield _misfit(rule, case, days, position, item, text, missing=unknown)


@rule(
    "P05",
    "Pressure rating too low",
    why="A vessel or hose rated below the working pressure may burst.",
    source=_PRACTICE,
    clears="Exchange it for an item of sufficient rating, or record its rating.",
    flags=sound(equipment=_with_item(RESERVOIR, pressure_bar=6.9)),
    passes=sound(equipment=_with_item(RESERVOIR, pressure_bar=7.0)),
)
def pressure_rating(rule: Rule, case: Case) -> Iterator[Finding]:
    """Yield the days an item rated too low, or not known to be rated, sat in a position."""
    for days, position, item in _placed(case):
        least, rated = position.min_pressure_bar, item.pressure_bar
        if least is not None and (rated is None or rated < least):
            unknown = rated is None
            has = "has no pressure rating" if unknown else f"is rated {rated:g} bar"
            text = f"{item.serial} {has}, {least:g} bar required"
            yield _misfit(rule, case, days, position, item, text, missing=unknown)


@rule(
    "P06",
    "Fitted where the type has no place",
    why="What the type does not know is in nobody's proof or test.",
    source=_PRACTICE,
    clears="Take the item off, or revise the vehicle type.",
    flags=sound(
        equipment={90: make_item(90, DISTRIBUTOR)},
        fitted=(fitted(replace(DISTRIBUTOR, code="second"), 90, ENTERED),),
    ),
    passes=sound(equipment={90: make_item(90, DISTRIBUTOR)}),
)
def no_such_place(rule: Rule, case: Case) -> Iterator[Finding]:
    """Yield the days an item sat in a position the type did not list."""
    for days, position, fitting, _ in case.placed:
        if position is None:
            yield rule.finding(
                case,
                days,
                Effect.DISCOUNT,
                Scope.VEHICLE,
                f"Fitted where the type lists no position: {fitting.position}",
                position=fitting.position,
                equipment=fitting.equipment,
                evidence=(Evidence("fitting", fitting.id, fitting.position),),
                missing=True,
            )


@rule(
    "P07",
    "Fitted item without a record",
    why="Nothing is known of the item: not its kind, age, rating or standing.",
    source=_PRACTICE,
    clears="Record the item, or exchange it for one that is recorded.",
    flags=changed(equipment={n: e for n, e in SOUND_AIR.equipment.items() if n > 1}),
    passes=sound(),
)
def no_record(rule: Rule, case: Case) -> Iterator[Finding]:
    """Yield the days an item without a record sat in a position."""
    for days, position, fitting, item in case.placed:
        if item is not None:
            continue
        effect = position.effect_missing if position else Effect.DISCOUNT
        scope = position.scope if position else Scope.VEHICLE
        label = position.label if position else fitting.position
        yield rule.finding(
            case,
            days,
            weighed(scope, effect),
            scope,
            f"{sentence(label)}: the item fitted has no record",
            position=fitting.position,
            equipment=fitting.equipment,
            missing=True,
        )

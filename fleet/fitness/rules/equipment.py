"""Rules of the standing of equipment while it is fitted."""

import datetime as dt
from collections.abc import Iterator

from fleet.engineering.calendar import Moment
from fleet.fitness.case import Case, Placed, sentence
from fleet.fitness.examples import DAY, DISTRIBUTOR, MADE, days_ago, item, sound
from fleet.fitness.facts import EquipmentFact, StateFact
from fleet.fitness.findings import Evidence, Finding
from fleet.fitness.intervals import FOREVER, Interval, gaps, held, overlap
from fleet.fitness.rulebook import Rule, rule
from fleet.fitness.rules.faults import weighed
from fleet.register.vocabulary import Effect, EquipmentState, Scope


def _until(last: Moment) -> dict[int, EquipmentFact]:
    """Return the distributor, unserviceable up to a moment."""
    bad = StateFact(Moment.on(days_ago(30)), last, EquipmentState.UNSERVICEABLE)
    good = StateFact(last, None, EquipmentState.SERVICEABLE)
    first = StateFact(Moment.on(MADE), bad.since, EquipmentState.SERVICEABLE)
    return {3: item(3, DISTRIBUTOR, states=(first, bad, good))}


@rule(
    "E01",
    "Equipment not serviceable",
    why="An item set aside as not serviceable cannot be relied on while it is fitted.",
    source="common practice",
    clears="Exchange the item, or have it made and recorded serviceable.",
    flags=sound(equipment=_until(Moment.on(days_ago(-1)))),
    passes=sound(equipment=_until(Moment.on(DAY))),
)
def not_serviceable(rule: Rule, case: Case) -> Iterator[Finding]:
    """Yield the days an item that was not serviceable sat on the vehicle."""
    for placed in case.placed:
        for state in placed.item.states if placed.item else ():
            if state.state is EquipmentState.SERVICEABLE:
                continue
            days = overlap(held(state.since, state.until), placed.days)
            if days:
                text = f"is {state.state.label.lower()}"
                yield _fault(rule, case, placed, days, text)


@rule(
    "E02",
    "Standing of equipment not known",
    why="What is not known to be serviceable cannot be relied on.",
    source="common practice",
    clears="Examine the item and record its standing.",
    flags=sound(equipment={3: item(3, DISTRIBUTOR, states=())}),
    passes=sound(),
)
def standing_unknown(rule: Rule, case: Case) -> Iterator[Finding]:
    """Yield the days no standing of a fitted item is recorded."""
    for placed in case.placed:
        if placed.item is None:
            continue
        begin = placed.days[0]
        known = [_known(state, begin) for state in placed.item.states]
        if len(known) == 1 and known[0][0] <= begin and known[0][1] == FOREVER:
            continue  # one standing all the while: the usual file
        for days in gaps(known, placed.days):
            text = "has no standing recorded"
            yield _fault(rule, case, placed, days, text, missing=True)


def _known(state: StateFact, begin: dt.date) -> Interval:
    since = state.since.earliest or begin
    if state.until is None:
        return since, FOREVER
    return since, state.until.earliest or begin


def _fault(
    rule: Rule,
    case: Case,
    placed: Placed,
    days: Interval,
    text: str,
    *,
    missing: bool = False,
) -> Finding:
    _, position, fitting, item = placed
    assert item is not None
    scope = position.scope if position else Scope.VEHICLE
    effect = position.effect_missing if position else Effect.DISCOUNT
    label = position.label if position else fitting.position
    return rule.finding(
        case,
        days,
        weighed(scope, effect),
        scope,
        f"{sentence(label)} {item.serial} {text}",
        position=fitting.position,
        equipment=item.id,
        evidence=(Evidence("equipment", item.id, item.serial),),
        missing=missing,
    )

"""Rules of the standing of equipment while it is fitted."""

import datetime as dt
from collections.abc import Iterator

from fleet.engineering.calendar import Moment
from fleet.fitness.case import Case, Presence, sentence
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
    for presence in case.presences:
        for state in presence.item.states if presence.item else ():
            if state.state is EquipmentState.SERVICEABLE:
                continue
            days = overlap(held(state.since, state.until), presence.days)
            if days:
                word = state.state.label.lower()
                yield from _fault(rule, case, presence, days, f"is {word}")


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
    for presence in case.presences:
        if presence.item is None:
            continue
        states = presence.item.states
        if len(states) == 1 and states[0].until is None:
            since = states[0].since.earliest
            if since is None or since <= presence.since:
                continue  # one standing all the while: the usual file
        known = [
            (s.since.earliest or presence.since, _end(s, presence)) for s in states
        ]
        for days in gaps(known, presence.days):
            text = "has no standing recorded"
            yield from _fault(rule, case, presence, days, text, missing=True)


def _end(state: StateFact, presence: Presence) -> dt.date:
    if state.until is None:
        return FOREVER
    return state.until.earliest or presence.since


def _fault(
    rule: Rule,
    case: Case,
    presence: Presence,
    days: Interval,
    text: str,
    *,
    missing: bool = False,
) -> Iterator[Finding]:
    item = presence.item
    assert item is not None
    then = Presence(*days, presence.fitting, item)
    for part, position in case.places(then):
        scope = position.scope if position else Scope.VEHICLE
        effect = position.effect_missing if position else Effect.DISCOUNT
        label = position.label if position else presence.fitting.position
        yield rule.finding(
            case,
            part,
            weighed(scope, effect),
            scope,
            f"{sentence(label)} {item.serial} {text}",
            position=presence.fitting.position,
            equipment=item.id,
            evidence=(Evidence("equipment", item.id, item.serial),),
            missing=missing,
        )

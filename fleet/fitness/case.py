"""One vehicle's file beside the policy, with what several rules read worked out once."""

import datetime as dt
from collections import defaultdict
from collections.abc import Iterator
from functools import cached_property
from typing import NamedTuple

from fleet.defects.vocabulary import Brake
from fleet.engineering.calendar import EARLIEST_DAY, Moment
from fleet.fitness.facts import (
    Conditions,
    EquipmentFact,
    FittedFact,
    Particulars,
    Policy,
    PositionFact,
    TestFact,
    VehicleFile,
)
from fleet.fitness.intervals import (
    ALWAYS,
    FOREVER,
    Interval,
    gaps,
    held,
    merged,
    overlap,
    sure,
)
from fleet.fitness.obligations import Obligation, latest, obligations
from fleet.register.vocabulary import VehicleStatus

_UNSTATED = Conditions(since=ALWAYS, until=None, revision=0, source="")


class Phase(NamedTuple):
    """Days over which one version of the particulars held."""

    since: dt.date
    until: dt.date
    particulars: Particulars


class Layout(NamedTuple):
    """Days over which a vehicle had one set of positions."""

    since: dt.date
    until: dt.date
    positions: dict[str, PositionFact]


class Presence(NamedTuple):
    """Days over which an item sat in a position; `item` None: it has no record."""

    since: dt.date
    until: dt.date
    fitting: FittedFact
    item: EquipmentFact | None

    @property
    def days(self) -> Interval:
        """Return the days as an interval."""
        return self.since, self.until


class Placed(NamedTuple):
    """Days over which an item sat in one version of a position, None if there is none."""

    days: Interval
    position: PositionFact | None
    fitting: FittedFact
    item: EquipmentFact | None


class Case:
    """
    A file and a policy, read together.

    Particulars, fittings and standings follow each other at the first day their change
    can mean, as the register keeps them; what a date leaves open beyond that counts at
    its worst.
    """

    def __init__(self, file: VehicleFile, policy: Policy) -> None:
        self.file = file
        self.policy = policy

    @cached_property
    def begin(self) -> dt.date:
        """Return the first day anything is known of the vehicle."""
        known = [p.since.earliest for p in self.file.particulars if p.since.earliest]
        if not known or len(known) < len(self.file.particulars):
            return EARLIEST_DAY
        return min(known)

    @cached_property
    def phases(self) -> list[Phase]:
        """Return the versions of the particulars in order, none overlapping."""
        found: list[Phase] = []
        ordered = sorted(self.file.particulars, key=_particulars_order)
        for at, particulars in enumerate(ordered):
            since = particulars.since.earliest or self.begin
            following = ordered[at + 1].since if at + 1 < len(ordered) else None
            ends = [(following.earliest or self.begin) if following else FOREVER]
            if particulars.until is not None and particulars.until.earliest:
                ends.append(particulars.until.earliest)
            if since < min(ends):
                found.append(Phase(since, min(ends), particulars))
        return found

    @cached_property
    def layouts(self) -> list[Layout]:
        """Return the positions of the vehicle's type, by the days they were in force."""
        found: list[Layout] = []
        for type_code, days in self.types:
            for revision in self.file.types.get(type_code, ()):
                part = overlap(days, (revision.since, revision.until or FOREVER))
                if part:
                    places = {p.code: p for p in revision.positions}
                    found.append(Layout(*part, places))
        return found

    @cached_property
    def types(self) -> list[tuple[str, Interval]]:
        """Return the vehicle's type codes in order, with the days each held."""
        found: list[tuple[str, Interval]] = []
        for phase in self.phases:
            code = phase.particulars.type_code
            if found and found[-1][0] == code and found[-1][1][1] == phase.since:
                found[-1] = code, (found[-1][1][0], phase.until)
            else:
                found.append((code, (phase.since, phase.until)))
        return found

    @cached_property
    def presences(self) -> list[Presence]:
        """Return what sat where, from the first to the first day its dates can mean."""
        found: list[Presence] = []
        for fitting in self.file.fitted:
            since = fitting.since.earliest or self.begin
            until = FOREVER
            if fitting.until is not None:
                # Taken off, nobody knows when: it is not there to be relied on.
                until = fitting.until.earliest or since
            if since < until:
                item = self.file.equipment.get(fitting.equipment)
                found.append(Presence(since, until, fitting, item))
        return found

    @cached_property
    def carried(self) -> dict[int, list[Presence]]:
        """Return the presences of each item by its id."""
        found: dict[int, list[Presence]] = defaultdict(list)
        for presence in self.presences:
            found[presence.fitting.equipment].append(presence)
        return found

    def while_carried(
        self, equipment: int | None, interval: Interval
    ) -> list[Interval]:
        """Return the parts of an interval in which the item was fitted here."""
        if equipment is None:
            return [interval]
        carried = self.carried.get(equipment, ())
        return [part for p in carried if (part := overlap(interval, p.days))]

    def place_of(self, equipment: int | None) -> str:
        """Return the position an item last sat in; "" for the vehicle itself."""
        carried = self.carried.get(equipment) if equipment is not None else None
        if not carried:
            return ""
        return max(carried, key=latest).fitting.position

    @cached_property
    def placed(self) -> list[Placed]:
        """Return what sat where with its position, through the revisions of the type."""
        found: list[Placed] = []
        for presence in self.presences:
            days = presence.days
            for layout in self.layouts:
                part = overlap(days, (layout.since, layout.until))
                if part:
                    position = layout.positions.get(presence.fitting.position)
                    fitting, item = presence.fitting, presence.item
                    found.append(Placed(part, position, fitting, item))
        return found

    def position_of(self, fitting: FittedFact) -> PositionFact | None:
        """Return the position a fitting was made to, as the type stood then."""
        day = fitting.since.earliest or self.begin
        for layout in self.layouts:
            if layout.since <= max(day, self.begin) < layout.until:
                return layout.positions.get(fitting.position)
        return None

    @cached_property
    def tests(self) -> dict[tuple[str, int | None], list[TestFact]]:
        """Return the tests by procedure and item, None for the vehicle itself."""
        found: dict[tuple[str, int | None], list[TestFact]] = defaultdict(list)
        for test in self.file.tests:
            found[test.procedure, test.equipment].append(test)
        return found

    def passes(self, procedure: str, equipment: int | None) -> list[Moment]:
        """Return when a procedure was passed so that it counts, in no order."""
        tests = self.tests.get((procedure, equipment), ())
        return [test.on for test in tests if test.counts]

    @cached_property
    def obligations(self) -> list[Obligation]:
        """Return every requirement on the vehicle and its items, and how each stands."""
        return obligations(self)

    @cached_property
    def conditions(self) -> list[tuple[Interval, Conditions]]:
        """Return the general conditions by the days they were in force, without gaps."""
        stated = [
            ((c.since, c.until or FOREVER), c)
            for c in sorted(self.policy.conditions, key=lambda c: c.revision)
        ]
        holes = gaps((days for days, _ in stated), (ALWAYS, FOREVER))
        return [*stated, *((hole, _UNSTATED) for hole in holes)]

    def conditions_over(
        self, interval: Interval
    ) -> Iterator[tuple[Interval, Conditions]]:
        """Yield the general conditions over an interval, part by part."""
        for days, conditions in self.conditions:
            part = overlap(interval, days)
            if part:
                yield part, conditions

    @cached_property
    def usage_window_days(self) -> int:
        """Return the window of the newest conditions, for forecasts of usage."""
        newest = max(
            self.policy.conditions, key=lambda c: c.revision, default=_UNSTATED
        )
        return newest.usage_window_days

    def while_status(self, status: VehicleStatus) -> list[Interval]:
        """Return the days on which the vehicle may have had a status."""
        phases = [p for p in self.phases if p.particulars.status is status]
        return merged(
            (p.since, max(p.until, _latest(p.particulars.until, p.until)))
            for p in phases
        )

    @cached_property
    def stored(self) -> list[Interval]:
        """Return the days the vehicle was out of use."""
        periods = (held(s.since, s.until) for s in self.file.storage)
        return merged([*self.while_status(VehicleStatus.STORED), *periods])

    @cached_property
    def surely_stored(self) -> list[Interval]:
        """Return the days the vehicle was out of use whatever its dates can mean."""
        return merged(sure(s.since, s.until) for s in self.file.storage)

    @cached_property
    def accepted(self) -> list[Interval]:
        """Return the days a visiting vehicle ran on its owner's regime, accepted so."""
        return merged(
            part
            for days in self.while_status(VehicleStatus.VISITING)
            for visit in self.file.visits
            if (part := overlap(days, (visit.since, visit.until)))
        )

    def isolated(self, brake: Brake) -> list[Interval]:
        """Return the days a complete isolation of the whole of a brake surely held."""
        return merged(
            sure(i.since, i.until)
            for i in self.file.isolations
            if i.brake is brake and i.whole and i.complete
        )


def _particulars_order(particulars: Particulars) -> tuple[int, str]:
    return particulars.since.key or 0, particulars.number


def _latest(until: Moment | None, otherwise: dt.date) -> dt.date:
    return until.latest if until is not None and until.latest else otherwise


def title_of(policy: Policy, procedure: str) -> str:
    """Return the title of a procedure, its code where it has none."""
    return policy.procedures.get(procedure) or procedure or "no procedure"


def sentence(label: str) -> str:
    """Return a label as it begins a sentence."""
    return label[:1].upper() + label[1:]

"""The brake force a vehicle last showed, for its page."""

import datetime as dt
from dataclasses import dataclass

from fleet.engineering.calendar import Moment
from fleet.engineering.figures import compared
from fleet.fitness.case import Case, title_of
from fleet.fitness.facts import Policy, VehicleFile
from fleet.fitness.rules.force import measured_forces
from fleet.register.vocabulary import System


@dataclass(frozen=True, slots=True)
class ForceRow:
    """The newest force of one brake system by a day, kN, and what it is held against."""

    system: System
    test: int
    title: str
    on: Moment
    kn: float
    against_type: str
    against_before: str


def force_rows(file: VehicleFile, policy: Policy, day: dt.date) -> list[ForceRow]:
    """Return the newest force of each system; none where it was never measured."""
    case = Case(file, policy)
    rows = []
    for system in System:
        known = [
            found
            for found in measured_forces(case, system)
            if found[0].on.latest is not None and found[0].on.latest <= day
        ]
        if not known:
            continue
        test, figures, kn = known[-1]
        before = known[-2][2] if len(known) > 1 else None
        rows.append(
            ForceRow(
                system,
                test.id,
                title_of(policy, test.procedure),
                test.on,
                kn,
                compared(kn, figures.type_kn),
                compared(kn, before),
            )
        )
    return rows

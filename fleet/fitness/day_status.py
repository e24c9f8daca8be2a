"""Brake status of vehicles on a day, worked out from the facts, with every finding."""

import datetime as dt
from collections.abc import Collection
from dataclasses import dataclass

from fleet.fitness.findings import Finding, Span, Verdict
from fleet.fitness.gather import vehicle_files
from fleet.fitness.practice import practice_known
from fleet.fitness.rules import BOOK
from fleet.fitness.verdict import verdict
from fleet.register.models import VehicleVersion
from fleet.register.vocabulary import System


@dataclass(frozen=True, slots=True)
class DayStatus:
    """A vehicle on a day: the span of each system it is fitted for, and what it rests on."""

    vehicle: int
    number: str
    type_code: str
    spans: tuple[Span, ...]
    findings: tuple[Finding, ...]  # heaviest first


def day_statuses(
    day: dt.date,
    *,
    numbers: Collection[str] | None = None,
    known_at: int | None = None,
) -> list[DayStatus]:
    """
    Return the status of vehicles at the close of a day, in order of number.

    `numbers` are the running numbers borne on that day, in any case of letters; None for
    all vehicles. `known_at` is the number of an entry: only what was recorded up to it
    counts. A fixed number of queries.
    """
    chosen = None if numbers is None else {n.strip().casefold() for n in numbers}
    held = VehicleVersion.objects.known_at(known_at).holding_on(day).order_by("number")
    borne = {
        vehicle: (number, type_code)
        for vehicle, number, type_code in held.values_list(
            "vehicle", "number", "type__code"
        )
        if chosen is None or number.casefold() in chosen
    }
    practice = practice_known(known_at)
    asked = None if chosen is None else borne.keys()
    found = {}
    for file in vehicle_files(asked, known_at=known_at, practice=practice):
        if file.id in borne:
            said = verdict(file, practice.policy, BOOK)
            found[file.id] = _on(day, file.id, *borne[file.id], said)
    return [found[vehicle] for vehicle in borne if vehicle in found]


def _on(
    day: dt.date, vehicle: int, number: str, type_code: str, said: Verdict
) -> DayStatus:
    spans = (said.span_on(system, day) for system in System)
    findings = [finding for finding in said.findings if finding.holds_on(day)]
    findings.sort(key=lambda finding: -finding.effect.weight)
    return DayStatus(
        vehicle, number, type_code, tuple(s for s in spans if s), tuple(findings)
    )

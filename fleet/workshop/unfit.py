"""Weeks in which a vehicle is not braked for reasons that no planned work takes away."""

import datetime as dt
from collections.abc import Collection, Iterable, Iterator, Mapping

from fleet.fitness.case import Case
from fleet.fitness.facts import Policy, VehicleFile
from fleet.fitness.findings import Finding, Span
from fleet.fitness.gather import vehicle_files
from fleet.fitness.practice import practice_known
from fleet.fitness.rules import BOOK
from fleet.fitness.verdict import spans
from fleet.register.vocabulary import Level, System
from fleet.workshop.engine.problem import WEEK

# What falls due: never met, overrun, age limit reached, not to be worked out. The engine
# counts these itself, from the due dates; all else stands as the records have it.
PERIODIC = frozenset({"R01", "R02", "R03", "R04", "R05"})
Unfit = Mapping[tuple[str, System], frozenset[int]]  # vehicle and system: weeks


def unfit_weeks(start: dt.date, weeks: int, vehicles: Collection[str]) -> Unfit:
    """
    Return the weeks in which a vehicle would not be braked even were nothing overdue.

    A defect, an isolation, a failed test or a missing item holds as long as the records
    have no end of it: what is not known never helps a programme. A week counts where it
    is so on any day of it. A fixed number of queries.
    """
    practice = practice_known(None)
    files = vehicle_files(map(int, vehicles), practice=practice)
    found: dict[tuple[str, System], frozenset[int]] = {}
    for file in files:
        for system, out in unbraked_weeks(
            other_spans(file, practice.policy), start, weeks
        ).items():
            if out:
                found[str(file.id), system] = out
    return found


def other_spans(file: VehicleFile, policy: Policy) -> tuple[Span, ...]:
    """Return the spans of a file as they would be were nothing overdue."""
    case = Case(file, policy)
    return spans(case, [f for f in BOOK.run(case) if not is_periodic(f)])


def is_periodic(finding: Finding) -> bool:
    """Say whether a finding is of work that falls due."""
    return finding.code in PERIODIC


def unbraked_weeks(
    of: Iterable[Span], start: dt.date, weeks: int
) -> dict[System, frozenset[int]]:
    """Return, by system, the weeks with a day on which the vehicle is not braked."""
    found: dict[System, set[int]] = {}
    for span in of:
        out = found.setdefault(span.system, set())
        if span.level < Level.CONDITIONAL:
            out.update(_weeks_of(span, start, weeks))
    return {system: frozenset(out) for system, out in found.items()}


def _weeks_of(span: Span, start: dt.date, weeks: int) -> Iterator[int]:
    first = max(0, (span.since - start).days // WEEK)
    last = weeks - 1
    if span.until is not None:
        last = min(last, ((span.until - start).days - 1) // WEEK)
    yield from range(first, last + 1)

"""
Why a vehicle stands where it stands: level, findings, rules, and the records they rest on.

Pure: what the records themselves say (who, with what competence, by which instrument) is
read by `witnesses` and joined to the leaves of this tree by their kind and id.
"""

import datetime as dt
from collections.abc import Iterator
from dataclasses import dataclass

from fleet.fitness.case import Case
from fleet.fitness.facts import TestFact, VehicleFile
from fleet.fitness.findings import Evidence, Finding, Span
from fleet.fitness.obligations import Obligation, basis
from fleet.fitness.rulebook import Rule, RuleBook
from fleet.fitness.verdict import spans
from fleet.fitness.who_clears import (
    lacking_in,
    permission_to_clear,
    procedures_to_clear,
)
from fleet.register.vocabulary import Effect, Fitment, System


@dataclass(frozen=True, slots=True)
class Branch:
    """
    A finding that bears on the level, its rule, and the records it rests on.

    `governs`: nothing heavier holds. `permission` is what the deed that clears it asks
    for, `procedures` are those that may clear it, `lacking` the competences that were
    lacking.
    """

    finding: Finding
    rule: Rule
    governs: bool
    permission: str
    leaves: tuple[Evidence, ...]
    procedures: tuple[str, ...] = ()
    lacking: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Support:
    """A requirement that is met on the day, and the record that meets it."""

    title: str
    code: str
    revision: int
    source: str
    subject: str  # position of the item; "" for the vehicle
    due_on: dt.date | None
    basis: str
    leaves: tuple[Evidence, ...]


@dataclass(frozen=True, slots=True)
class SystemPart:
    """One brake system: its span on the day, what holds it down, what holds it up."""

    system: System
    span: Span
    branches: tuple[Branch, ...]
    supports: tuple[Support, ...]


@dataclass(frozen=True, slots=True)
class Explanation:
    """The whole chain for one vehicle on one day, as far as it can be told purely."""

    vehicle: int
    number: str
    on: dt.date
    rulebook: str
    policy: int  # number of the entry that last touched the policy
    parts: tuple[SystemPart, ...]

    @property
    def leaves(self) -> frozenset[Evidence]:
        """Return every record that the tree names."""
        found: set[Evidence] = set()
        for part in self.parts:
            for branch in part.branches:
                found.update(branch.leaves)
            for support in part.supports:
                found.update(support.leaves)
        return frozenset(found)


def explain(case: Case, book: RuleBook, on: dt.date) -> Explanation | None:
    """Return why a vehicle stands where it does; None where nothing is known that day."""
    number = _number(case.file, case, on)
    if number is None:
        return None
    findings = book.run(case)
    parts = []
    for span in spans(case, findings):
        if span.since <= on and (span.until is None or on < span.until):
            held = [f for f in span.findings if f.holds_on(on)]
            parts.append(
                SystemPart(
                    span.system,
                    span,
                    tuple(_branches(case, book, held)),
                    tuple(_supports(case, span.system, on, held)),
                )
            )
    return Explanation(
        case.file.id, number, on, book.version, case.policy.revision, tuple(parts)
    )


def _number(file: VehicleFile, case: Case, on: dt.date) -> str | None:
    for phase in case.phases:
        if phase.since <= on < phase.until:
            return phase.particulars.number
    return None


def _branches(case: Case, book: RuleBook, held: list[Finding]) -> Iterator[Branch]:
    heaviest = held[0].effect if held else None
    for finding in held:
        yield Branch(
            finding,
            book[finding.code],
            finding.effect is heaviest and heaviest is not Effect.ADVISE,
            permission_to_clear(finding),
            (*finding.evidence, *_last_done(case, finding)),
            tuple(sorted(set(procedures_to_clear(case, finding)))),
            tuple(sorted(set(lacking_in(case, finding)))),
        )


def _last_done(case: Case, finding: Finding) -> Iterator[Evidence]:
    """Yield the test a requirement was last met by, where the finding is about one."""
    named = {str(piece.id) for piece in finding.evidence if piece.kind == "requirement"}
    for obligation in case.obligations:
        same = obligation.requirement.code in named
        if same and obligation.equipment == finding.equipment:
            yield from _met_by(case, obligation, finding.since)
            return


def _met_by(case: Case, obligation: Obligation, on: dt.date) -> Iterator[Evidence]:
    procedure = obligation.requirement.procedure
    done = [
        test
        for test in case.tests.get((procedure, obligation.equipment), ())
        if test.counts and test.on.latest is not None and test.on.latest <= on
    ]
    if done:
        newest = max(done, key=_when)
        title = case.policy.procedures.get(procedure, procedure)
        yield Evidence("test", newest.id, f"{title}, {newest.on}")
    elif obligation.item is not None:
        yield Evidence("equipment", obligation.item.id, obligation.item.serial)


def _when(test: TestFact) -> tuple[dt.date, int]:
    return test.on.latest or dt.date.min, test.id


def _supports(
    case: Case, system: System, on: dt.date, held: list[Finding]
) -> Iterator[Support]:
    """Yield the requirements that bear on a system and are met on the day."""
    if not _braked(case, system, on):
        return
    short = {
        (str(piece.id), finding.equipment)
        for finding in held
        for piece in finding.evidence
        if piece.kind == "requirement"
    }
    for obligation in case.obligations:
        requirement = obligation.requirement
        applies = any(since <= on < until for since, until in obligation.windows)
        unmet = (requirement.code, obligation.equipment) in short
        if not applies or unmet or system not in requirement.scope.systems:
            continue
        due = obligation.course.due
        yield Support(
            requirement.title,
            requirement.code,
            requirement.revision,
            requirement.source,
            obligation.position,
            due.due_on if due else None,
            basis(obligation, due),
            tuple(_met_by(case, obligation, on)),
        )


def _braked(case: Case, system: System, on: dt.date) -> bool:
    return any(
        phase.since <= on < phase.until
        and phase.particulars.fitment(system) is not Fitment.NONE
        for phase in case.phases
    )

"""The explanation of a vehicle's status with its witnesses: for a page, as text, as JSON."""

import datetime as dt
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from fleet.fitness.asking import Asking, asking_on, who_may
from fleet.fitness.case import Case
from fleet.fitness.explaining import Branch, Explanation, Support, SystemPart, explain
from fleet.fitness.findings import Evidence
from fleet.fitness.gather import vehicle_files
from fleet.fitness.practice import practice_known
from fleet.fitness.rules import BOOK
from fleet.fitness.witness import Key, Witness
from fleet.fitness.witnesses import read_witnesses
from fleet.register.vocabulary import level_words


@dataclass(frozen=True, slots=True)
class Told:
    """An explanation and what stands behind each record it names."""

    explanation: Explanation
    witnesses: Mapping[Key, Witness]
    asking: Asking

    def witness(self, leaf: Evidence) -> Witness | None:
        """Return what stands behind a record; None where it has no row of its own."""
        return self.witnesses.get((leaf.kind, str(leaf.id)))

    def who_may(self, branch: Branch) -> str:
        """Return whose deed clears a finding, with all the operator asks of them."""
        return who_may(branch, self.asking)


def told(vehicle: int, on: dt.date, *, known_at: int | None = None) -> Told | None:
    """
    Explain the status of a vehicle at the close of a day; None: nothing is known of it.

    `known_at` is the number of an entry: only what was recorded up to it counts. A number
    of queries that does not grow with what is recorded.
    """
    practice = practice_known(known_at)
    files = vehicle_files([vehicle], known_at=known_at, practice=practice)
    file = next(files, None)
    found = explain(Case(file, practice.policy), BOOK, on) if file else None
    if found is None:
        return None
    witnesses = read_witnesses(found.leaves, known_at)
    return Told(found, witnesses, asking_on(on, vehicle, known_at))


def words_of(part: SystemPart) -> str:
    """Return the level of a system in words."""
    span = part.span
    return level_words(span.level, span.system, whole_vehicle=span.whole_vehicle)


def lines(told: Told) -> Iterator[str]:
    """Yield the explanation as indented text."""
    for part in told.explanation.parts:
        yield f"  {part.system.label}: {words_of(part)}, since {part.span.since}"
        if not part.branches:
            yield "    Nothing recorded bears on it."
        for branch in part.branches:
            yield from _branch(told, branch)
        for support in part.supports:
            yield f"    + {support.title}: met ({support.basis})"
            yield f"      required by: {support.source}, revision {support.revision}"
            yield from _leaves(told, support.leaves)


def _branch(told: Told, branch: Branch) -> Iterator[str]:
    finding, rule = branch.finding, branch.rule
    lead = "this decides" if branch.governs else finding.effect.label.lower()
    yield f"    - {finding.text} [{lead}]"
    if finding.condition and finding.condition != finding.text:
        yield f"      condition: {finding.condition}"
    yield f"      rule {rule.code}, {rule.title}: {rule.why}"
    yield f"      source: {finding.source}; rules of {told.explanation.rulebook}"
    yield from _leaves(told, branch.leaves)
    yield f"      clears it: {finding.clears} (by {told.who_may(branch)})"


def _leaves(told: Told, leaves: tuple[Evidence, ...]) -> Iterator[str]:
    for leaf in leaves:
        witness = told.witness(leaf)
        yield f"      record: {witness.words if witness else leaf.label}"
        if witness is None:
            continue
        for hand in witness.hands:
            competence = f", {hand.competence}" if hand.competence else ""
            yield f"        {hand.part} {hand.name}{competence}"
        for gauge in witness.gauges:
            yield f"        with {gauge.number}: {gauge.words}"
        at = f" on {witness.recorded_at:%Y-%m-%d}" if witness.recorded_at else ""
        yield f"        entry {witness.entry} by {witness.recorded_by}{at}"


def plain(told: Told) -> dict[str, Any]:
    """Return the explanation as values that JSON can hold."""
    found = told.explanation
    return {
        "number": found.number,
        "rulebook": found.rulebook,
        "policy": found.policy,
        "systems": {part.system.value: _part(told, part) for part in found.parts},
    }


def _part(told: Told, part: SystemPart) -> dict[str, Any]:
    return {
        "level": part.span.level.code,
        "words": words_of(part),
        "since": part.span.since.isoformat(),
        "until": part.span.until.isoformat() if part.span.until else None,
        "findings": [_plain_branch(told, branch) for branch in part.branches],
        "met": [_plain_support(told, support) for support in part.supports],
    }


def _plain_branch(told: Told, branch: Branch) -> dict[str, Any]:
    finding, rule = branch.finding, branch.rule
    return {
        "decides": branch.governs,
        "effect": finding.effect.value,
        "scope": finding.scope.value,
        "text": finding.text,
        "condition": finding.condition,
        "missing": finding.missing,
        "rule": {"code": rule.code, "title": rule.title, "why": rule.why},
        "source": finding.source,
        "clears": finding.clears,
        "cleared_by": told.who_may(branch),
        "records": [_plain_leaf(told, leaf) for leaf in branch.leaves],
    }


def _plain_support(told: Told, support: Support) -> dict[str, Any]:
    return {
        "requirement": support.code,
        "revision": support.revision,
        "title": support.title,
        "position": support.subject,
        "source": support.source,
        "due_on": support.due_on.isoformat() if support.due_on else None,
        "basis": support.basis,
        "records": [_plain_leaf(told, leaf) for leaf in support.leaves],
    }


def _plain_leaf(told: Told, leaf: Evidence) -> dict[str, Any]:
    record: dict[str, Any] = {"kind": leaf.kind, "id": leaf.id, "label": leaf.label}
    witness = told.witness(leaf)
    if witness is None:
        return record
    at = witness.recorded_at
    return record | {
        "words": witness.words,
        "persons": [
            {"part": hand.part, "name": hand.name, "competence": hand.competence}
            for hand in witness.hands
        ],
        "instruments": [
            {"id": gauge.instrument, "number": gauge.number, "standing": gauge.words}
            for gauge in witness.gauges
        ],
        "source": witness.source,
        "entry": witness.entry,
        "recorded_at": at.isoformat() if at else None,
        "recorded_by": witness.recorded_by,
    }

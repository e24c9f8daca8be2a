"""Rules and the book of them: an explicit table, nothing registers itself. Pure."""

import datetime as dt
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import Any

from fleet.fitness.case import Case
from fleet.fitness.facts import Policy, VehicleFile
from fleet.fitness.findings import Finding
from fleet.fitness.intervals import FOREVER, Interval
from fleet.register.vocabulary import Effect, Scope


@dataclass(frozen=True, slots=True)
class Example:
    """A file and a policy, and the day on which a rule does or does not object."""

    file: VehicleFile
    policy: Policy
    on: dt.date


@dataclass(frozen=True, slots=True)
class InForce:
    """The days a rule holds; either end open. A retired rule stays in the book."""

    since: dt.date | None = None
    until: dt.date | None = None


_ALWAYS = InForce()

Ordinary = Callable[["Rule", Case], Iterable[Finding]]
Following = Callable[["Rule", Case, Sequence[Finding]], Iterable[Finding]]


@dataclass(frozen=True)
class Rule:
    """
    One rule: its page, a pair of examples one step either side of its limit, its function.

    The function yields findings made with `finding`, takes no notice of the order of
    the facts, and never raises on odd ones. `follows` marks a rule that reads what the
    others found.
    """

    code: str
    title: str
    why: str
    source: str
    clears: str
    flags: Example
    passes: Example
    function: Following
    follows: bool = False
    in_force: InForce = _ALWAYS

    def findings(
        self, file: VehicleFile, policy: Policy, found: Sequence[Finding] = ()
    ) -> list[Finding]:
        """Return what the rule finds in one file, `found` being what others found."""
        return list(self.run(Case(file, policy), found))

    def run(self, case: Case, found: Sequence[Finding] = ()) -> Iterator[Finding]:
        """Yield the findings of a case, empty intervals left out."""
        for finding in self.function(self, case, found):
            if finding.until is None or finding.since < finding.until:
                yield finding

    def finding(
        self,
        case: Case,
        days: Interval,
        effect: Effect,
        scope: Scope,
        text: str,
        *,
        clears: str = "",
        source: str = "",
        condition: str = "",
        **more: Any,
    ) -> Finding:
        """
        Return a finding of this rule over an interval, clipped to its time in force.

        A condition always has words: where none are given, the text itself.
        """
        if effect is Effect.CONDITION:
            condition = condition or text
        since, until = days
        since = max(since, case.begin)
        if self.in_force is not _ALWAYS:
            since = max(since, self.in_force.since or since)
            until = min(until, self.in_force.until or FOREVER)
        return Finding(
            self.code,
            since,
            None if until == FOREVER else until,
            effect,
            scope,
            text,
            clears or self.clears,
            source or self.source,
            condition,
            **more,
        )


def rule(code: str, title: str, **page: Any) -> Callable[[Ordinary], Rule]:
    """Make a rule of a function `(rule, case)`; it is in force once a book lists it."""

    def build(function: Ordinary) -> Rule:
        def ordinary(rule: Rule, case: Case, _: Sequence[Finding]) -> Iterable[Finding]:
            return function(rule, case)

        return Rule(code=code, title=title, function=ordinary, **page)

    return build


def following_rule(code: str, title: str, **page: Any) -> Callable[[Following], Rule]:
    """Make a rule of a function `(rule, case, findings)` that runs after the others."""

    def build(function: Following) -> Rule:
        return Rule(code=code, title=title, function=function, follows=True, **page)

    return build


class RuleBook:
    """Every rule in force or retired, in order. Codes are for ever."""

    def __init__(self, *rules: Rule, version: str) -> None:
        self.rules = rules
        self.version = version
        self._by_code = {rule.code: rule for rule in rules}
        for rule in rules:
            if self._by_code[rule.code] is not rule:
                raise ValueError(f"two rules carry the code {rule.code}")
            if not (rule.source and rule.why and rule.clears):
                raise ValueError(f"rule {rule.code} lacks its why, source or remedy")

    def __iter__(self) -> Iterator[Rule]:
        return iter(self.rules)

    def __getitem__(self, code: str) -> Rule:
        """Return the rule of a code; KeyError if the book has none."""
        return self._by_code[code]

    def findings(self, file: VehicleFile, policy: Policy) -> tuple[Finding, ...]:
        """Return every finding of a file, in an order that only depends on the facts."""
        return self.run(Case(file, policy))

    def run(self, case: Case) -> tuple[Finding, ...]:
        """Return every finding of a case: first the ordinary rules, then those after."""
        found = [f for rule in self.rules if not rule.follows for f in rule.run(case)]
        first = tuple(found)
        for rule in self.rules:
            if rule.follows:
                found += rule.run(case, first)
        return tuple(sorted(found, key=_order))


def _order(finding: Finding) -> tuple[Any, ...]:
    return (
        finding.since,
        finding.code,
        finding.position,
        finding.equipment or 0,
        finding.text,
        finding.until or FOREVER,
        finding.effect,
        finding.scope,
        [str(evidence.id) for evidence in finding.evidence],
    )

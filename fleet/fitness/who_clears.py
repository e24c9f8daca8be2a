"""What the deed that clears a finding asks: a permission, tests, competences. Pure."""

from collections.abc import Iterator
from types import MappingProxyType

from fleet.fitness.case import Case
from fleet.fitness.facts import MatrixFact, RequirementFact
from fleet.fitness.findings import Evidence, Finding
from fleet.fitness.outside_facts import NoticeFact

_BY_CODE = MappingProxyType(
    {
        "C01": "record_facts",
        "D02": "release_vehicles",
        "I04": "record_facts",
        "K02": "edit_policy",
        "S02": "plan_work",
        "S06": "release_vehicles",
        "W01": "release_vehicles",
    }
)
_BY_SUBJECT = MappingProxyType(
    {
        "B": "edit_register",
        "C": "assess_defects",
        "D": "assess_defects",
        "I": "assess_defects",
        "K": "edit_register",
        "S": "edit_register",
    }
)
_ENDED_BY_TEST = frozenset("RTMGFNA")  # the subjects of rules a test may end


def permission_to_clear(finding: Finding) -> str:
    """Return the permission of `people` that the deed which clears a finding asks for."""
    if any(piece.kind == "released" for piece in finding.evidence):
        return "release_vehicles"
    usual = _BY_SUBJECT.get(finding.code[0], "record_facts")
    return _BY_CODE.get(finding.code, usual)


def procedures_to_clear(case: Case, finding: Finding) -> Iterator[str]:
    """Yield the procedures of the tests that may clear a finding."""
    if finding.code[0] in _ENDED_BY_TEST:
        for piece in finding.evidence:
            yield from _procedures(case, piece, finding)


def _procedures(case: Case, piece: Evidence, finding: Finding) -> Iterator[str]:
    if piece.kind == "test":
        yield from (test.procedure for test in case.file.tests if test.id == piece.id)
    asked: dict[str, tuple[RequirementFact | MatrixFact | NoticeFact, ...]] = {
        "requirement": case.policy.requirements,
        "matrix": case.policy.matrix,
        "notice": case.file.notices,
    }
    for fact in asked.get(piece.kind, ()):
        starts = fact.since <= finding.since or piece.kind == "notice"
        ended = fact.until is not None and fact.until <= finding.since
        if fact.code == piece.id and starts and not ended:
            named = fact.procedures if isinstance(fact, MatrixFact) else ()
            yield from named or (getattr(fact, "procedure", ""),)


def lacking_in(case: Case, finding: Finding) -> Iterator[str]:
    """Yield the competences, in words, that whoever did something did not hold."""
    for piece in finding.evidence:
        if piece.kind == "test":
            yield from (t.lacking for t in case.file.tests if t.id == piece.id)
        elif piece.kind == "released":
            yield from (w.lacking for w in case.file.work if w.id == piece.id)
        elif piece.kind == "defect":
            defects = (d for d in case.file.defects if d.id == piece.id)
            yield from (step.lacking for defect in defects for step in defect.steps)

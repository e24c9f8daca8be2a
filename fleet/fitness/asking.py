"""Who may clear a finding: the role, the competence, and whether somebody else."""

import datetime as dt
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from types import MappingProxyType

from fleet.defects.clearing import Clearing, clearing_on
from fleet.defects.models import WorkInHand
from fleet.examination.models import ProcedureRevision
from fleet.fitness.explaining import Branch
from fleet.people.models import Competence, Skill
from fleet.people.roles import bearers
from fleet.register.vocabulary import Effect, Scope


@dataclass(frozen=True, slots=True)
class Asking:
    """
    What the operator asks of who clears, as known at an entry.

    `recorded` are the competences held of anybody: others are not asked for. `tests` is
    the competence each procedure asks for, `work` the scope of work in hand by its id.
    """

    recorded: frozenset[str]
    clearing: Clearing
    tests: Mapping[str, str]
    work: Mapping[int, Scope]


def asking_on(on: dt.date, vehicle: int, known_at: int | None) -> Asking:
    """Return what is asked on a day of who clears anything of a vehicle: four queries."""
    competences = Competence.objects.all()
    if known_at is not None:
        competences = competences.filter(created_by__number__lte=known_at)
    revisions = ProcedureRevision.objects.known_at(known_at).filter(
        effective_from__lte=on
    )
    work = WorkInHand.objects.known_at(known_at).filter(vehicle=vehicle)
    return Asking(
        frozenset(competences.values_list("skill", flat=True)),
        clearing_on(on, known_at=known_at),
        dict(
            revisions.order_by("effective_from", "number").values_list(
                "procedure__code", "skill"
            )
        ),
        {pk: Scope(scope) for pk, scope in work.values_list("pk", "scope")},
    )


def who_may(branch: Branch, asking: Asking) -> str:
    """Return whose deed clears a finding, with all that is asked of them."""
    permission = branch.permission
    if branch.finding.code == "D02" and not _needs_release(branch, asking):
        permission = "record_facts"
    return "; ".join([f"a {bearers(permission)}", *_asked(branch, asking)])


def _needs_release(branch: Branch, asking: Asking) -> bool:
    return asking.clearing.needs_release(branch.finding.scope, branch.finding.effect)


def _asked(branch: Branch, asking: Asking) -> Iterator[str]:
    code = branch.finding.code
    if code in {"C01", "C02"}:
        for words in filter(None, branch.lacking):
            yield f"the counter-signature {_by(words)}, other than who did it"
    elif code == "W01" or (code == "D02" and _needs_release(branch, asking)):
        yield from _release(branch, asking)
    elif code == "I05" and branch.finding.effect is Effect.CONDITION:
        held = _if_recorded(Skill.RELEASE, asking) or "by a person"
        yield f"the cause {held}, other than who closed the one before"
    elif code in _ASKED and _ASKED[code][1] in asking.recorded:
        what, skill = _ASKED[code]
        yield f"{what} {_by(skill.label)}"
    for asked in sorted({asking.tests.get(one, "") for one in branch.procedures}):
        if asked:
            yield f"the test {_by(Skill(asked).label)}, or counter-signed by one"


def _release(branch: Branch, asking: Asking) -> Iterator[str]:
    """Yield who releases: competent, and not who did the work, where either is asked."""
    keys = {piece.id for piece in branch.finding.evidence if piece.kind == "work"}
    scopes = [scope for key, scope in asking.work.items() if key in keys]
    somebody_else = any(
        map(asking.clearing.needs_somebody_else, scopes or [branch.finding.scope])
    )
    held = _if_recorded(Skill.RELEASE, asking)
    if held or somebody_else:
        other = ", other than who did the work" if somebody_else else ""
        yield f"the release {held or 'by a person'}{other}"


def _if_recorded(skill: Skill, asking: Asking) -> str:
    """Return who holds a competence, where the operator records it of anybody."""
    return _by(skill.label) if skill in asking.recorded else ""


def _by(competence: str) -> str:
    words = f"{competence[:1].upper()}{competence[1:]}"
    return f"by a person with the competence “{words}”"


_ASKED = MappingProxyType(
    {
        "D01": ("the assessment", Skill.ASSESS),
        "S06": ("the acceptance", Skill.RELEASE),
    }
)

"""Where the records behind a finding can be seen."""

from collections.abc import Iterable
from dataclasses import dataclass

from django.urls import reverse

from fleet.fitness.findings import Evidence, Finding
from fleet.register.vocabulary import Effect

_PAGES = {
    "equipment": "register:equipment",
    "test": "examination:test",
    "defect": "defects:defect",
    "isolation": "defects:isolation",
    "instrument": "examination:instrument",
    "notice": "web:notice",
    "cock": "defects:cock",
    "concession": "web:concession",
    "vehicle": "web:vehicle",
    "type": "register:type",
}
_RECORDS = "people.record_facts"
_OPENED = (
    ("concession", "web:concession", "Open the concession", _RECORDS),
    ("defect", "defects:defect", "Open the defect", _RECORDS),
    ("isolation", "defects:isolation", "Open the isolation record", _RECORDS),
    ("work", "defects:work-release", "Release to traffic", "people.release_vehicles"),
    ("cock", "defects:cock", "Open the event", _RECORDS),
    ("released", "defects:work-sign", "Counter-sign it", "people.release_vehicles"),
)
_ENDED_BY_TEST = frozenset("RTMGF")  # the subjects of rules a test ends
_LIGHT = (Effect.ADVISE, Effect.CONDITION)
_ASKED_FOR = ("requirement", "equipment", "defect")
_CONCEDED = frozenset({"R02", "R03", "R04", "D02"})  # what a concession may cover


@dataclass(frozen=True, slots=True)
class Link:
    """
    Words that lead somewhere; `href` "" where there is no page of its own.

    `permission` is what the page behind it asks for; "" where everyone may look.
    """

    words: str
    href: str = ""
    permission: str = ""


def record_links(evidence: Iterable[Evidence]) -> list[Link]:
    """Return a link for each record a finding leans on."""
    return [Link(piece.label, _address(piece)) for piece in evidence]


def _address(piece: Evidence) -> str:
    name = _PAGES.get(piece.kind)
    if name:
        return reverse(name, args=[piece.id])
    if piece.kind in {"requirement", "matrix"}:
        return reverse("upkeep:part", args=[piece.kind, piece.id])
    return ""


def actions(
    vehicle: int, finding: Finding, *, has_item: bool, soon: bool = True
) -> list[Link]:
    """Return what a person can do from here about a finding, nearest first."""
    found = [
        Link(words, reverse(name, args=[piece.id]), permission)
        for piece in finding.evidence
        for kind, name, words, permission in _OPENED
        if piece.kind == kind
    ]
    if finding.position:
        name, words = ("exchange", "Exchange") if has_item else ("fit", "Fit")
        place = [vehicle, finding.position]
        found.append(Link(words, reverse(f"register:{name}", args=place), _RECORDS))
    if finding.code[0] in _ENDED_BY_TEST:
        address = f"{reverse('examination:test-add')}?vehicle={vehicle}"
        if not finding.equipment or finding.code[0] == "M":
            found.append(Link("Record a test", address, _RECORDS))
        else:
            item = f"{reverse('examination:test-add')}?equipment={finding.equipment}"
            found.append(Link("Record a test of it", item, _RECORDS))
    if soon and finding.code in _CONCEDED and finding.effect not in _LIGHT:
        found += _concession(vehicle, finding)
    return found


def _concession(vehicle: int, finding: Finding) -> list[Link]:
    """Return where a concession against a finding is asked for."""
    asked = [f"{e.kind}={e.id}" for e in finding.evidence if e.kind in _ASKED_FOR]
    if not finding.equipment and finding.code != "D02":
        asked.append(f"vehicle={vehicle}")
    address = f"{reverse('web:concession-ask')}?{'&'.join(asked)}"
    return [Link("Ask for a concession", address, _RECORDS)]

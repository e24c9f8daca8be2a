"""The page that explains a vehicle's status, down to each record."""

from dataclasses import dataclass

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render

from fleet.fitness.explained import Told, told, words_of
from fleet.fitness.explaining import Branch, Support, SystemPart
from fleet.fitness.findings import Evidence
from fleet.fitness.witness import Witness
from fleet.register.models import Vehicle
from fleet.web.asked import DayForm
from fleet.web.evidence import record_links
from fleet.web.known_part import known_part


@dataclass(frozen=True, slots=True)
class Leaf:
    """A record: where it can be seen, and what stands behind it."""

    href: str
    words: str
    witness: Witness | None


@dataclass(frozen=True, slots=True)
class BranchRow:
    """A finding, who may clear it, its records."""

    branch: Branch
    who: str
    leaves: list[Leaf]


@dataclass(frozen=True, slots=True)
class SupportRow:
    """A requirement that is met, and the record that meets it."""

    support: Support
    leaves: list[Leaf]


@dataclass(frozen=True, slots=True)
class PartRow:
    """One brake system as the page tells it."""

    part: SystemPart
    words: str
    branches: list[BranchRow]
    supports: list[SupportRow]


def explanation(request: HttpRequest, pk: int) -> HttpResponse:
    """Show why a vehicle stands where it does on a day."""
    vehicle = get_object_or_404(Vehicle, pk=pk)
    asked = DayForm(request.GET)
    found = told(pk, asked.day, known_at=asked.known_at)
    context = {
        "vehicle": vehicle,
        "asked": asked,
        "day": asked.day,
        "known": known_part(asked, vehicle),
        "found": found.explanation if found else None,
        "rows": [_row(found, part) for part in found.explanation.parts]
        if found
        else [],
    }
    return render(request, "web/explain.html", context)


def _row(found: Told, part: SystemPart) -> PartRow:
    branches = [
        BranchRow(branch, found.who_may(branch), _leaves(found, branch.leaves))
        for branch in part.branches
    ]
    supports = [SupportRow(s, _leaves(found, s.leaves)) for s in part.supports]
    return PartRow(part, words_of(part), branches, supports)


def _leaves(found: Told, leaves: tuple[Evidence, ...]) -> list[Leaf]:
    links = record_links(leaves)
    return [
        Leaf(link.href or (witness.address if witness else ""), link.words, witness)
        for link, witness in zip(links, map(found.witness, leaves), strict=True)
    ]

"""Which kinds of equipment in use nothing is required of, and which no procedure tests."""

import datetime as dt
from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass

from django.db.models import Count, OuterRef, Subquery

from fleet.examination.models import ProcedureLine, ProcedureRevision
from fleet.examination.vocabulary import Repeat, TestSubject
from fleet.register.models import EquipmentVersion, Fitting, Position
from fleet.register.vocabulary import EquipmentKind
from fleet.upkeep.models import RequirementRevision


@dataclass(frozen=True, slots=True)
class Covered:
    """A kind in use: how many are fitted, what is required of it, what tests it."""

    kind: EquipmentKind
    fitted: int
    required: tuple[str, ...]
    tested: tuple[str, ...]  # by a procedure of its own kind
    with_vehicle: tuple[str, ...]  # by procedures that bear on where it sits
    passed_over: tuple[tuple[str, int], ...] = ()  # designations nothing is asked of

    @property
    def rank(self) -> int:
        """Return how well it is covered, 0 for not at all."""
        own = bool(self.required) + bool(self.tested)
        return 2 * own + bool(self.with_vehicle)


def coverage(day: dt.date) -> list[Covered]:
    """Return the kinds fitted to vehicles now, the worst covered first: five queries."""
    counted = _fitted()
    required, narrowed = _required(day)
    tested, bearing = _procedures(day)
    scopes = _scopes()
    asked = _asked_of(day)
    rows = [
        Covered(
            EquipmentKind(kind),
            sum(designations.values()),
            tuple(required[kind]),
            (*tested[kind], *tested[""]),
            _each_once([*asked[kind], *(t for s in scopes[kind] for t in bearing[s])]),
            _passed_over(designations, narrowed[kind]),
        )
        for kind, designations in counted.items()
    ]
    return sorted(rows, key=lambda row: (row.rank, row.kind.label))


def _fitted() -> dict[str, dict[str, int]]:
    """Return how many items are fitted now, by kind and by type designation."""
    designation = EquipmentVersion.objects.current().filter(
        equipment=OuterRef("equipment")
    )
    held = (
        Fitting.objects.current()
        .on_vehicles()
        .open_ended()
        .annotate(
            designation=Subquery(
                designation.order_by("-since_key").values("designation")[:1]
            )
        )
    )
    found: dict[str, dict[str, int]] = defaultdict(dict)
    rows = held.order_by().values_list("equipment__kind", "designation")
    for kind, named, many in rows.annotate(Count("pk")):
        found[kind][named or ""] = many
    return found


def _required(day: dt.date) -> tuple[dict[str, list[str]], dict[str, list[str]]]:
    """Return titles, and the designations they are narrowed to, by kind."""
    revisions = RequirementRevision.objects.in_force(day).exclude(kind="")
    rows = list(revisions.order_by("title").values_list("kind", "title", "designation"))
    return (
        _gathered((kind, title) for kind, title, _ in rows),
        _gathered((kind, designation) for kind, _, designation in rows),
    )


def _passed_over(
    designations: dict[str, int], narrowed: list[str]
) -> tuple[tuple[str, int], ...]:
    """
    Return the designations no requirement of the kind applies to, with their numbers.

    An item of no known designation may be the one that is meant, so every one applies.
    """
    if not narrowed or "" in narrowed:
        return ()
    left = ((d, many) for d, many in designations.items() if d and d not in narrowed)
    return tuple(sorted(left))


def _procedures(day: dt.date) -> tuple[dict[str, list[str]], dict[str, list[str]]]:
    """Return titles by the kind a procedure is carried out on, and by scope."""
    rows = list(ProcedureRevision.objects.in_force(day).order_by("title"))
    items = [r for r in rows if r.subject == TestSubject.EQUIPMENT]
    vehicles = [r for r in rows if r.subject == TestSubject.VEHICLE]
    return (
        _gathered((row.kind, row.title) for row in items),
        _gathered((scope, row.title) for row in vehicles for scope in row.scopes),
    )


def _asked_of(day: dt.date) -> dict[str, list[str]]:
    """Return procedures on vehicles that ask something of each handle there is."""
    lines = ProcedureLine.objects.filter(
        revision__in=ProcedureRevision.objects.in_force(day), repeat=Repeat.HANDLE
    )
    titles = lines.order_by("revision__title").values_list("revision__title", flat=True)
    return _gathered((EquipmentKind.PASSENGER_ALARM, t) for t in titles.distinct())


def _each_once(titles: Iterable[str]) -> tuple[str, ...]:
    return tuple(sorted(set(titles)))


def _scopes() -> dict[str, list[str]]:
    places = Position.objects.filter(revision__closed_by__isnull=True)
    return _gathered(places.order_by().values_list("kind", "scope").distinct())


def _gathered(pairs: Iterable[tuple[str, str]]) -> dict[str, list[str]]:
    found: dict[str, list[str]] = defaultdict(list)
    for key, value in pairs:
        found[key].append(value)
    return found

"""Which kinds of equipment in use nothing is required of, and which no procedure tests."""

import datetime as dt
from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass

from django.db.models import Count

from fleet.examination.models import ProcedureLine, ProcedureRevision
from fleet.examination.vocabulary import Repeat, TestSubject
from fleet.register.models import Fitting, Position
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

    @property
    def rank(self) -> int:
        """Return how well it is covered, 0 for not at all."""
        own = bool(self.required) + bool(self.tested)
        return 2 * own + bool(self.with_vehicle)


def coverage(day: dt.date) -> list[Covered]:
    """Return the kinds fitted to vehicles now, the worst covered first: five queries."""
    held = Fitting.objects.current().open_ended().filter(vehicle__isnull=False)
    counted = held.values_list("equipment__kind").annotate(Count("pk")).order_by()
    required = _required(day)
    tested, bearing = _procedures(day)
    scopes = _scopes()
    asked = _asked_of(day)
    rows = [
        Covered(
            EquipmentKind(kind),
            many,
            tuple(required[kind]),
            (*tested[kind], *tested[""]),
            _each_once([*asked[kind], *(t for s in scopes[kind] for t in bearing[s])]),
        )
        for kind, many in counted
    ]
    return sorted(rows, key=lambda row: (row.rank, row.kind.label))


def _required(day: dt.date) -> dict[str, list[str]]:
    revisions = RequirementRevision.objects.in_force(day).exclude(kind="")
    return _gathered(revisions.order_by("title").values_list("kind", "title"))


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

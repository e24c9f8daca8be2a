"""The pipe diagram of a vehicle on a day: its positions as the drawing needs them."""

import datetime as dt
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from django.urls import reverse

from fleet.defects.models import IsolationLine
from fleet.fitness.facts import EquipmentFact, FittedFact, Particulars, VehicleFile
from fleet.fitness.findings import Finding
from fleet.fitness.intervals import held
from fleet.register.models import Position
from fleet.register.vocabulary import (
    CockPosition,
    Effect,
    Fitment,
    MainReservoirPipe,
    Scope,
    System,
)
from fleet.ui.pipe_diagram import Arrangement, Diagram, Part, pipe_diagrams


@dataclass(frozen=True, slots=True)
class Outstanding:
    """A finding with the number it bears on the page."""

    number: int
    finding: Finding


def fitted_on(file: VehicleFile, day: dt.date) -> dict[str, FittedFact]:
    """Return what is fitted at each position at the close of a day."""
    found = {}
    for fitting in file.fitted:
        first, end = held(fitting.since, fitting.until)
        if first <= day < end:
            found[fitting.position] = fitting
    return found


def diagrams(
    file: VehicleFile,
    particulars: Particulars,
    positions: Iterable[Position],
    outstanding: Iterable[Outstanding],
    day: dt.date,
) -> tuple[Diagram, ...]:
    """Return the drawings of a vehicle, every position in its state on the day."""
    fitted = fitted_on(file, day)
    by_position: dict[str, Outstanding] = {}
    for item in outstanding:
        by_position.setdefault(item.finding.position, item)
    left = cocks_left(file, day)
    parts = [
        _part(file, place, fitted.get(place.code), by_position.get(place.code), left)
        for place in positions
    ]
    return pipe_diagrams(parts, _arrangement(particulars))


def cocks_left(file: VehicleFile, day: dt.date) -> dict[str, str]:
    """Return how the cocks of isolations in force on a day were left, by position."""
    isolations = [
        isolation.id
        for isolation in file.isolations
        if held(isolation.since, isolation.until)[0]
        <= day
        < held(isolation.since, isolation.until)[1]
    ]
    if not isolations:
        return {}
    lines = IsolationLine.objects.filter(
        version__isolation__in=isolations,
        version__closed_by__isnull=True,
        version__until_key__isnull=True,
    ).exclude(position="")
    return {line.position: line.left for line in lines}


def _arrangement(particulars: Particulars) -> Arrangement:
    piped = particulars.main_reservoir_pipe is not MainReservoirPipe.NONE
    if particulars.air is Fitment.BRAKED:
        feeding = particulars.main_reservoir_pipe is MainReservoirPipe.FEEDING
        air = "two_pipe" if feeding else "one_pipe"
    else:
        air = particulars.air.value
    return Arrangement(air, particulars.vacuum.value, mr_pipe=piped)


def _part(
    file: VehicleFile,
    place: Position,
    fitting: FittedFact | None,
    outstanding: Outstanding | None,
    left: Mapping[str, str],
) -> Part:
    item = file.equipment.get(fitting.equipment) if fitting else None
    cock = left.get(place.code) or place.normal
    return Part(
        position=place.code,
        kind=place.kind,
        label=place.label,
        end=place.end,
        state=_state(place, fitting, outstanding, cock),
        note=_note(item, outstanding),
        number=outstanding.number if outstanding else None,
        href=reverse("register:position", args=[file.id, place.code]),
        cock=cock,
        system=_system(Scope(place.scope)),
    )


def _system(scope: Scope) -> str:
    systems = scope.systems
    return systems[0].value if len(systems) == 1 else ""


def _state(
    place: Position,
    fitting: FittedFact | None,
    outstanding: Outstanding | None,
    cock: str,
) -> str:
    if fitting is None and place.mandatory:
        return "empty"
    if outstanding and outstanding.finding.effect is Effect.STOP:
        return "stopped"
    if outstanding and outstanding.finding.effect is not Effect.ADVISE:
        return "attention"
    if place.normal == CockPosition.OPEN and cock == CockPosition.CLOSED:
        return "isolated"
    return "empty" if fitting is None else "sound"


def _note(item: EquipmentFact | None, outstanding: Outstanding | None) -> str:
    said = [item.serial] if item else []
    if outstanding:
        said.append(outstanding.finding.text)
    return ": ".join(said)


def systems_of(particulars: Particulars) -> list[System]:
    """Return the systems a vehicle has pipes of."""
    return [s for s in System if particulars.fitment(s) is not Fitment.NONE]

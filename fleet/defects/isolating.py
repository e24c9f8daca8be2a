"""The lines of an isolation record: what is asked, and what is still short of complete."""

from collections.abc import Iterable, Mapping, Sequence
from typing import Any, TypeAlias

from fleet.defects.models import IsolationLine
from fleet.defects.vocabulary import Brake, Extent, IsolationLineKind
from fleet.engineering.calendar import Moment
from fleet.records.refusing import refusing
from fleet.register.models import Position, Vehicle, VehicleVersion
from fleet.register.positions import particulars_at, revision_at
from fleet.register.vocabulary import (
    ISOLATING_COCKS,
    CockPosition,
    EquipmentKind,
    Fitment,
)

LineValues: TypeAlias = dict[str, Any]

_TAKES_OUT = {
    EquipmentKind.DISTRIBUTOR_ISOLATING_COCK,
    EquipmentKind.MR_ISOLATING_COCK,
}
_VENTED = {
    Brake.AIR: "Reservoirs and cylinders vented and drained",
    Brake.VACUUM: "Vacuum destroyed by the cords, cylinders down, reservoirs at rest",
}
_BLANKED = {
    Brake.AIR: "Branch from the brake pipe blanked or plugged",
    Brake.VACUUM: "Branch from the train pipe blanked or plugged",
}
_HAND = (
    (
        IsolationLineKind.DISCONNECTED,
        "Linkage disconnected and tied clear, or wound fully off and barred from use",
    ),
    (IsolationLineKind.BLOCKS_CLEAR, "Blocks seen clear, the automatic brake released"),
    (IsolationLineKind.SECURED, "Vehicle secured by other means while it stands"),
    (IsolationLineKind.LABEL, "Label fixed at every wheel or lever of the handbrake"),
)


def lines_for(vehicle: Vehicle, brake: Brake, moment: Moment) -> list[LineValues]:
    """
    Return every line a record of this isolation asks, unanswered.

    All isolating cocks of the type as it stood then; a blank or plug for vacuum, and for
    air where the type has no cock that takes the brake out; of a handbrake its linkage, and
    what holds the vehicle instead. Raises ValidationError, code `no_brake_to_isolate`,
    where the vehicle has no such brake.
    """
    _refuse_brakeless(vehicle, brake, moment)
    if brake is Brake.HAND:
        return [_seen(kind, label) for kind, label in _HAND]
    cocks: list[Position] = []
    if brake is Brake.AIR:
        places = revision_at(vehicle, moment).positions.order_by("order", "code")
        cocks = [place for place in places if place.kind in ISOLATING_COCKS]
    lines = [_cock(place) for place in cocks]
    if not any(line["isolates"] for line in lines):
        lines.append(_seen(IsolationLineKind.BLANKED, _BLANKED[brake]))
    lines += [
        _seen(IsolationLineKind.VENTED, _VENTED[brake]),
        _seen(IsolationLineKind.BLOCKS_CLEAR, IsolationLineKind.BLOCKS_CLEAR.label),
        _seen(IsolationLineKind.LABEL, IsolationLineKind.LABEL.label),
    ]
    return lines


def _refuse_brakeless(vehicle: Vehicle, brake: Brake, moment: Moment) -> None:
    particulars = particulars_at(vehicle, moment)
    if brake is Brake.HAND:
        _refuse_no_handbrake(particulars)
        return
    fitment = particulars.air if brake is Brake.AIR else particulars.vacuum
    if fitment != Fitment.BRAKED:
        words = Fitment(fitment).label.lower()
        raise refusing(
            f"The {brake.label.lower()} of {particulars.number} is recorded as "
            f"“{words}”; there is no brake of that system to isolate.",
            code="no_brake_to_isolate",
            field="system",
        )


def _refuse_no_handbrake(particulars: VehicleVersion) -> None:
    if not particulars.hand_brake:
        raise refusing(
            f"{particulars.number} is recorded as having no handbrake; there is none to "
            "take out of use.",
            code="no_brake_to_isolate",
            field="system",
        )


def _cock(place: Position) -> LineValues:
    return _line(
        IsolationLineKind.COCK,
        place.label,
        position=place.code,
        normal=place.normal or CockPosition.OPEN,
        isolates=place.kind in _TAKES_OUT,
    )


def _seen(kind: IsolationLineKind, label: str) -> LineValues:
    return _line(kind, label)


def _line(kind: IsolationLineKind, label: str, **values: Any) -> LineValues:
    blank = {"position": "", "normal": "", "isolates": False}
    unanswered = {"found": "", "left": "", "done": None}
    return {"kind": kind, "label": label, **blank, **unanswered, **values}


def values_of(line: IsolationLine) -> LineValues:
    """Return a stored line as values for a further version of the record."""
    names = _line(IsolationLineKind.COCK, "")
    return {name: getattr(line, name) for name in names}


def answered(
    asked: Sequence[LineValues], given: Iterable[Mapping[str, Any]]
) -> list[LineValues]:
    """
    Return the lines asked with the answers given; what was not answered stays open.

    Raises ValidationError, code `no_such_line`, for an answer to a line not asked.
    """
    lines = {(line["kind"], line["position"]): dict(line) for line in asked}
    for answer in given:
        place = (answer["kind"], answer.get("position", ""))
        if place not in lines:
            named = answer.get("label") or " ".join(p for p in place if p)
            raise refusing(
                f"This isolation has no line “{named}”. Start again from the page of "
                "the vehicle.",
                code="no_such_line",
            )
        kept = ("found", "left", "done")
        given_now = {k: answer[k] for k in kept if answer.get(k) not in {None, ""}}
        lines[place].update(given_now)
    return list(lines.values())


def shortfalls(extent: str, lines: Iterable[LineValues]) -> list[str]:
    """Return in words what keeps the record from being complete; empty: complete."""
    kept = [ln for ln in lines if ln["kind"] != IsolationLineKind.PUT_BACK]
    short = [words for line in kept if (words := _short(line, extent))]
    closed = any(line["left"] == CockPosition.CLOSED for line in kept)
    blanked = any(ln["kind"] == IsolationLineKind.BLANKED and ln["done"] for ln in kept)
    if extent == Extent.PART and not closed and not blanked:
        short.append("no cock is left closed")
    return short


def _short(line: LineValues, extent: str) -> str:
    label = line["label"]
    if line["kind"] == IsolationLineKind.COCK:
        if not (line["found"] and line["left"]):
            missing = "found" if not line["found"] else "left"
            return f"{label}: not said how it was {missing}"
        open_still = line["left"] != CockPosition.CLOSED
        if extent == Extent.WHOLE and line["isolates"] and open_still:
            return f"{label}: left open, so the brake is not cut out"
        return ""
    if line["done"] is None:
        return f"{label}: not answered"
    return "" if line["done"] else f"{label}: answered no"


_BACK = {
    IsolationLineKind.BLANKED: "Blank or plug taken out",
    IsolationLineKind.DISCONNECTED: "Linkage connected, every pin in and secured",
    IsolationLineKind.LABEL: "Label taken off both sides",
}


def put_back(lines: Iterable[LineValues]) -> list[LineValues]:
    """Return the lines of a restoring: every cock to its normal position, label off."""
    back = IsolationLineKind.PUT_BACK
    found: list[LineValues] = []
    for line in lines:
        if line["kind"] == IsolationLineKind.COCK:
            normal = line["normal"] or CockPosition.OPEN
            seen = line["left"] or normal
            found.append({**line, "kind": back, "found": seen, "left": normal})
        elif words := _BACK.get(line["kind"], "") if line["done"] else "":
            found.append({**_seen(back, words), "done": True})
    return found

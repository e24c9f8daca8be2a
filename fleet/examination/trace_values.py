"""What lines take from the points found on a trace, as a record keeps it."""

from collections.abc import Iterator
from dataclasses import asdict
from typing import Any

from fleet.engineering.trace_found import Hold, TracePoints
from fleet.engineering.units import UNITS
from fleet.examination.vocabulary import Found
from fleet.ui.trace_drawing import found_on

LOSS_MINUTES = 5  # over which a line without "per minute" asks the loss
SHORTEST_HOLD_S = 60.0  # a shorter one does not tell what is lost in five minutes
_HUNDRED = 100  # s or kPa, from which on a second decimal tells nothing
_SPANS = {
    "filled": Found.FILL_TIME,
    "released": Found.RELEASE_TIME,
    "fallen": Found.FALL_TIME,
    "back": Found.RISE_TIME,
}  # by the first word of what is drawn


def found_in(points: TracePoints) -> dict[str, Any]:
    """Return the points by name, the `values` lines take, the `spans` and `notes`."""
    marks, spans = found_on(points)
    values = _pipe_values(points) if points.falls else _values(points)
    notes = [*_counted(points), *points.notes]
    hold = None if points.falls else points.hold
    if hold is not None and value_name(Found.LEAKAGE, "pressure") not in values:
        notes.append(_why_no_loss(hold))
    told = [asdict(s) | {"finds": _SPANS[s.label.split()[0]].value} for s in spans]
    found: dict[str, Any] = {m.label: {"at_s": m.at_s, "value": m.value} for m in marks}
    return found | {"values": values, "notes": notes, "spans": told}


def _counted(points: TracePoints) -> Iterator[str]:
    """Say which application counts, where the recording holds several."""
    many = len(points.applications)
    if many > 1:
        times = ", ".join(f"{one.rises_s:.0f} s" for one in points.applications)
        yield (
            f"{many} applications in the recording, beginning at about {times}. Number "
            f"{points.counted} counts."
        )


def steps_in(points: TracePoints) -> Iterator[str]:
    """Tell the steps of a graduated application; one that goes straight up has none."""
    steps = points.steps if len(points.steps) > 1 else ()
    for number, step in enumerate(steps, start=1):
        yield (
            f"Step {number}: {step.value:.2f} {points.unit}, by {step.rise:.2f} "
            f"{points.unit}, held from {step.from_s:.1f} s to {step.until_s:.1f} s"
        )


def value_name(finds: str, quantity: str) -> str:
    """Return under what a value is kept: a leak has two, a loss and a rate."""
    if finds == Found.LEAKAGE:
        return f"{finds} {'loss' if quantity in {'pressure', 'vacuum'} else 'rate'}"
    return str(finds)


def _values(points: TracePoints) -> dict[str, dict[str, str]]:
    values = {Found.MAXIMUM.value: _value(points.maximum, points.unit)}
    values |= _times(points, Found.FILL_TIME, Found.RELEASE_TIME)
    if points.hold is not None and not _rose(points.hold):
        values |= _leak(points.hold, points.unit)
    return values


def _pipe_values(points: TracePoints) -> dict[str, dict[str, str]]:
    fell = _value(points.rest - points.maximum, points.unit)
    times = _times(points, Found.FALL_TIME, Found.RISE_TIME)
    return {Found.REDUCTION.value: fell} | times


def _times(
    points: TracePoints, applied: Found, released: Found
) -> dict[str, dict[str, str]]:
    values = {}
    for name, time, ends in (
        (applied, points.fill_s, (points.start, points.filled)),
        (released, points.release_s, (points.release_start, points.released)),
    ):
        if time is not None:
            within = sum(end.within_s for end in ends if end)
            values[name.value] = _value(time, "s", f", within {within:.2g} s")
    return values


def _leak(hold: Hold, unit: str) -> dict[str, dict[str, str]]:
    """Return what leaks away a minute, and from a hold long enough in five of them."""
    fall, error = max(hold.fall_per_min, 0.0), hold.error_per_min
    spread = "" if error is None else f", ± {2 * error:.1g}"
    values = {}
    if (rate := f"{unit}/min") in UNITS:
        values[value_name(Found.LEAKAGE, "pressure_rate")] = _value(fall, rate, spread)
    held_s = hold.until_s - hold.from_s
    if held_s >= SHORTEST_HOLD_S:
        said = f", at the rate of a hold of {held_s:.0f} s"
        name = value_name(Found.LEAKAGE, "pressure")
        values[name] = _value(fall * LOSS_MINUTES, unit, said)
    return values


def _rose(hold: Hold) -> bool:
    """Say whether the pressure rose by more than the scatter of the samples."""
    return hold.fall_per_min < -2 * (hold.error_per_min or 0.0)


def _why_no_loss(hold: Hold) -> str:
    if _rose(hold):
        return "The pressure rose while held: a feed not shut off, or warming air."
    return (
        f"Held for {hold.until_s - hold.from_s:.0f} s: too short to tell what is lost "
        f"in {LOSS_MINUTES} minutes; hold for {SHORTEST_HOLD_S:.0f} s or more."
    )


def _value(number: float, unit: str, within: str = "") -> dict[str, str]:
    size = abs(number)
    places = 3 if size < 1 else 2 if size < _HUNDRED else 1
    typed = f"{number:.{places}f}"
    return {"value": typed, "unit": unit, "note": f"From the trace{within}"}

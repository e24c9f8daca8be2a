"""A trace on its axes, with the points found on it and the limits it is held against."""

import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

from fleet.engineering.trace_found import TracePoints
from fleet.ui.drawing import Circle, Drawing, Item, Line, Path, Pen, Point, Rect, Text
from fleet.ui.palette import INK, INK_SOFT, RULE, SHEET

LEFT, RIGHT, TOP, BOTTOM = 44.0, 14.0, 24.0, 40.0
SPAN_PITCH, LEGEND_PITCH = 20.0, 18.0
BUBBLE, LIFT = 8.0, 16.0
SMALL = 12.0
LETTER = 6.2  # the width of a letter of that size, about
GRID, FRAME = Pen(RULE, 0.8), Pen(INK, 1.0)
COURSE, LIMIT, MEASURE = Pen(INK, 1.4), Pen(INK, 1.1, (6, 3)), Pen(INK, 0.9)


@dataclass(frozen=True, slots=True)
class TraceMark:
    """A found point: s, value in the trace's unit, and what it is."""

    at_s: float
    value: float
    label: str


@dataclass(frozen=True, slots=True)
class TraceLimit:
    """A limit of pressure: a broken line across, with its words."""

    value: float
    label: str


@dataclass(frozen=True, slots=True)
class TraceSpan:
    """A found duration: measured above the trace, with its words (and its limits)."""

    from_s: float
    until_s: float
    label: str


@dataclass(frozen=True, slots=True)
class TraceSheet:
    """
    What is drawn: runs of (s, value) broken at gaps, and what stands on them.

    Runs as `trace_outline.outline` gives them; values in `unit`, nought on the axis.
    """

    runs: tuple[tuple[Point, ...], ...]
    unit: str
    marks: tuple[TraceMark, ...] = ()
    limits: tuple[TraceLimit, ...] = ()
    spans: tuple[TraceSpan, ...] = ()


@dataclass(frozen=True, slots=True)
class Axes:
    """Where times and values lie on the paper; ends are multiples of the steps."""

    first_s: float
    last_s: float
    low: float
    high: float
    left: float
    right: float
    top: float
    bottom: float

    def x(self, at_s: float) -> float:
        """Return where a time lies, kept on the axes."""
        part = (at_s - self.first_s) / (self.last_s - self.first_s)
        return self.left + (self.right - self.left) * min(max(part, 0.0), 1.0)

    def y(self, value: float) -> float:
        """Return where a value lies, kept on the axes."""
        part = (value - self.low) / (self.high - self.low)
        return self.bottom - (self.bottom - self.top) * min(max(part, 0.0), 1.0)


def trace_drawing(
    sheet: TraceSheet, *, width: float = 720.0, height: float = 300.0
) -> Drawing:
    """
    Return the drawing: trace, limits, durations, numbered points and their legend.

    `height` is that of the axes; durations above and legend below add to it. Told apart by
    shape, dash and number, not by colour. Raises ValueError for a sheet without a trace.
    """
    points = [point for run in sheet.runs for point in run]
    if not points:
        raise ValueError("There is no trace to draw.")
    top = TOP + SPAN_PITCH * len(sheet.spans)
    axes = _axes(sheet, points, (LEFT, width - RIGHT, top, top + height))
    items: list[Item] = [*_grid(axes, sheet.unit)]
    items.extend(_limit(limit, axes) for limit in sheet.limits)
    items.append(_course(sheet, axes))
    items.extend(_limit_words(sheet, axes))
    for row, span in enumerate(sheet.spans):
        items.extend(_span(span, axes, TOP + SPAN_PITCH * row))
    items.extend(_bubbles(sheet.marks, axes))
    low = axes.bottom + BOTTOM
    items.extend(_legend(sheet, low, width))
    rows = math.ceil(len(sheet.marks) / _columns(width))
    return Drawing(width, low + LEGEND_PITCH * rows + 4, tuple(items))


def found_on(
    points: TracePoints,
) -> tuple[tuple[TraceMark, ...], tuple[TraceSpan, ...]]:
    """Return the marks and durations of the points found on a trace."""
    filled, highest, released = (
        ("fallen", "lowest", "back")
        if points.falls
        else ("filled", "maximum", "released")
    )
    named = (
        (points.start, "start of application"),
        (points.filled, filled),
        (points.peak, highest),
        (points.release_start, "start of release"),
        (points.released, released),
    )
    marks = tuple(
        TraceMark(mark.at_s, mark.value, label) for mark, label in named if mark
    )
    spans = []
    if points.start and points.filled:
        time = points.filled.at_s - points.start.at_s
        spans.append(
            TraceSpan(
                points.start.at_s, points.filled.at_s, f"{filled} in {time:.1f} s"
            )
        )
    if points.release_start and points.released:
        gone, end = points.release_start.at_s, points.released.at_s
        spans.append(TraceSpan(gone, end, f"{released} in {end - gone:.1f} s"))
    return marks, tuple(spans)


def trace_words(sheet: TraceSheet) -> str:
    """Return the drawing told in words, for those who cannot see it."""
    points = [point for run in sheet.runs for point in run]
    first, last = points[0][0], points[-1][0]
    told = [f"Trace in {sheet.unit} from {first:.1f} s to {last:.1f} s."]
    told += [f"{_told(mark, sheet.unit)}." for mark in sheet.marks]
    told += [f"{span.label}." for span in sheet.spans]
    told += [f"Limit: {limit.label}." for limit in sheet.limits]
    if len(sheet.runs) > 1:
        told.append(f"Gaps in the trace: {len(sheet.runs) - 1}.")
    return " ".join(told)


def ticks(low: float, high: float, most: int = 8) -> list[float]:
    """Return round values (1, 2 or 5 times a power of ten) that reach over both ends."""
    rough = (high - low) / most if high > low else 1.0
    power = 10.0 ** math.floor(math.log10(rough))
    step = next(power * n for n in (1, 2, 5, 10) if power * n >= rough * (1 - 1e-9))
    first, last = math.floor(low / step + 1e-9), math.ceil(high / step - 1e-9)
    return [n * step for n in range(first, max(last, first + 1) + 1)]


def _axes(
    sheet: TraceSheet,
    points: Sequence[Point],
    frame: tuple[float, float, float, float],
) -> Axes:
    values = [value for _, value in points] + [limit.value for limit in sheet.limits]
    room = 0.08 * (max(*values, 0.0) - min(*values, 0.0) or 1.0)
    down = min(values)
    # A little noise about nought is no reason for an axis that goes below it.
    low = 0.0 if down > -room / 4 else down
    scale = ticks(low, max(values) + room, 6)
    return Axes(points[0][0], _last(points), scale[0], scale[-1], *frame)


def _last(points: Sequence[Point]) -> float:
    first, last = points[0][0], points[-1][0]
    return last if last > first else first + 1.0


def _grid(axes: Axes, unit: str) -> Iterator[Item]:
    for value in ticks(axes.low, axes.high, 6):
        y = axes.y(value)
        yield Line(axes.left, y, axes.right, y, GRID)
        yield Text(axes.left - 6, y + 4, _n(value), SMALL, "end", INK_SOFT)
    times = ticks(axes.first_s, axes.last_s)
    for time in times:
        if axes.first_s <= time <= axes.last_s:
            x = axes.x(time)
            yield Line(x, axes.bottom, x, axes.bottom + 4, FRAME)
            yield Text(x, axes.bottom + 17, _n(time), SMALL, "middle", INK_SOFT)
    yield Line(axes.left, axes.top, axes.left, axes.bottom, FRAME)
    yield Line(axes.left, axes.bottom, axes.right, axes.bottom, FRAME)
    yield Text(axes.left - 6, axes.top - 10, unit, SMALL, "end", INK, bold=True)
    yield Text(axes.right, axes.bottom + 32, "time, s", SMALL, "end", INK, bold=True)


def _course(sheet: TraceSheet, axes: Axes) -> Path:
    runs = tuple(
        tuple((axes.x(at), axes.y(value)) for at, value in _whole(run))
        for run in sheet.runs
    )
    return Path(runs, COURSE)


def _whole(run: Sequence[Point]) -> Sequence[Point]:
    """A run of one sample is drawn as a point, which takes two."""
    return run if len(run) > 1 else (*run, run[0])


def _limit(limit: TraceLimit, axes: Axes) -> Line:
    y = axes.y(limit.value)
    return Line(axes.left, y, axes.right, y, LIMIT)


def _limit_words(sheet: TraceSheet, axes: Axes) -> Iterator[Item]:
    taken: list[float] = []
    for limit in sorted(sheet.limits, key=lambda one: -one.value):
        # Two limits close together: the words of the lower go under its line.
        y = axes.y(limit.value) - 5
        if any(abs(y - other) < 14 for other in taken):
            y += 18
        taken.append(y)
        wide = LETTER * len(limit.label) + 6
        right = axes.right
        if _crowded(sheet.marks, axes, (right - wide, y)):
            right = axes.left + wide + 6
        yield Rect(right - wide, y - 10, wide, 13, fill=SHEET)
        yield Text(right - 3, y, limit.label, SMALL, "end", INK)


def _crowded(marks: Iterable[TraceMark], axes: Axes, corner: Point) -> bool:
    left, y = corner[0] - 2 * BUBBLE, corner[1]
    return any(
        axes.x(mark.at_s) > left and abs(axes.y(mark.value) - y) < 30 for mark in marks
    )


def _span(span: TraceSpan, axes: Axes, y: float) -> Iterator[Item]:
    left, right = axes.x(span.from_s), axes.x(span.until_s)
    for x in (left, right):
        yield Line(x, y - 4, x, axes.bottom, Pen(INK_SOFT, 0.6, (1, 3)))
        yield Line(x, y - 5, x, y + 5, MEASURE)
    yield Line(left, y, right, y, MEASURE)
    wide = LETTER * len(span.label)
    if right - left > wide + 16:
        yield Rect((left + right - wide) / 2 - 4, y - 7, wide + 8, 14, fill=SHEET)
        yield Text((left + right) / 2, y + 4, span.label, SMALL, "middle", INK)
    elif right + 6 + wide < axes.right:
        yield Text(right + 6, y + 4, span.label, SMALL, "start", INK)
    else:
        yield Text(left - 6, y + 4, span.label, SMALL, "end", INK)


def _bubbles(marks: Sequence[TraceMark], axes: Axes) -> Iterator[Item]:
    taken: list[Point] = []
    for number, mark in enumerate(marks, 1):
        x, y = axes.x(mark.at_s), axes.y(mark.value)
        at = _free((x, y), taken, axes)
        taken.append(at)
        yield Line(x, y, *at, MEASURE)
        yield Circle(x, y, 2.6, fill=INK)
        yield Circle(*at, BUBBLE, MEASURE, SHEET)
        yield Text(at[0], at[1] + 4, str(number), SMALL, "middle", INK, bold=True)


def _free(point: Point, taken: Sequence[Point], axes: Axes) -> Point:
    """Return a place for a number: the first about its point that nothing stands on."""
    x, y = point
    places = [
        (x + LIFT * dx, y + LIFT * dy)
        for reach in (1.0, 1.9, 2.8)
        for dx, dy in ((0, -reach), (reach, 0.7), (-reach, -0.7), (0, reach))
    ]
    inside = [
        place
        for place in places
        if axes.left + BUBBLE < place[0] < axes.right - BUBBLE
        and axes.top < place[1] < axes.bottom - BUBBLE
    ]
    clear = (p for p in inside if all(math.dist(p, t) > 2.2 * BUBBLE for t in taken))
    return next(clear, (x, y - LIFT))


def _legend(sheet: TraceSheet, top: float, width: float) -> Iterator[Item]:
    columns = _columns(width)
    for at, mark in enumerate(sheet.marks):
        x = LEFT + (at % columns) * (width - LEFT) / columns
        y = top + LEGEND_PITCH * (at // columns) + 8
        yield Text(x + 14, y, str(at + 1), SMALL, "end", INK, bold=True)
        yield Text(x + 20, y, _told(mark, sheet.unit), SMALL, "start", INK)


def _columns(width: float) -> int:
    return 2 if width >= 560 else 1


def _told(mark: TraceMark, unit: str) -> str:
    value = f"{mark.value:.2f}"
    value = value.lstrip("-") if float(value) == 0 else value
    return f"{mark.label}: {mark.at_s:.2f} s, {value} {unit}"


def _n(value: float) -> str:
    return f"{value:.6g}" if value else "0"

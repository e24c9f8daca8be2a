"""The outline of a trace: as many points as a drawing shows, no spike lost."""

import math
from collections.abc import Iterator

from fleet.engineering.traces import MOST_BLOCKS, Block, Gap, Trace

Point = tuple[float, float]


def outline(trace: Trace, columns: int) -> tuple[tuple[Point, ...], ...]:
    """
    Return the trace for drawing: runs of (s, value), broken at gaps.

    No run has more than two points a column, its lowest and its highest, so that no
    spike is lost however many samples there are. `columns` from 1.
    """
    if columns < 1:
        raise ValueError(f"Draw at least one column, not {columns}.")
    size = max(1, math.ceil(len(trace.blocks) / columns))
    width = size * math.ceil(len(trace) / MOST_BLOCKS)
    runs: list[list[Point]] = [[]]
    for first in range(0, len(trace.blocks), size):
        blocks = trace.blocks[first : first + size]
        samples = first // size * width, (first // size + 1) * width
        from_s, until_s = _times(trace, *samples)
        gap = _gap_in(trace, from_s, until_s)
        if gap is None:
            runs[-1].extend(_two_points(_joined(blocks)))
        else:
            _broken(trace, samples, gap.until_s, runs)
    return tuple(tuple(run) for run in runs if run)


def _times(trace: Trace, first: int, end: int) -> tuple[float, float]:
    """Return the time of the sample before a column, and of the last in it."""
    return trace.times_s[max(first - 1, 0)], trace.times_s[min(end, len(trace)) - 1]


def _gap_in(trace: Trace, from_s: float, until_s: float) -> Gap | None:
    inside = (g for g in trace.gaps if g.from_s >= from_s and g.until_s <= until_s)
    return next(inside, None)


def _broken(
    trace: Trace, samples: tuple[int, int], until_s: float, runs: list[list[Point]]
) -> None:
    """Draw a column with a gap in it sample by sample, and begin a run after the gap."""
    first, end = samples
    last = _times(trace, first, end)[1]
    for at_s, value in zip(
        trace.times_s[first:end], trace.values[first:end], strict=True
    ):
        if at_s >= until_s:
            runs.append([])
            gap = _gap_in(trace, at_s, last)
            until_s = gap.until_s if gap else math.inf
        runs[-1].append((at_s, value))


def _joined(blocks: tuple[Block, ...]) -> Block:
    low, high = min(b.low for b in blocks), max(b.high for b in blocks)
    at_s = (blocks[0].at_s + blocks[-1].at_s) / 2
    return Block(at_s, blocks[-1].mean, low, high)


def _two_points(block: Block) -> Iterator[Point]:
    # Down first where the column ends high, up first where it ends low.
    ends_high = block.mean * 2 > block.low + block.high
    first, last = (block.low, block.high) if ends_high else (block.high, block.low)
    yield block.at_s, first
    if last != first:
        yield block.at_s, last

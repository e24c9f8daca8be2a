"""The levels of a vehicle as the status strip draws them."""

from fleet.fitness.status import BoardRow
from fleet.ui.strip import StripRow, StripSpan


def strip_of(row: BoardRow) -> list[StripRow]:
    """Return the strip rows of a vehicle's line, one for each system it has."""
    return [
        StripRow(
            system.label,
            tuple(
                StripSpan(span.since, span.until, span.level.code, span.words)
                for span in status.strip
            ),
        )
        for system, status in row.systems.items()
    ]

"""
The database read into vehicle files and policy: so many queries, however many vehicles.

Every stream of rows is sorted by vehicle and all are read side by side, a batch of rows
at a time, so that memory does not grow with the fleet. What many files share (dates,
moments, positions of a type) is one object for all of them.
"""

from collections.abc import Iterable, Iterator, Sequence
from contextlib import ExitStack, closing
from itertools import groupby
from operator import itemgetter
from typing import Any

from django.db import connection

from fleet.fitness import streams
from fleet.fitness.assembling import file_of
from fleet.fitness.facts import Policy, VehicleFile
from fleet.fitness.practice import Practice, practice_known

BATCH = 500

Row = tuple[Any, ...]

ASKED = {
    "particulars": streams.PARTICULARS,
    "fitted": streams.FITTED,
    "tests": streams.TESTS,
    "failed": streams.FAILED,
    "vouched": streams.VOUCHED,
    "defects": streams.DEFECTS,
    "standing": streams.STANDING,
    "concessions": streams.CONCESSIONS,
    "usage": streams.USAGE,
}


def policy(known_at: int | None = None) -> Policy:
    """Return the operator's policy; the present one is kept until something touches it."""
    return practice_known(known_at).policy


def vehicle_files(
    ids: Iterable[int] | None,
    *,
    known_at: int | None = None,
    chunk: int = BATCH,
    practice: Practice | None = None,
) -> Iterator[VehicleFile]:
    """
    Yield a file for each vehicle asked for, None for all, in the order of their ids.

    `known_at` is the number of an entry: only what was held true then is read. A vehicle
    of which nothing was known yields no file. `chunk` is how many rows of each stream
    are held at a time. The number of queries depends on none of these. `practice` saves
    a query to a caller that has just read it.
    """
    practice = practice or practice_known(known_at)
    asked = None if ids is None else sorted(set(ids))
    with ExitStack() as stack:
        rows = {
            name: _Stream(stack, sql, asked, known_at, chunk)
            for name, sql in ASKED.items()
        }
        if practice.noticing:
            rows["notices"] = _Stream(stack, streams.NOTICES, asked, known_at, chunk)
        if practice.usage_kinds:
            rows["item_usage"] = _Stream(
                stack, streams.ITEM_USAGE, asked, known_at, chunk, practice.usage_kinds
            )
        if practice.surveying:
            rows["surveyed"] = _Stream(stack, streams.SURVEYED, asked, known_at, chunk)
        if practice.measuring:
            lines = ", ".join(map(str, practice.measuring))
            measured = streams.MEASURED.replace("LINES", lines)
            rows["measured"] = _Stream(stack, measured, asked, known_at, chunk)
        for vehicle, particulars in rows.pop("particulars").by_vehicle():
            found = {name: stream.of(vehicle) for name, stream in rows.items()}
            yield file_of(vehicle, particulars, found, practice)


class _Stream:
    """Rows of one question, handed out vehicle by vehicle in rising order."""

    def __init__(
        self,
        stack: ExitStack,
        text: str,
        ids: Sequence[int] | None,
        known_at: int | None,
        chunk: int,
        kinds: Sequence[str] = (),
    ) -> None:
        sql, params = streams.question(
            text, connection.vendor, known_at=known_at, ids=ids, kinds=kinds
        )
        few = ids is not None and len(ids) <= chunk
        # A cursor kept on the server costs two more journeys: not worth it for a few.
        opened = connection.cursor() if few else connection.chunked_cursor()
        cursor = stack.enter_context(closing(opened))
        cursor.execute(sql, params or None)
        self._groups = groupby(_batches(cursor, chunk), key=itemgetter(0))
        self._vehicle: int | None = -1
        self._rows: Iterator[Row] = iter(())

    def by_vehicle(self) -> Iterator[tuple[int, list[Row]]]:
        """Yield every vehicle in the stream with its rows."""
        for vehicle, rows in self._groups:
            yield vehicle, list(rows)

    def of(self, vehicle: int) -> list[Row]:
        """Return the rows of a vehicle; vehicles must be asked for in rising order."""
        while self._vehicle is not None and self._vehicle < vehicle:
            self._vehicle, self._rows = next(self._groups, (None, iter(())))
        return list(self._rows) if self._vehicle == vehicle else []


def _batches(cursor: Any, size: int) -> Iterator[Row]:
    while rows := cursor.fetchmany(size):
        yield from rows

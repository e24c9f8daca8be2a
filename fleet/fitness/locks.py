"""What of this slice only one deed at a time may do, until it commits; on PostgreSQL."""

from django.db import connection

STATUS_LOCK = 7_303  # advisory locks, beside those of records; taken numbers first
NUMBER_LOCK = 7_304


def lock_numbers() -> None:
    """Let one deed at a time take the next number of a statement or a snapshot."""
    _lock(NUMBER_LOCK)


def lock_status() -> None:
    """
    Let one deed at a time reassess, mark, or freeze what the records show.

    Two deeds may touch one vehicle through different items. Whoever comes second reads
    what the first has committed, so that no fact is left out of the spans, and no
    statement rests on a record that was found wrong while it was being issued.
    """
    _lock(STATUS_LOCK)


def _lock(key: int) -> None:
    if connection.vendor == "postgresql":
        with connection.cursor() as cursor:
            cursor.execute("SELECT pg_advisory_xact_lock(%s)", [key])

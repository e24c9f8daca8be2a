"""What commands of the register share: they say what to do where tables are lacking."""

import datetime as dt
from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.db import OperationalError, connection
from django.db.migrations.executor import MigrationExecutor

from fleet.engineering.calendar import bounds
from fleet.records.clock import today

NO_TABLES = (
    "This database has no register in it yet. Run `manage.py migrate` to make an empty "
    "one, or `manage.py demo` for the example fleet."
)
BEHIND = (
    "The tables of this database are older than the program. Run `manage.py migrate` "
    "first."
)


class RegisterCommand(BaseCommand):
    """A command that reads the register, and needs its tables as they are now."""

    def execute(self, *args: Any, **options: Any) -> str | None:
        """Refuse a database that cannot be reached or is not ready, in a sentence."""
        _refuse_unready()
        return super().execute(*args, **options)


def day_named(text: str | None) -> dt.date:
    """Return the day `--on` names, today where it is left out."""
    if text is None:
        return today()
    try:
        first, last = bounds(text)
    except ValueError as error:
        raise CommandError(f"--on {text}: {error}") from error
    if first is None or first != last:
        raise CommandError(f"--on {text}: give one day, as 2027-05-03.")
    return first


def _refuse_unready() -> None:
    try:
        executor = MigrationExecutor(connection)
    except OperationalError as error:
        raise CommandError(f"The database cannot be reached: {error}") from error
    if not executor.loader.applied_migrations:
        raise CommandError(NO_TABLES)
    if executor.migration_plan(executor.loader.graph.leaf_nodes()):
        raise CommandError(BEHIND)

"""Empty the database: guards off, Django's own flush, guards on again."""

from typing import Any

from django.core.management.commands import flush

from fleet.records.guards import lift, restore


class Command(flush.Command):
    """Used by the test runner between transactional tests; never on real records."""

    help = "Empty every table. Records are lost; for test databases."

    def handle(self, **options: Any) -> None:
        """Flush with the guards lifted, and put them back."""
        lift(options["database"])
        try:
            super().handle(**options)
        finally:
            restore(options["database"])

"""`manage.py verify`: every check but the tests, and the names of those that failed."""

import sys
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser

from fleet.config.checks import Check, every_check


class Command(BaseCommand):
    """Run them all, so that one failure does not hide the next."""

    help = "Check format, lint, templates, imports, migrations, deployment and types."
    requires_system_checks = []

    def add_arguments(self, parser: CommandParser) -> None:
        names = [check.name for check in every_check()]
        parser.add_argument(
            "--only", action="append", choices=names, help="run only this check"
        )

    def handle(self, *args: Any, only: list[str] | None = None, **options: Any) -> None:
        chosen = [c for c in every_check() if only is None or c.name in only]
        self._refuse_without_tools(chosen)
        failed = [check.name for check in chosen if not self._passes(check)]
        if failed:
            self.stderr.write(self.style.ERROR(f"Failed: {', '.join(failed)}."))
            sys.exit(1)
        self.stdout.write(self.style.SUCCESS(f"All {len(chosen)} checks passed."))

    def _passes(self, check: Check) -> bool:
        self.stdout.write(self.style.MIGRATE_HEADING(f"== {check.name}"))
        self.stdout.flush()
        return check.passes()

    def _refuse_without_tools(self, chosen: list[Check]) -> None:
        missing = sorted({tool for c in chosen if (tool := c.missing_tool())})
        if missing:
            message = (
                f"Not installed: {', '.join(missing)}. "
                "Install them with: .venv/bin/pip install -e '.[dev]'"
            )
            raise CommandError(message)

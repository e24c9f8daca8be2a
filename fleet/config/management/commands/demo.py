"""Set up and serve the demo: a fictional line's fleet, relative to today."""

from argparse import ArgumentParser
from typing import Any

from django.conf import settings
from django.core.management import call_command
from django.core.management.base import BaseCommand, CommandError
from django.db import connection

from fleet.config.demo.fleetbook import DEMO, read
from fleet.config.demo.load import PASSWORD, load_demo
from fleet.config.demo.stories import tell_stories
from fleet.fitness.services import mark_for_rebuild, rebuild
from fleet.people.models import User
from fleet.records.clock import today
from fleet.records.deeds import deed
from fleet.records.models import Entry

MARK = "demo.load"  # the first deed of a demo database
DONE = "demo.loaded"  # the last one: without it the loading was broken off
OTHERS = (
    "This database holds other records; the demo does not touch it. Point "
    "DATABASE_URL at an empty database, or remove it if it is yours to lose."
)
BROKEN_OFF = (
    "This database holds a demo whose loading was broken off. Remove the database, and "
    "run the command again."
)
MOST = 100_000  # vehicles; beyond that the one file of SQLite is the wrong place


class Command(BaseCommand):
    """`manage.py demo`: create the database if missing, load it once, serve."""

    help = (
        "Create the database if it is missing, load the starter practice and the demo "
        "fleet of a fictional line, and serve it. Running it again is harmless."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        """Declare the options."""
        parser.add_argument(
            "--no-serve", action="store_true", help="stop before serving"
        )
        parser.add_argument(
            "--vehicles", type=int, metavar="N", help="size of the fleet (default: all)"
        )
        parser.add_argument(
            "--address", default="127.0.0.1:8000", help="where to serve (host:port)"
        )

    def handle(self, **options: Any) -> None:
        """Set up once, then serve."""
        count = options["vehicles"]
        if count is not None and not 1 <= count <= MOST:
            raise CommandError(f"Give --vehicles as a number from 1 to {MOST}.")
        self._refuse_foreign_tables()
        call_command("migrate", verbosity=0)
        if self._already_loaded(count):
            self.stdout.write("The demo is loaded already.")
        else:
            self._load(count)
        self._say_how(options["address"])
        if not options["no_serve"]:
            call_command("runserver", options["address"], "--noreload", "--insecure")

    def _refuse_foreign_tables(self) -> None:
        """Refuse, before anything is made, a database of some other application."""
        tables = connection.introspection.table_names()
        if tables and "django_migrations" not in tables:
            raise CommandError(OTHERS)

    def _already_loaded(self, count: int | None) -> bool:
        deeds = set(Entry.objects.filter(deed__in=(MARK, DONE)).values_list("deed"))
        if (DONE,) in deeds:
            if count is not None:
                self.stdout.write("It stays as it is: --vehicles counts on first load.")
            return True
        if deeds:
            raise CommandError(BROKEN_OFF)
        if Entry.objects.exists() or User.objects.exists():
            raise CommandError(OTHERS)
        return False

    def _load(self, count: int | None) -> None:
        total = count or sum(len(g["numbers"]) for g in read(DEMO, "fleet")["vehicle"])
        load_demo(count=count, today=today(), progress=self._bar("Vehicles", total))
        mark_for_rebuild(None)
        bar = self._bar("Brake status", total)
        rebuild(progress=lambda done, _total: bar(done))
        tell_stories(today=today())
        with deed(DONE, by=None):
            pass

    def _bar(self, what: str, total: int) -> Any:
        def show(done: int) -> None:
            filled = min(30, 30 * done // max(1, total))
            line = f"\r{what:<14}[{'#' * filled:<30}] {done}/{total}"
            self.stdout.write(line, ending="\n" if done >= total else "")
            self.stdout.flush()

        return show

    def _say_how(self, address: str) -> None:
        self.stdout.write(f"\nOpen http://{address}/ and sign in, password {PASSWORD}:")
        for username, name, role in read(DEMO, "fleet")["people"]:
            self.stdout.write(f"  {username:<10}{role.replace('_', ' '):<15}{name}")
        where = connection.settings_dict["NAME"]
        self.stdout.write(f"Database: {where}. Invented data of a fictional line.\n")
        if settings.DEBUG:
            self.stdout.write("DEBUG is on.")

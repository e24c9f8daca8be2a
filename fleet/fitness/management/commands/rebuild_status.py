"""`manage.py rebuild_status`: reassess what is stale; with --verify, check everything."""

from typing import Any

from django.core.management.base import CommandError, CommandParser

from fleet.fitness.gather import BATCH
from fleet.fitness.models import Stale
from fleet.fitness.services import mark_for_rebuild, rebuild
from fleet.fitness.status import numbers_of
from fleet.fitness.verifying import Difference, differences
from fleet.records.commands import RegisterCommand

SHOWN = 20  # differences named one by one


class Command(RegisterCommand):
    """Work through the vehicles marked stale, or hold what is stored against the facts."""

    help = (
        "Reassess every vehicle that is not yet reassessed. It can be stopped and "
        "started again. --verify recomputes everything, writes nothing, and exits with "
        "1 if anything differs."
    )

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument(
            "--verify", action="store_true", help="compare only; write nothing"
        )
        parser.add_argument(
            "--all", action="store_true", help="reassess every vehicle, stale or not"
        )
        parser.add_argument(
            "--chunk",
            type=int,
            default=BATCH,
            metavar="N",
            help=f"vehicles in one transaction (default {BATCH})",
        )

    def handle(self, *args: Any, **options: Any) -> None:
        if options["chunk"] < 1:
            raise CommandError("--chunk takes a number of vehicles from 1 on.")
        if options["verify"]:
            self._verify(options["chunk"])
            return
        if options["all"]:
            mark_for_rebuild(None)
        done = rebuild(chunk=options["chunk"], progress=self._progress)
        self.stdout.write(self.style.SUCCESS(f"{_vehicles(done)} reassessed."))

    def _verify(self, chunk: int) -> None:
        found = list(differences(chunk=chunk, progress=self._progress))
        stale = Stale.objects.count()
        if stale:
            self.stdout.write(
                f"{_vehicles(stale)} not yet reassessed: run rebuild_status."
            )
        if found:
            self._name(found)
            raise CommandError(
                f"{_vehicles(len(found))} of which something else is stored than the "
                "facts say. Run rebuild_status --all, and find out how it came about."
            )
        self.stdout.write(self.style.SUCCESS("What is stored is what the facts say."))

    def _name(self, found: list[Difference]) -> None:
        numbers = numbers_of(one.vehicle for one in found[:SHOWN])
        for one in found[:SHOWN]:
            parts = [f"not stored: {span}" for span in one.missing]
            if one.surplus:
                parts.append(f"stored but not so: {one.surplus}")
            if one.due_differs:
                parts.append("due dates differ")
            number = numbers.get(one.vehicle, f"no. {one.vehicle}")
            self.stderr.write(f"{number}: {'; '.join(parts)}")

    def _progress(self, done: int, total: int) -> None:
        if self.stderr.isatty():
            end = "\n" if done >= total else "\r"
            self.stderr.write(f"{done} of {total} vehicles", ending=end)


def _vehicles(number: int) -> str:
    return f"{number} vehicle" if number == 1 else f"{number} vehicles"

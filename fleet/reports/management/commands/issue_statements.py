"""`manage.py issue_statements`: a run of statements, by numbers or by what vehicles are."""

import json
from typing import Any

from django.core.exceptions import ValidationError
from django.core.management.base import CommandError, CommandParser

from fleet.fitness.models import StatementRun
from fleet.people.access import may, person_of
from fleet.people.models import User
from fleet.people.roles import bearers
from fleet.records.clock import today
from fleet.records.commands import RegisterCommand, day_named
from fleet.records.deeds import submitted
from fleet.records.models import Channel
from fleet.register.models import Depot, VehicleType
from fleet.register.vocabulary import System
from fleet.reports.season import (
    FLOORS,
    Choice,
    begin,
    choice,
    numbered,
    refusal_of,
    run_through,
)

MAY = "release_vehicles"


class Command(RegisterCommand):
    """Issue statements for a set of vehicles, or take up a run of before."""

    help = (
        "Issue a fitness statement for each of a set of vehicles, signed by the person "
        "of --by. The set is named by running numbers, or by depot, type, system and "
        "level, or it is what waits in a run. It can be stopped and taken up with "
        "--run. Exits with 1 if any vehicle was refused."
    )

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("numbers", nargs="*", metavar="NUMBER")
        parser.add_argument(
            "--by", required=True, metavar="USERNAME", help="account that signs"
        )
        parser.add_argument("--on", metavar="DATE", help="day, as 2027-05-03; today")
        parser.add_argument("--depot", default="", help="name of a depot")
        parser.add_argument("--type", default="", metavar="CODE", help="vehicle type")
        parser.add_argument(
            "--system", default="", choices=["", *System], help="brake system"
        )
        parser.add_argument(
            "--which",
            default="braked",
            choices=list(FLOORS),
            help="level a vehicle is held to: "
            + "; ".join(f"{key}: {words}" for key, (_, words) in FLOORS.items()),
        )
        parser.add_argument(
            "--run", type=int, metavar="N", help="take up a run of before"
        )
        parser.add_argument(
            "--dry-run", action="store_true", help="say what would be; write nothing"
        )
        parser.add_argument("--json", action="store_true", help="for other programs")

    def handle(self, *args: Any, **options: Any) -> None:
        signer = _signer(options["by"])
        chosen = _choice(options)
        if options["dry_run"]:
            self._try(chosen, options)
            return
        try:
            with submitted(channel=Channel.COMMAND):
                run = self._run(chosen, options, signer)
                run_through(
                    run, by=signer, person=person_of(signer), progress=self._progress
                )
        except ValidationError as refusal:
            raise CommandError(" ".join(refusal.messages)) from refusal
        self._report(run, as_json=options["json"])

    def _run(
        self, chosen: Choice, options: dict[str, Any], signer: User
    ) -> StatementRun:
        if options["run"] is None:
            keys = [key for key, _ in _vehicles(chosen, options)]
            picked = "; named by number" if options["numbers"] else ""
            return begin(
                chosen, keys, by=signer, person=person_of(signer), picked=picked
            )
        run = StatementRun.objects.filter(pk=options["run"]).first()
        if run is None:
            raise CommandError(f"There is no run {options['run']}.")
        if options["numbers"]:
            raise CommandError("A run has its vehicles already: leave out the numbers.")
        return run

    def _try(self, chosen: Choice, options: dict[str, Any]) -> None:
        if options["run"] is not None:
            raise CommandError("--dry-run tries a new set; leave out --run.")
        found = [
            {"number": number, "refused": refusal_of(key, chosen)}
            for key, number in _vehicles(chosen, options)
        ]
        listed = {"on": chosen.on.isoformat(), "dry_run": True, "vehicles": found}
        lines = [
            f"{one['number']}: {one['refused'] or 'would be issued'}" for one in found
        ]
        self._say(listed, lines, as_json=options["json"])

    def _report(self, run: StatementRun, *, as_json: bool) -> None:
        got = StatementRun.objects.for_list().get(pk=run.pk)
        vehicles, lines = [], []
        for place in run.places.for_list():
            outcome = getattr(place, "outcome", None)
            statement = (
                outcome.statement.number if outcome and outcome.statement else ""
            )
            refused = outcome.refused if outcome else ""
            vehicles.append(
                {"number": place.number, "statement": statement, "refused": refused}  # type: ignore[attr-defined]  # for_list
            )
            words = statement or f"refused: {refused}"
            lines.append(f"{place.number}: {words}")  # type: ignore[attr-defined]  # for_list
        listed = {"run": run.pk, "on": run.on.isoformat(), "vehicles": vehicles}
        summary = f"Run {run.pk}: {got.issued} issued, {got.refused} refused."  # type: ignore[attr-defined]  # for_list
        self._say(listed, [*lines, summary], as_json=as_json)
        if got.refused:  # type: ignore[attr-defined]  # for_list
            raise CommandError(f"{got.refused} of {got.total} were refused.")  # type: ignore[attr-defined]  # for_list

    def _say(self, listed: dict[str, Any], lines: list[str], *, as_json: bool) -> None:
        if as_json:
            self.stdout.write(json.dumps(listed, indent=2, ensure_ascii=False))
        else:
            self.stdout.write("\n".join(lines))

    def _progress(self, done: int, total: int) -> None:
        if self.stderr.isatty():
            end = "\n" if done >= total else "\r"
            self.stderr.write(f"{done} of {total} vehicles", ending=end)


def _signer(name: str) -> User:
    user = User.objects.filter(username=name, is_active=True).first()
    if user is None:
        raise CommandError(f"--by {name}: there is no such account in use.")
    if not may(user, MAY):
        raise CommandError(
            f"--by {name}: statements are issued by a {bearers(MAY)} only."
        )
    return user


def _choice(options: dict[str, Any]) -> Choice:
    depot, code, day = options["depot"], options["type"], day_named(options["on"])
    if day < today():
        raise CommandError(f"--on {options['on']}: choose today or a day to come.")
    if depot and not Depot.objects.filter(name=depot).exists():
        names = ", ".join(d.name for d in Depot.objects.all()) or "none"
        raise CommandError(f"--depot {depot}: no such depot. There are: {names}.")
    if code and not VehicleType.objects.filter(code=code).exists():
        codes = ", ".join(t.code for t in VehicleType.objects.all()) or "none"
        raise CommandError(f"--type {code}: no such type. There are: {codes}.")
    if options["numbers"] and (depot or code):
        raise CommandError("Name numbers, or a depot or type; not both.")
    return choice(
        day,
        options["which"],
        system=options["system"],
        depot=depot,
        type_code=code,
    )


def _vehicles(chosen: Choice, options: dict[str, Any]) -> list[tuple[int, str]]:
    if options["numbers"]:
        rows, unknown = numbered(chosen.on, options["numbers"])
        if unknown:
            raise CommandError(
                f"On {chosen.on} there is no vehicle numbered {', '.join(unknown)}. "
                "Check the number, or the day with --on."
            )
    else:
        rows = chosen.answering()
    if not rows:
        raise CommandError(
            f"No vehicle answers to this ({chosen.words}). Widen what is asked."
        )
    return [(row.vehicle, row.number) for row in rows]

"""`manage.py programme`: search for a programme, print it, or carry out a run that waits."""

import json
from argparse import ArgumentTypeError
from typing import Any

from django.core.exceptions import ValidationError
from django.core.management.base import CommandError, CommandParser

from fleet.records.clock import today
from fleet.records.commands import RegisterCommand
from fleet.workshop.engine.checker import broken_rules
from fleet.workshop.engine.solver import solve
from fleet.workshop.loading import problem
from fleet.workshop.models import ProgrammeRun
from fleet.workshop.running import first_monday, weeks_in
from fleet.workshop.searching import search
from fleet.workshop.telling import SKILLS, text, told

NO_SUCH_RUN = 1  # 2 is how a command says that it was wrongly called
NOTHING_TO_PLAN = 3  # the register lacks what a programme is made from
BROKEN = 4  # what was found breaks a hard rule: never to be used
MOST_MONTHS = 60


class Command(RegisterCommand):
    """Search for the best programme of shop visits as the register stands now."""

    help = (
        "Search for a programme of shop visits from the coming Monday and print it: what "
        "it costs, how far from the best it may be, every visit. Nothing is published. "
        "Exit status: 0 found, 1 no such run, 2 wrongly called, 3 nothing to plan from, "
        "4 refused by the check of the hard rules."
    )

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--months", type=_months, default=24)
        parser.add_argument("--seconds", type=_seconds, default=60.0)
        parser.add_argument(
            "--rate",
            type=_rate,
            default=0.05,
            help="lives of equipment that one visit less is worth (0.05)",
        )
        parser.add_argument("--json", action="store_true", help="for other programs")
        parser.add_argument(
            "--run",
            type=int,
            metavar="ID",
            help="carry out a run asked for on the pages",
        )

    def handle(self, *args: Any, **options: Any) -> None:
        if options["run"] is not None:
            _carry_out(options["run"])
            return
        day = today()
        start = first_monday(day)
        weeks = weeks_in(start, options["months"])
        try:
            asked = problem(start, weeks, options["rate"], on=day)
        except ValidationError as refusal:
            words = " ".join(refusal.messages)
            raise CommandError(words, returncode=NOTHING_TO_PLAN) from refusal
        found = solve(asked, seconds=options["seconds"])
        broken = broken_rules(asked, found.starts, SKILLS)
        if broken:
            words = "The programme found breaks hard rules: " + " ".join(broken)
            raise CommandError(words, returncode=BROKEN)
        if options["json"]:
            self.stdout.write(json.dumps(told(asked, found), indent=2))
            return
        for line in text(asked, found):
            self.stdout.write(line)


def _carry_out(key: int) -> None:
    run = ProgrammeRun.objects.filter(pk=key).first()
    if run is None:
        raise CommandError(f"There is no run {key}.", returncode=NO_SUCH_RUN)
    if not search(run):
        raise CommandError(
            f"Run {key} was begun before. Ask for a new one.", returncode=NO_SUCH_RUN
        )


def _months(said: str) -> int:
    months = int(said)
    if not 1 <= months <= MOST_MONTHS:
        raise ArgumentTypeError(f"from 1 to {MOST_MONTHS} months, not {said}")
    return months


def _seconds(said: str) -> float:
    seconds = float(said)
    if not 0 < seconds <= 3600:  # noqa: PLR2004  # an hour
        raise ArgumentTypeError(f"more than 0 and at most 3600 seconds, not {said}")
    return seconds


def _rate(said: str) -> float:
    rate = float(said)
    if not 0 <= rate <= 10:  # noqa: PLR2004  # ten lives for a visit is past all sense
        raise ArgumentTypeError(f"from 0 to 10 lives, not {said}")
    return rate

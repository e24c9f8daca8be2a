"""Say what a draft of the policy would change over the whole fleet; writes nothing."""

from argparse import ArgumentParser
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from fleet.records.clock import today
from fleet.upkeep.due import written
from fleet.upkeep.models import PolicyDraft
from fleet.upkeep.vocabulary import PolicyKind
from fleet.web.policy_clearing import ClearingRun, clearing_run
from fleet.web.policy_dry_run import day_of, dry_run


class Command(BaseCommand):
    """Try a draft on every vehicle, and say whose brake status and dates would change."""

    help = "Say what a draft of the policy would change over the whole fleet."

    def add_arguments(self, parser: ArgumentParser) -> None:
        """Take the number of the draft, as it stands in the address of its page."""
        parser.add_argument("draft", type=int, help="number of the draft")

    def handle(self, *args: Any, **options: Any) -> None:
        """Print the counts, then each change."""
        draft = PolicyDraft.objects.filter(pk=options["draft"]).first()
        if draft is None or not (draft.content or draft.withdraws):
            raise CommandError("There is no such draft, or nothing is written in it.")
        run = dry_run(draft, day_of(draft, today()), shown=None)
        self.stdout.write(
            f"{draft}, from {written(run.day)}: {run.touched} of {run.vehicles} vehicles "
            f"touched, {run.level_count} brake systems, {run.date_count} due dates."
        )
        if draft.kind == PolicyKind.CLEARING:
            self._tell_clearing(clearing_run(draft, run.day, today()))
        for level in run.levels:
            self.stdout.write(
                f"{level.number}  {level.system.label}  from {written(level.since)}: "
                f"{level.was_words} -> {level.now_words}"
            )
        for date in run.dates:
            old, new = (written(d) if d else "none" for d in (date.was, date.now))
            self.stdout.write(
                f"{date.number}  {date.requirement}, {date.on}: {old} -> {new}"
            )

    def _tell_clearing(self, run: ClearingRun) -> None:
        for asked in run.asked:
            self.stdout.write(
                f"{asked.number}  {asked.what}: {asked.was} -> {asked.now}"
            )
        self.stdout.write(
            f"Come back too often in {run.days} days: {run.back_was} -> {run.back_now}"
        )

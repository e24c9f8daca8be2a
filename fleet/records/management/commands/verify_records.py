"""`manage.py verify_records`: prove that no record was altered behind the application."""

import json
import sys
from dataclasses import asdict
from typing import Any

from django.core.management.base import CommandError, CommandParser

from fleet.records.commands import RegisterCommand
from fleet.records.verifying import prove

SHOWN = 50
WHAT_TO_DO = (
    "Stop issuing papers from this register. Keep the file as it is, take a copy, and "
    "compare with the last backup and with seals noted on paper."
)


class Command(RegisterCommand):
    """Walk the chain of seals and every row it covers."""

    help = (
        "Prove that every record is as it was written: the chain of seals from the first "
        "entry to the newest, and each row behind it. Exits with 1 where it is not."
    )

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--entry", type=int, help="number noted on a paper")
        parser.add_argument("--seal", help="and the seal noted beside it")
        parser.add_argument("--json", action="store_true", help="for other programs")

    def handle(self, *args: Any, **options: Any) -> None:
        entry, seal = options["entry"], options["seal"]
        if (entry is None) != (seal is None):
            raise CommandError("Give --entry and --seal together, as noted.")
        proof = prove(None if entry is None else (entry, seal))
        if options["json"]:
            self.stdout.write(json.dumps(asdict(proof), ensure_ascii=False))
        else:
            for fault in proof.faults[:SHOWN]:
                self.stdout.write(f"{fault.where}: {fault.words}")
            if len(proof.faults) > SHOWN:
                self.stdout.write(f"... and {len(proof.faults) - SHOWN} more.")
            self.stdout.write(
                f"{proof.entries} entries, {proof.rows} rows. Newest entry "
                f"{proof.newest}, seal {proof.head or 'none'}."
            )
            self.stdout.write(
                f"{len(proof.faults)} not as written. {WHAT_TO_DO}"
                if proof.faults
                else "All as written. Note number and seal outside this machine: whoever "
                "alters a record later cannot match them."
            )
        if proof.faults:
            sys.exit(1)

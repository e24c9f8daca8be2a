"""`manage.py brake_status`: level, findings, next change and remedy of vehicles on a day."""

import datetime as dt
import json
from collections.abc import Iterable
from typing import Any

from django.core.management.base import CommandError, CommandParser
from django.utils.timezone import localtime

from fleet.fitness.day_status import DayStatus, day_statuses
from fleet.fitness.explained import lines, plain, told
from fleet.fitness.findings import Finding, Span
from fleet.records.commands import RegisterCommand, day_named
from fleet.records.knowledge import Knowledge, knowledge_named
from fleet.register.vocabulary import level_words


class Command(RegisterCommand):
    """Print brake status as worked out from the facts at the moment."""

    help = (
        "Print the brake status of vehicles, all of them if none is named, at the close "
        "of a day. The status says what the records show, nothing more."
    )

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("numbers", nargs="*", metavar="NUMBER")
        parser.add_argument("--on", metavar="DATE", help="day, as 2027-05-03")
        parser.add_argument(
            "--known-at",
            metavar="TIME",
            help="on what was recorded up to a time, as 2026-05-03T14:30, or a day",
        )
        parser.add_argument(
            "--explain",
            action="store_true",
            help="say why, down to each record, person and instrument; name vehicles",
        )
        parser.add_argument("--json", action="store_true", help="for other programs")

    def handle(self, *args: Any, **options: Any) -> None:
        if options["explain"] and not options["numbers"]:
            raise CommandError("Name the vehicles to explain, as brake_status T 101.")
        day = day_named(options["on"])
        known = _knowledge(options["known_at"])
        found = day_statuses(
            day,
            numbers=options["numbers"] or None,
            known_at=known.number if known else None,
        )
        missing = _missing(options["numbers"], found)
        if missing:
            raise CommandError(
                f"On {day} there is no vehicle numbered {', '.join(missing)}. Check the "
                "number, or the day with --on."
            )
        if options["explain"]:
            self._explain(found, day, known, as_json=options["json"])
            return
        if options["json"]:
            listed = {
                "on": day.isoformat(),
                "known_at": known.at.isoformat() if known else None,
                "vehicles": [_plain(status) for status in found],
            }
            self.stdout.write(json.dumps(listed, indent=2, ensure_ascii=False))
            return
        self.stdout.write(f"Brake status at the close of {day}, {_reading(known)}.")
        for status in found:
            self.stdout.write("\n" + "\n".join(_lines(status)))

    def _explain(
        self,
        found: list[DayStatus],
        day: dt.date,
        known: Knowledge | None,
        *,
        as_json: bool,
    ) -> None:
        number = known.number if known else None
        every = [told(status.vehicle, day, known_at=number) for status in found]
        kept = [one for one in every if one is not None]
        if as_json:
            listed = {
                "on": day.isoformat(),
                "known_at": known.at.isoformat() if known else None,
                "vehicles": [plain(one) for one in kept],
            }
            self.stdout.write(json.dumps(listed, indent=2, ensure_ascii=False))
            return
        self.stdout.write(f"Brake status at the close of {day}, {_reading(known)}.")
        for one in kept:
            self.stdout.write("\n" + "\n".join([one.explanation.number, *lines(one)]))


def _knowledge(text: str | None) -> Knowledge | None:
    if text is None:
        return None
    try:
        return knowledge_named(text)
    except ValueError as error:
        raise CommandError(f"--known-at {error}") from error


def _reading(known: Knowledge | None) -> str:
    if known is None:
        return "as the records show"
    at = localtime(known.at)
    return f"on what was recorded up to {at:%Y-%m-%d %H:%M} (entry {known.number})"


def _missing(asked: Iterable[str], found: Iterable[DayStatus]) -> list[str]:
    there = {status.number.casefold() for status in found}
    return [number for number in asked if number.strip().casefold() not in there]


def _lines(status: DayStatus) -> list[str]:
    lines = [f"{status.number}  ({status.type_code})"]
    for span in status.spans:
        lines.append(f"  {span.system.label}: {_words(span)}")
        if span.until:
            lines.append(f"    until {span.until}, then: {span.change}")
    if not status.spans:
        lines.append("  No brake system is fitted.")
    for finding in status.findings:
        lines.append(f"  - {finding.text} [{finding.code}, {finding.effect.label}]")
        if finding.condition:
            lines.append(f"    condition: {finding.condition}")
        lines.append(f"    clears: {finding.clears}")
    return lines


def _words(span: Span) -> str:
    return level_words(span.level, span.system, whole_vehicle=span.whole_vehicle)


def _plain(status: DayStatus) -> dict[str, Any]:
    return {
        "number": status.number,
        "type": status.type_code,
        "systems": {span.system.value: _system(span) for span in status.spans},
        "findings": [_finding(finding) for finding in status.findings],
    }


def _system(span: Span) -> dict[str, Any]:
    return {
        "level": span.level.code,
        "words": _words(span),
        "since": span.since.isoformat(),
        "until": span.until.isoformat() if span.until else None,
        "next_change": span.change,
        "headline": span.headline,
        "conditions": list(span.conditions),
        "whole_vehicle": span.whole_vehicle,
    }


def _finding(finding: Finding) -> dict[str, Any]:
    return {
        "code": finding.code,
        "effect": finding.effect.value,
        "scope": finding.scope.value,
        "text": finding.text,
        "clears": finding.clears,
        "since": finding.since.isoformat(),
        "until": finding.until.isoformat() if finding.until else None,
        "position": finding.position,
        "condition": finding.condition,
        "missing": finding.missing,
        "forecast": finding.forecast,
        "source": finding.source,
    }

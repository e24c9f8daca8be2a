"""Statements the demo's manager issued: one stands, one is superseded, one withdrawn."""

import datetime as dt

from fleet.config.demo.line import Line
from fleet.fitness.snapshots import open_bundle, take_snapshot
from fleet.people.models import Person
from fleet.reports.bundle import reader
from fleet.reports.issuing import issue


def issued_before(line: Line) -> None:
    """A statement that a crew's report is about to contradict."""
    _issue(line, "B 421")


def issued(line: Line) -> None:
    """Statements for the season; of one vehicle a second, after its number was misread."""
    for number in ("T 110", "T 112", "T 112"):
        _issue(line, number)


def after_an_accident(line: Line) -> None:
    """Two coaches ran past a signal; their records were kept and held."""
    numbers = [n for n in ("T 113", "T 114") if n in line.vehicles]
    signer = Person.objects.get(user__username="manager")
    on = line.today - dt.timedelta(days=20)
    snapshot = take_snapshot(
        by=signer.user,
        person=signer,
        vehicles=[line.vehicles[number] for number in numbers],
        on=on,
        reason="Train passed the home signal by 30 m",
        read=reader(on),
    )
    open_bundle(by=signer.user, snapshot=snapshot)


def _issue(line: Line, number: str) -> None:
    vehicle = line.vehicles.get(number)
    if vehicle is None:
        return
    signer = Person.objects.get(user__username="manager")
    issue(by=signer.user, person=signer, vehicle=vehicle, on=line.today)

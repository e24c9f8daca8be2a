"""Statements the demo's manager issued: one stands, one is superseded, one withdrawn."""

from fleet.config.demo.line import Line
from fleet.people.models import Person
from fleet.reports.issuing import issue


def issued_before(line: Line) -> None:
    """A statement that a crew's report is about to contradict."""
    _issue(line, "B 421")


def issued(line: Line) -> None:
    """Statements for the season; of one vehicle a second, after its number was misread."""
    for number in ("T 110", "T 112", "T 112"):
        _issue(line, number)


def _issue(line: Line, number: str) -> None:
    vehicle = line.vehicles.get(number)
    if vehicle is None:
        return
    signer = Person.objects.get(user__username="manager")
    issue(by=signer.user, person=signer, vehicle=vehicle, on=line.today)

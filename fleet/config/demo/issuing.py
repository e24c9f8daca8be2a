"""Statements the demo's manager issued: one stands, one is superseded, one withdrawn."""

import datetime as dt

from fleet.config.demo.line import Line
from fleet.examination.models import Test
from fleet.fitness.snapshots import open_bundle, take_snapshot
from fleet.people.models import Person
from fleet.register.models import Vehicle
from fleet.reports.bundle import reader
from fleet.reports.issuing import issue
from fleet.reports.season import begin, choice, step
from fleet.upkeep.visits import Seen, accept_visit


def issued_before(line: Line) -> None:
    """A statement that a crew's report is about to contradict."""
    _issue(line, "B 421")


def issued(line: Line) -> None:
    """
    A run of statements for the season, not finished: one vehicle refused, one waiting.

    Of one vehicle a second statement, after its number was misread.
    """
    signer = Person.objects.get(user__username="manager")
    chosen = choice(line.today, "braked")
    numbers = [n for n in ("T 110", "T 112", "T 109", "T 113") if n in line.vehicles]
    run = begin(
        chosen,
        [line.vehicles[number].pk for number in numbers],
        by=signer.user,
        person=signer,
        picked=f"; {len(numbers)} ticked by hand",
    )
    step(run, by=signer.user, person=signer, at_most=3)
    _issue(line, "T 112")


def visitor_accepted(line: Line, vehicle: Vehicle, test: Test) -> None:
    """A coach of the quarry's line, for the autumn trains; a sheet has run out since."""
    signer = Person.objects.get(user__username="manager")
    accept_visit(
        by=signer.user,
        person=signer,
        vehicle=vehicle,
        owner="Scarth Quarry Tramway",
        regime="Quarry brake plan QB 2, issue 3",
        evidence=[
            Seen(
                "Yearly brake examination",
                "QB 2/114",
                "Scarth Quarry Tramway",
                dated=line.today - dt.timedelta(days=340),
                valid_until=line.today - dt.timedelta(days=3),
            ),
            Seen("Hoses renewed", "Stores note 88", "Scarth Quarry Tramway"),
        ],
        tests=[test],
        condition="Owner's plan: not above 20 mph",
        since=line.today - dt.timedelta(days=18),
        last_day=line.today + dt.timedelta(days=40),
    )


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

"""The demo's authority to move: isolated at an out-station, leave to come to the works."""

import datetime as dt

from fleet.config.demo.line import Line
from fleet.defects.models import Isolation
from fleet.defects.services.moving import authorise_move
from fleet.people.models import Person


def authorised(line: Line) -> None:
    """May be brought to the works within the week, at the tail of an empty train."""
    manager = Person.objects.get(user__username="manager")
    isolation = Isolation.objects.get(vehicle=line.vehicles["T 103"])
    authorise_move(
        by=manager.user,
        isolation=isolation,
        person=manager,
        since=line.today - dt.timedelta(days=2),
        last_day=line.today + dt.timedelta(days=5),
        destination="Marrowby works",
        limits="Empty train, 15 mph, not last in the train; hand brake proved first.",
    )

"""Who overhauled what on the demo line: two firms, the line's own shops, their kits."""

import datetime as dt

from fleet.config.demo.line import Line
from fleet.engineering.calendar import Moment
from fleet.register.models import Fitting
from fleet.register.services.overhauls import record_overhaul

DONE = (  # vehicle, overhauler, certificate or job, kit or batch of seals
    ("T 101", "Quillfeather Brake Overhauls", "QB 1187", "DK-0412"),
    ("T 102", "Quillfeather Brake Overhauls", "QB 1188", "DK-0412"),
    ("T 103", "Quillfeather Brake Overhauls", "QB 1203", "DK-0419"),
    ("T 104", "Marrowby shops", "Job 2204", "DK-0412"),
    ("T 106", "Yaxwold Valve Works", "Y/77/3", ""),
)


def by_whom(line: Line) -> None:
    """The distributors of five coaches, one of them in stores since it came off."""
    for number, overhauler, certificate, kit in DONE:
        if number not in line.vehicles:
            continue
        fitting = _first_distributor(line, number)
        record_overhaul(
            by=line.by,
            equipment=fitting.equipment,
            on=_shortly_before(fitting),
            overhauler=overhauler,
            certificate=certificate,
            kit_batch=kit,
        )


def _first_distributor(line: Line, number: str) -> Fitting:
    """Return the distributor a coach had before any exchange lately."""
    carried = Fitting.objects.current().filter(
        vehicle=line.vehicles[number], position="distributor"
    )
    fitting: Fitting = carried.select_related("equipment").order_by("since_key")[0]
    return fitting


def _shortly_before(fitting: Fitting) -> Moment:
    """Return a day some weeks before an item was fitted, not before it was made."""
    fitted = fitting.since.earliest
    assert fitted is not None
    made = fitting.equipment.versions.order_by("pk")[0].made_earliest
    return Moment.on(max(fitted - dt.timedelta(days=20), made or dt.date.min))

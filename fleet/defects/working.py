"""The work in hand that belongs to a defect."""

from fleet.defects import steps
from fleet.defects.models import Defect, WorkInHand
from fleet.engineering.calendar import Moment
from fleet.people.models import Person
from fleet.records.models import Entry
from fleet.records.versions import continue_version


def open_work(defect: Defect) -> WorkInHand | None:
    """Return the work in hand on a defect, if any has not ended."""
    held = WorkInHand.objects.current().open_ended().filter(defect=defect)
    found: WorkInHand | None = held.select_related("vehicle").first()
    return found


def end_work(
    defect: Defect, entry: Entry, person: Person, on: Moment
) -> WorkInHand | None:
    """End the work in hand on a defect by a signature, if there is any."""
    work = open_work(defect)
    if work is None:
        return None
    refuse_work_end(work, on)
    # Competence to release is asked of the step that clears the defect, not here again.
    return continue_version(work, entry=entry, until=on, released_by=person)


def refuse_work_end(work: WorkInHand, moment: Moment, field: str = "on") -> None:
    """Refuse to end work before it began."""
    steps.refuse_before(moment, work.since, field, "It was taken in hand")
    steps.refuse_no_time(moment, work.since, field)

"""What a blank sheet is decided from, read in a fixed number of queries."""

import datetime as dt
from urllib.parse import urlencode

from django.urls import reverse

from fleet.engineering.calendar import Moment
from fleet.examination.asking import asked_of
from fleet.examination.models import Procedure, ProcedureRevision, TestRecord
from fleet.examination.subjects import Tested
from fleet.examination.vocabulary import TestSubject
from fleet.register.vocabulary import EquipmentKind
from fleet.reports.asked import NotAsked
from fleet.reports.blank import BlankSheet, blank_sheet
from fleet.reports.sheet import Printed
from fleet.reports.subject import subject_of


def blank_sheet_of(
    procedure: Procedure,
    tested: Tested | None,
    *,
    on: dt.date,
    printed: Printed,
    home: str,
) -> BlankSheet:
    """
    Return the sheet of a procedure as it is in force on a day, for what is named.

    `home` is the address of the register's front door. Raises NotAsked where nothing
    was in force that day, or the procedure is carried out on something else.
    """
    revision = _in_force(procedure, on)
    if tested is not None:
        _refuse_subject(revision, tested)
    at = Moment.on(on)
    vehicle = tested.vehicle if tested else None
    return blank_sheet(
        revision,
        asked_of(revision, vehicle, at),
        subject=subject_of(tested.vehicle, tested.equipment, at) if tested else None,
        previous=_previous(procedure, tested, on) if tested else None,
        on=on,
        printed=printed,
        address=address_of_form(procedure, tested, home),
    )


def address_of_form(procedure: Procedure, tested: Tested | None, home: str) -> str:
    """Return the whole address of the form a test by this procedure is entered in."""
    asked = {"procedure": procedure.code}
    query = f"{tested.query}&{urlencode(asked)}" if tested else urlencode(asked)
    return f"{home.rstrip('/')}{reverse('examination:test-add')}?{query}"


def _in_force(procedure: Procedure, on: dt.date) -> ProcedureRevision:
    known = ProcedureRevision.objects.in_force(on).filter(procedure=procedure)
    loaded = known.select_related("procedure").prefetch_related("lines")
    found: ProcedureRevision | None = loaded.first()
    if found is None:
        raise NotAsked(
            f"The procedure {procedure.code} is not in force on that day. Choose a day "
            "from the list of its revisions."
        )
    return found


def _refuse_subject(revision: ProcedureRevision, tested: Tested) -> None:
    on_vehicle = revision.subject == TestSubject.VEHICLE
    if on_vehicle != (tested.vehicle is not None):
        what = "a vehicle" if on_vehicle else "an item of equipment"
        raise NotAsked(
            f"“{revision.title}” is carried out on {what}. Choose another procedure."
        )
    item = tested.equipment
    if item is not None and revision.kind not in {"", item.kind}:
        kind = EquipmentKind(revision.kind).label.lower()
        raise NotAsked(
            f"“{revision.title}” is for items of the kind {kind}. Choose another "
            "procedure."
        )


def _previous(procedure: Procedure, tested: Tested, on: dt.date) -> TestRecord | None:
    """Return the newest record of a procedure on something up to a day."""
    records = TestRecord.objects.current().of(
        vehicle=tested.vehicle, equipment=tested.equipment
    )
    found: TestRecord | None = (
        records.filter(procedure_revision__procedure=procedure, on_latest__lte=on)
        .select_related("done_by")
        .prefetch_related("readings__line", "thicknesses__line")
        .order_by("-on_latest", "-on_at", "-pk")
        .first()
    )
    return found

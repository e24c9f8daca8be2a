"""The log of a vehicle: who recorded what, when."""

import datetime as dt
from dataclasses import dataclass

from django.db.models import QuerySet

from fleet.records.models import Channel, Entry, Mention
from fleet.register.models import Vehicle

# What each deed is called on a page; a name not listed is shown as it stands.
DEEDS = {
    "register.add_vehicle": "Vehicle entered in the register",
    "register.alter_vehicle": "Particulars changed",
    "register.correct_vehicle": "Particulars corrected",
    "register.add_equipment": "Item entered in the register",
    "register.define_type": "Vehicle type laid down",
    "register.revise_type": "Vehicle type revised",
    "register.alter_equipment": "Standing of an item changed",
    "register.correct_equipment": "Item's particulars corrected",
    "register.fit": "Equipment fitted",
    "register.take_off": "Equipment taken off",
    "register.exchange": "Equipment exchanged",
    "register.correct_fitting": "Fitting corrected",
    "register.retract_fitting": "Fitting retracted",
    "register.record_overhaul": "Overhauler of an item recorded",
    "register.correct_overhaul": "Overhaul of an item corrected",
    "register.retract_overhaul": "Overhaul of an item retracted",
    "register.log_usage": "Usage logged",
    "register.read_meter": "Meter read",
    "register.store_vehicle": "Put into storage",
    "register.return_vehicle": "Returned from storage",
    "examination.record_test": "Test recorded",
    "examination.correct_test": "Test corrected",
    "examination.retract_test": "Test retracted",
    "examination.counter_sign": "Test counter-signed",
    "examination.retract_signature": "Counter-signature taken back",
    "examination.add_instrument": "Instrument entered in the register",
    "examination.alter_instrument": "Instrument's particulars changed",
    "examination.record_calibration": "Calibration recorded",
    "examination.correct_calibration": "Calibration corrected",
    "examination.retract_calibration": "Calibration retracted",
    "examination.define_procedure": "Procedure laid down",
    "examination.revise_procedure": "Procedure revised",
    "examination.approve_draft": "Revision of a procedure approved",
    "people.grant_competence": "Competence recorded",
    "people.withdraw_competence": "Competence withdrawn",
    "people.correct_competence": "Competence corrected",
    "people.retract_competence": "Competence retracted",
    "defects.raise": "Defect raised",
    "defects.raise_defect": "Defect raised",
    "defects.assess": "Defect assessed",
    "defects.take_in_hand": "Work taken in hand",
    "defects.work_done": "Work done",
    "defects.record_tested": "Tested after work",
    "defects.release": "Defect cleared",
    "defects.no_fault_found": "No fault found",
    "defects.start_work": "Work taken in hand",
    "defects.release_to_traffic": "Released to traffic",
    "defects.record_isolation": "Brake isolated",
    "defects.complete_isolation": "Isolation record completed",
    "defects.restore_brake": "Isolated brake restored",
    "defects.authorise_move": "Authority to move given",
    "defects.withdraw_authority": "Authority to move withdrawn",
    "upkeep.ask_concession": "Concession asked for",
    "upkeep.ask_renewal": "Renewal of a concession asked for",
    "upkeep.agree_concession": "Concession agreed to",
    "upkeep.grant_concession": "Concession granted",
    "upkeep.correct_grant": "Concession corrected",
    "upkeep.refuse_concession": "Concession refused",
    "upkeep.withdraw_concession": "Concession withdrawn",
    "upkeep.retract_concession": "Concession retracted",
    "upkeep.record_recheck": "Concession re-checked",
    "upkeep.retract_recheck": "Re-check of a concession retracted",
    "defects.record_wrong_cock": "Cock found in the wrong position",
    "defects.prove_cock": "Cock put right, brake tested",
    "defects.close_cock": "Cause of a wrong cock recorded",
    "upkeep.issue_notice": "Fleet notice issued",
    "upkeep.sign_item_off": "Item signed off for a fleet notice",
    "upkeep.close_notice": "Fleet notice closed",
    "upkeep.accept_visit": "Accepted as a visitor",
    "upkeep.renew_evidence": "Evidence of a visit renewed",
    "upkeep.end_visit": "Visit ended early",
    "fitness.issue_statement": "Fitness statement issued",
    "fitness.withdraw_statement": "Fitness statement withdrawn",
    "fitness.take_snapshot": "Records kept and held after an accident",
    "fitness.lift_hold": "Hold after an accident lifted",
    "defects.counter_sign": "Counter-signed",
    "demo.day_sheets": "Day's sheets entered",
    "demo.vehicles": "Vehicle brought in",
}


@dataclass(frozen=True, slots=True)
class LogLine:
    """One entry that touched the vehicle."""

    number: int
    made_at: dt.datetime
    what: str
    who: str
    channel: str


def log_of(
    vehicle: Vehicle, *, known_at: int | None = None, newest: int = 30
) -> list[LogLine]:
    """Return the newest entries that touched a vehicle, newest first; one query."""
    mentions = _mentions(vehicle)
    if known_at is not None:
        mentions = mentions.filter(entry__number__lte=known_at)
    rows = mentions.select_related("entry__user").order_by("-entry__number")[:newest]
    return [line_of(mention.entry) for mention in rows]


def recorded_since(vehicle: Vehicle, known_at: int) -> int:
    """Return how many entries touched a vehicle after one."""
    return _mentions(vehicle).filter(entry__number__gt=known_at).count()


def _mentions(vehicle: Vehicle) -> "QuerySet[Mention]":
    return Mention.objects.filter(
        kind=vehicle._meta.label_lower,
        key=vehicle.pk,
        entry__number__isnull=False,
    )


def line_of(entry: Entry) -> LogLine:
    """Return an entry as a log shows it."""
    assert entry.number is not None
    return LogLine(
        entry.number,
        entry.made_at,
        DEEDS.get(entry.deed, entry.deed.replace(".", ": ").replace("_", " ")),
        str(entry.user) if entry.user else "the register itself",
        Channel(entry.channel).label,
    )

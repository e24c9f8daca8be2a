"""What a test certificate is decided from, read in a fixed number of queries."""

from collections.abc import Sequence

from fleet.engineering.calendar import Moment
from fleet.examination.asking import Places, places_on
from fleet.examination.flags import flags_of
from fleet.examination.models import (
    Calibration,
    CounterSignature,
    InstrumentVersion,
    ProcedureRevision,
    TestRecord,
)
from fleet.examination.surveys import required_of
from fleet.register.models import Vehicle
from fleet.reports.certificate import (
    CertificateSheet,
    Loaded,
    certificate_sheet,
    shown_of,
)
from fleet.reports.sheet import Printed
from fleet.reports.subject import subject_of
from fleet.upkeep.wear import Wear, wear_of


def certificate_of(test: int, *, printed: Printed) -> CertificateSheet | None:
    """Return the certificate of a test as known at the entry named; None: no record."""
    records = _records(test, printed.entry)
    if not records:
        return None
    newest, shown = records[0], shown_of(records)
    readings = [reading for record in records for reading in record.readings.all()]
    used = {r.instrument_id for r in readings if r.instrument_id is not None}
    loaded = Loaded(
        records=records,
        subject=subject_of(newest.vehicle, newest.equipment, newest.on),
        places=places_of(newest.procedure_revision, newest.vehicle, newest.on),
        instruments=_instruments(used, printed.entry),
        calibrations=_calibrations(used, printed.entry),
        counter_signatures=_counter_signatures(test, printed.entry),
        wears=_wears(shown, printed.entry),
        lacking=flags_of([shown])[shown.pk].lacking,
        required=required_of(newest),
    )
    return certificate_sheet(loaded, printed=printed)


def _wears(record: TestRecord, entry: int | None) -> Sequence[Wear]:
    """Return how that wears which a record measured, up to its day."""
    lines = record.procedure_revision.lines.all()
    asked = {line.text for line in lines if line.wears}
    if not asked or record.vehicle is None or record.on.latest is None:
        return ()
    found = wear_of(record.vehicle, record.on.latest, known_at=entry)
    return [wear for wear in found if wear.asked in asked]


def places_of(
    revision: ProcedureRevision, vehicle: Vehicle | None, on: Moment
) -> Places | None:
    """Return what each repeat of a revision stands for on a vehicle; None: unknown."""
    repeated = any(line.repeat for line in revision.lines.all())
    return places_on(revision, vehicle, on) if repeated and vehicle else None


def _records(test: int, entry: int | None) -> list[TestRecord]:
    """Return every version of a record written by an entry, the newest first."""
    known = TestRecord.objects.filter(test=test, opened_by__number__lte=entry or 0)
    loaded = known.for_page().select_related(
        "procedure_revision__approved_by",
        "competence",
        "vehicle",
        "equipment",
    )
    return list(
        loaded.prefetch_related("traces__line", "thicknesses__line").order_by("-pk")
    )


def _instruments(used: set[int], entry: int | None) -> Sequence[InstrumentVersion]:
    if not used:
        return ()
    known = InstrumentVersion.objects.known_at(entry).filter(instrument__in=used)
    return list(known.order_by("since_key"))


def _calibrations(used: set[int], entry: int | None) -> Sequence[Calibration]:
    if not used:
        return ()
    return list(Calibration.objects.known_at(entry).filter(instrument__in=used))


def _counter_signatures(test: int, entry: int | None) -> Sequence[CounterSignature]:
    known = CounterSignature.objects.known_at(entry).filter(test=test)
    return list(known.select_related("by", "competence").order_by("pk"))

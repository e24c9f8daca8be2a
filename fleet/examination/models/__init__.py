"""Tables of examination, by subject; import them from here."""

from fleet.examination.models.instruments import (
    Calibration,
    Instrument,
    InstrumentVersion,
)
from fleet.examination.models.procedures import (
    Procedure,
    ProcedureDraft,
    ProcedureLine,
    ProcedureRevision,
)
from fleet.examination.models.records import (
    CounterSignature,
    Reading,
    Test,
    TestRecord,
    ThicknessReading,
    Trace,
)

__all__ = [
    "Calibration",
    "CounterSignature",
    "Instrument",
    "InstrumentVersion",
    "Procedure",
    "ProcedureDraft",
    "ProcedureLine",
    "ProcedureRevision",
    "Reading",
    "Test",
    "TestRecord",
    "ThicknessReading",
    "Trace",
]

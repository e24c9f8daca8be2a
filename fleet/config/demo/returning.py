"""The demo's defect that comes back: twice no fault was found, the third time waits."""

from fleet.config.demo.line import Line
from fleet.defects.services import no_fault_found, raise_defect
from fleet.register.vocabulary import Effect


def third_time(line: Line) -> None:
    """Slow to release three times in four months; somebody higher up has to look at it."""
    for days, looked_into in ((120, True), (64, True), (6, False)):
        defect = raise_defect(
            by=line.by,
            person=line.fitter,
            vehicle=line.vehicles["T 110"],
            position="distributor",
            title="Distributor: slow to release",
            on=line.ago(days, 9),
            effect=Effect.ADVISE,
        )
        if looked_into:
            no_fault_found(
                by=line.by,
                person=line.fitter,
                defect=defect,
                on=line.ago(days, 14),
                note="Applied and released ten times; each time within the limit.",
            )

"""What the form of a test shows of one line, and what there is to put right."""

import json
from dataclasses import dataclass

from django.forms.boundfield import BoundField

from fleet.engineering.units import QUANTITIES, straight_line
from fleet.examination.asking import Asked
from fleet.examination.judging import plain
from fleet.examination.leak_forms import LeakForm
from fleet.examination.models import ProcedureLine, Reading
from fleet.examination.survey_forms import SurveyForm
from fleet.examination.trace_forms import TraceForm
from fleet.examination.vocabulary import Answer

PARTS = ("value", "unit", "instrument", "answer", "note")
LEFT_OUT = [(a.value, a.label) for a in (Answer.NOT_DONE, Answer.NOT_APPLICABLE)]
ANSWERED = [(a.value, a.label) for a in (Answer.MET, Answer.NOT_MET)]


@dataclass(frozen=True, slots=True)
class LineBlock:
    """What the page shows of one line: its fields, errors and what was found before."""

    asked: Asked
    value: BoundField | None
    unit: BoundField | None
    answer: BoundField
    note: BoundField
    errors: list[str]
    previous: Reading | None
    leak: LeakForm | None = None  # of a leakage line: works it out from readings
    instrument: BoundField | None = None
    trace: TraceForm | None = None
    survey: SurveyForm | None = None

    @property
    def line(self) -> ProcedureLine:
        """Return the line that is asked."""
        return self.asked.line

    @property
    def not_met(self) -> str:
        """Return the choices that are not good enough, as a script reads them."""
        return json.dumps([words for words, met in self.line.choices if not met])

    @property
    def open(self) -> bool:
        """Say whether the fields for leaving out are to be seen at once."""
        told = self.note.value() or (self.instrument and self.instrument.value())
        return bool(told) or self.answer.value() in dict(LEFT_OUT)

    @property
    def low(self) -> str:
        """Return the lower limit as a script reads it."""
        return plain(self.line.low)

    @property
    def high(self) -> str:
        """Return the upper limit as a script reads it."""
        return plain(self.line.high)

    @property
    def condemned(self) -> str:
        """Return the condemning limit as a script reads it."""
        return plain(self.line.condemned)

    @property
    def units(self) -> str:
        """Return how each unit turns into the unit of the limits, for the script."""
        names = QUANTITIES[self.line.quantity].units
        lines = {name: straight_line(name, self.line.unit) for name in names}
        return json.dumps({n: [float(a), float(b)] for n, (a, b) in lines.items()})


@dataclass(frozen=True, slots=True)
class Mistake:
    """Something to put right: where on the page, and what to do."""

    anchor: str
    place: str
    sentence: str

"""The form of a test: one block for each line, in the order they are walked."""

import json
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.forms.boundfield import BoundField

from fleet.engineering.calendar import Precision
from fleet.engineering.units import QUANTITIES, straight_line
from fleet.examination.judging import plain
from fleet.examination.models import (
    ProcedureLine,
    ProcedureRevision,
    Reading,
    TestRecord,
)
from fleet.examination.readings import read_line
from fleet.examination.vocabulary import Answer
from fleet.people.models import Person
from fleet.records.clock import today
from fleet.register.models import Depot
from fleet.ui.forms import DayAndTimeField, MomentField, SubmissionForm, add_refusal

WHEN_HELP = (
    "Leave the time empty if it was not noted. Without a time, a test on the day of a "
    "change does not count as following it."
)
# Where a refusal stands that is not about the reading itself.
_PLACES = {"no_reason": "note", "impossible_unit": "unit"}
PARTS = ("value", "unit", "answer", "note")
LEFT_OUT = [(a.value, a.label) for a in (Answer.NOT_DONE, Answer.NOT_APPLICABLE)]
ANSWERED = [(a.value, a.label) for a in (Answer.MET, Answer.NOT_MET)]


@dataclass(frozen=True, slots=True)
class LineBlock:
    """What the page shows of one line: its fields, errors and what was found before."""

    line: ProcedureLine
    value: BoundField | None
    unit: BoundField | None
    answer: BoundField
    note: BoundField
    errors: list[str]
    previous: Reading | None

    @property
    def open(self) -> bool:
        """Say whether the fields for leaving out are to be seen at once."""
        return bool(self.note.value()) or self.answer.value() in dict(LEFT_OUT)

    @property
    def low(self) -> str:
        """Return the lower limit as a script reads it."""
        return plain(self.line.low)

    @property
    def high(self) -> str:
        """Return the upper limit as a script reads it."""
        return plain(self.line.high)

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


class TestForm(SubmissionForm):
    """Record a test: when, by whom, with what, and every line of the procedure."""

    __test__ = False

    revision = forms.IntegerField(widget=forms.HiddenInput)
    on = DayAndTimeField(latest=today, label="Done on", help_text=WHEN_HELP)
    done_by = forms.ModelChoiceField(Person.objects.none(), label="Done by")
    place = forms.ModelChoiceField(
        Depot.objects.none(), required=False, label="Place", empty_label="Not stated"
    )
    instruments = forms.CharField(
        max_length=200,
        required=False,
        label="Gauges and rigs used",
        help_text="The number of each, such as G 14.",
    )
    ambient_c = forms.DecimalField(
        max_digits=4,
        decimal_places=1,
        min_value=-60,
        max_value=60,
        required=False,
        label="Air temperature (°C)",
        help_text="In frost and after storage seals may pass or fail falsely.",
        widget=forms.TextInput(attrs={"inputmode": "text"}),
    )
    remarks = forms.CharField(
        required=False, widget=forms.Textarea(attrs={"rows": 3}), label="Remarks"
    )

    def __init__(
        self,
        *args: Any,
        of: ProcedureRevision,
        previous: TestRecord | None = None,
        **options: Any,
    ) -> None:
        """Make the blocks of a revision; `previous` is the record before this one."""
        super().__init__(*args, **options)
        self.of = of
        self.lines = list(of.lines.all())
        self.previous = _by_text(previous)
        self.initial.setdefault("revision", of.pk)
        people = self.fields["done_by"]
        people.queryset = _people(self.initial.get("done_by"))  # type: ignore[attr-defined]  # a ModelChoiceField
        self.fields["place"].queryset = Depot.objects.all()  # type: ignore[attr-defined]  # another
        for line in self.lines:
            self._add(line)

    def blocks(self) -> Iterator[LineBlock]:
        """Yield the blocks in the order they are walked."""
        for line in self.lines:
            bound = {
                part: self[field_name(line, part)]
                for part in PARTS
                if field_name(line, part) in self.fields
            }
            errors = [str(e) for field in bound.values() for e in field.errors]
            yield LineBlock(
                line=line,
                value=bound.get("value"),
                unit=bound.get("unit"),
                answer=bound["answer"],
                note=bound["note"],
                errors=errors,
                previous=self.previous.get(line.text),
            )

    def head(self) -> list[BoundField]:
        """Return the fields above the lines."""
        return [
            self[n] for n in ("reason", "on", "done_by", "place") if n in self.fields
        ]

    def tail(self) -> list[BoundField]:
        """Return the fields below the lines."""
        return [self[name] for name in ("instruments", "ambient_c", "remarks")]

    def mistakes(self) -> list[Mistake]:
        """Return everything to put right, in the order of the page."""
        found = [Mistake("", "", str(e)) for e in self.non_field_errors()]
        found += _mistakes_at(self.head())
        found += [
            Mistake(f"line-{b.line.order}", f"{b.line.order}. {b.line.text}", error)
            for b in self.blocks()
            for error in b.errors
        ]
        return found + _mistakes_at(self.tail())

    def clean(self) -> dict[str, Any]:
        """Read every line as it will be recorded, so that all mistakes show at once."""
        cleaned = super().clean() or self.cleaned_data
        blank = ValidationError(
            "Answer this line. If it was not done, say so and why.", code="required"
        )
        for line in self.lines:
            place = field_name(line, "value" if line.measured else "answer")
            if place in self.errors:
                continue
            try:
                if read_line(line, self._row(line)) is None and line.required:
                    self.add_error(place, blank)
            except ValidationError as refusal:
                self._refuse_line(line, refusal)
        return cleaned

    def readings(self) -> list[Mapping[str, Any]]:
        """Return what was written down for each line, as services take it."""
        return [{"line": line, **self._row(line)} for line in self.lines]

    def facts(self) -> dict[str, Any]:
        """Return what was written down beside the lines, as services take it."""
        names = ("on", "done_by", "place", "ambient_c", "instruments", "remarks")
        return {name: self.cleaned_data[name] for name in names}

    def refuse(self, refusal: ValidationError) -> None:
        """Show what was refused: at its line, at its field, or above the form."""
        named = getattr(refusal, "error_dict", None)
        if named is None:
            add_refusal(self, refusal)
            return
        keys = {f"line_{line.order}": line for line in self.lines}
        for key, errors in named.items():
            if key in keys:
                self._refuse_line(keys[key], ValidationError(errors))
            else:
                add_refusal(self, ValidationError({key: errors}))

    def _refuse_line(self, line: ProcedureLine, refusal: ValidationError) -> None:
        part = _PLACES.get(refusal.error_list[0].code or "")
        if part is None:
            part = "value" if line.measured else "answer"
        self.add_error(field_name(line, part), refusal)

    def _row(self, line: ProcedureLine) -> dict[str, Any]:
        names = {part: field_name(line, part) for part in PARTS}
        return {part: self.cleaned_data.get(name, "") for part, name in names.items()}

    def _add(self, line: ProcedureLine) -> None:
        label = f"{line.order}. {line.text}"
        if line.measured:
            self._add_measured(line, label)
        else:
            self.fields[field_name(line, "answer")] = forms.ChoiceField(
                choices=[*ANSWERED, *LEFT_OUT],
                widget=forms.RadioSelect,
                required=False,
                label=label,
            )
        self.fields[field_name(line, "note")] = forms.CharField(
            max_length=200, required=False, label="Note, or the reason"
        )

    def _add_measured(self, line: ProcedureLine, label: str) -> None:
        units = QUANTITIES[line.quantity].units
        before = self.previous.get(line.text)
        self.fields[field_name(line, "value")] = forms.CharField(
            max_length=20,
            required=False,
            label=label,
            widget=forms.TextInput(
                attrs={
                    # A telephone's number pad has no minus sign.
                    "inputmode": (
                        "text" if line.quantity == "temperature" else "decimal"
                    ),
                    "autocomplete": "off",
                }
            ),
        )
        self.fields[field_name(line, "unit")] = forms.CharField(
            required=False,
            label=f"Unit, line {line.order}",
            initial=before.unit if before and before.unit in units else line.unit,
            widget=(
                forms.Select(choices=[(unit, unit) for unit in units])
                if len(units) > 1
                else forms.HiddenInput()
            ),
        )
        self.fields[field_name(line, "answer")] = forms.ChoiceField(
            choices=[("", "Measured"), *LEFT_OUT],
            required=False,
            label=f"Or, line {line.order}",
        )


class CorrectionForm(TestForm):
    """Correct a test: the same, prefilled, with the reason."""

    record = forms.IntegerField(widget=forms.HiddenInput)
    reason = forms.CharField(
        max_length=300,
        label="Why is it corrected?",
        help_text="Both versions stay to be seen, with this reason.",
    )

    def __init__(
        self, *args: Any, correcting: TestRecord, of: ProcedureRevision, **options: Any
    ) -> None:
        """Fill in what the record to be corrected holds."""
        options["initial"] = _held(correcting) | {"record": correcting.pk}
        super().__init__(*args, of=of, **options)
        if correcting.on.precision is not Precision.DAY:
            self.fields["on"] = MomentField(
                with_time=True,
                latest=today,
                allow_unknown=False,
                label="Done on",
                help_text=WHEN_HELP,
            )


class RetractionForm(SubmissionForm):
    """Say that a test should never have been recorded."""

    record = forms.IntegerField(widget=forms.HiddenInput)
    reason = forms.CharField(
        max_length=300,
        label="Why?",
        help_text="Such as: recorded for the wrong vehicle.",
    )


def field_name(line: ProcedureLine, part: str) -> str:
    """Return the name of a field of a line."""
    return f"line_{line.order}_{part}"


def carried_over(
    data: Mapping[str, Any], old: ProcedureRevision, new: ProcedureRevision
) -> dict[str, Any]:
    """
    Return what was typed into the lines of one revision, for those of another.

    Lines that read the same keep what was typed; the rest begin blank.
    """
    before = {line.text: line for line in old.lines.all()}
    kept = {key: data[key] for key in data if not key.startswith("line_")}
    kept["revision"] = str(new.pk)
    for line in new.lines.all():
        source = before.get(line.text)
        for part in PARTS if source else ():
            assert source is not None
            if field_name(source, part) in data:
                kept[field_name(line, part)] = data[field_name(source, part)]
    return kept


def _mistakes_at(fields: list[BoundField]) -> list[Mistake]:
    return [
        Mistake(f"at-{field.name}", str(field.label), str(error))
        for field in fields
        for error in field.errors
    ]


def _held(record: TestRecord) -> dict[str, Any]:
    values: dict[str, Any] = {
        "on": record.on,
        "done_by": record.done_by_id,
        "place": record.place_id,
        "ambient_c": record.ambient_c,
        "instruments": record.instruments,
        "remarks": record.remarks,
    }
    for reading in record.readings.all():
        line = reading.line
        values[field_name(line, "note")] = reading.note
        if reading.value is None:
            values[field_name(line, "answer")] = reading.answer
        else:
            values[field_name(line, "value")] = reading.typed or plain(reading.value)
            values[field_name(line, "unit")] = reading.unit
    return values


def _by_text(record: TestRecord | None) -> dict[str, Reading]:
    if record is None:
        return {}
    return {reading.line.text: reading for reading in record.readings.all()}


def _people(chosen: Any) -> Any:
    key = getattr(chosen, "pk", chosen)
    kept = Person.objects.filter(pk=key) if key else Person.objects.none()
    return Person.objects.active() | kept

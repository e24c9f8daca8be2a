"""The form of a test: one block for each line, in the order they are walked."""

from collections.abc import Iterator, Mapping
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.forms.boundfield import BoundField

from fleet.engineering.calendar import Moment, Precision
from fleet.engineering.units import QUANTITIES
from fleet.examination.asking import Asked, asked_of
from fleet.examination.attached import with_thinnest
from fleet.examination.blocks import ANSWERED, LEFT_OUT, PARTS, LineBlock, Mistake
from fleet.examination.held import held_in, last_time
from fleet.examination.instrument_choices import InstrumentChoices
from fleet.examination.leak_forms import leak_forms
from fleet.examination.models import (
    ProcedureRevision,
    Reading,
    TestRecord,
)
from fleet.examination.readings import read_line
from fleet.examination.staging import refused_stages
from fleet.examination.survey_forms import survey_forms
from fleet.examination.trace_forms import NOT_OURS, NOT_READ, trace_forms
from fleet.examination.vocabulary import ATTACHED, Found, LineKind, Stage
from fleet.people.models import Person
from fleet.records.clock import today
from fleet.register.models import Depot, Vehicle
from fleet.ui.forms import DayAndTimeField, MomentField, SubmissionForm, add_refusal

WHEN_HELP = (
    "Leave the time empty if it was not noted. Without a time, a test on the day of a "
    "change does not count as following it."
)
INSTRUMENT_HELP = (
    "For every reading that names no other. Out of calibration that day, the test does "
    "not count as passed."
)
OTHERS_HELP = "What is not in the register of instruments, by its number."
# Where a refusal stands that is not about the reading itself.
_PLACES = {"no_reason": "note", "impossible_unit": "unit"}


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
        vehicle: Vehicle | None = None,
        previous: TestRecord | None = None,
        **options: Any,
    ) -> None:
        """
        Make the blocks of a revision, for a vehicle as its type was on the day sent.

        `previous` is the record before this one.
        """
        super().__init__(*args, **options)
        self.of = of
        self.asked = asked_of(of, vehicle, self._day())
        self.previous = last_time(previous)
        self.leaks = leak_forms(self.data, self.asked)
        self.traces = trace_forms(self.data, self.files, self.asked, self.initial)
        correcting = self.initial.get("correcting")
        self.surveys = survey_forms(self.data, self.asked, correcting, previous)
        self.initial.setdefault("revision", of.pk)
        people = self.fields["done_by"]
        people.queryset = _people(self.initial.get("done_by"))  # type: ignore[attr-defined]  # a ModelChoiceField
        self.fields["place"].queryset = Depot.objects.all()  # type: ignore[attr-defined]  # another
        self.cited = InstrumentChoices(today())
        if self.cited:
            self.fields["instrument"] = self.cited.field(
                "Measured with", "Not in the register", help_text=INSTRUMENT_HELP
            )
            self.fields["instruments"].help_text = OTHERS_HELP
        for asked in self.asked:
            self._add(asked)

    def blocks(self) -> Iterator[LineBlock]:
        """Yield the blocks in the order they are walked."""
        for asked in self.asked:
            bound = {
                part: self[field_name(asked, part)]
                for part in PARTS
                if field_name(asked, part) in self.fields
            }
            errors = [str(e) for field in bound.values() for e in field.errors]
            yield LineBlock(
                asked=asked,
                value=bound.get("value"),
                unit=bound.get("unit"),
                answer=bound["answer"],
                note=bound["note"],
                errors=errors,
                previous=self.previous.get(asked.known_by),
                leak=self.leaks.get(asked.key),
                trace=self.traces.get(asked.key),
                survey=self.surveys.get(asked.key),
                instrument=bound.get("instrument"),
            )

    def head(self) -> list[BoundField]:
        """Return the fields above the lines."""
        return [
            self[name]
            for name in ("reason", "on", "done_by", "place", "instrument")
            if name in self.fields
        ]

    def tail(self) -> list[BoundField]:
        """Return the fields below the lines."""
        return [self[name] for name in ("instruments", "ambient_c", "remarks")]

    def mistakes(self) -> list[Mistake]:
        """Return everything to put right, in the order of the page."""
        found = [Mistake("", "", str(e)) for e in self.non_field_errors()]
        found += _mistakes_at(self.head())
        found += [
            Mistake(b.asked.anchor, f"{b.line.order}. {b.asked.words}", error)
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
        read: dict[str, Reading] = {}
        taken = self._taken()
        for asked in self.asked:
            if _place(asked) in self.errors:
                continue
            try:
                self._refuse_attached(asked)
                row = taken.get(asked.line.order) or self._row(asked)
                reading = read_line(asked.line, row)
            except ValidationError as refusal:
                self._refuse_line(asked, refusal)
                continue
            if reading is not None:
                read[asked.key] = reading
            elif asked.line.required and asked.line.stage != Stage.AS_LEFT:
                self.add_error(_place(asked), blank)
        keys = {asked.key: asked for asked in self.asked}
        for key, lacking in refused_stages(self.asked, read).items():
            self._refuse_line(keys[key], lacking)
        return cleaned

    def readings(self) -> list[Mapping[str, Any]]:
        """Return what was written down for each line, as services take it."""
        return [
            {"line": asked.line, "position": asked.position, **self._row(asked)}
            for asked in self.asked
        ]

    def facts(self) -> dict[str, Any]:
        """Return what was written down beside the lines, as services take it."""
        names = ("on", "done_by", "place", "ambient_c", "instruments", "remarks")
        facts = {name: self.cleaned_data[name] for name in names}
        chosen = self.cited.chosen(self.cleaned_data.get("instrument"))
        return facts | {"instrument": chosen}

    def refuse(self, refusal: ValidationError) -> None:
        """Show what was refused: at its line, at its field, or above the form."""
        named = getattr(refusal, "error_dict", None)
        if named is None:
            add_refusal(self, refusal)
            return
        keys = {asked.key: asked for asked in self.asked}
        for key, errors in named.items():
            if key in keys:
                self._refuse_line(keys[key], ValidationError(errors))
            else:
                add_refusal(self, ValidationError({key: errors}))

    def _day(self) -> Moment:
        """Return the day whose type of the vehicle counts: as sent, else as begun."""
        sent = str(self.data.get(self.add_prefix("on_day"), ""))
        try:
            return Moment.parse(sent)
        except ValueError:
            held = self.initial.get("on")
            return held if isinstance(held, Moment) else Moment.on(today())

    def _taken(self) -> dict[int, Mapping[str, Any]]:
        """Return the rows of lines that take their value from a survey, by order."""
        asking = [one.line for one in self.asked if one.line.finds == Found.THINNEST]
        if not asking:
            return {}
        try:
            rows = with_thinnest(asking, self.readings())
        except ValidationError as refusal:
            if hasattr(refusal, "error_dict"):
                self.refuse(refusal)
            return {}
        orders = {line.order for line in asking}
        ordered = ((row["line"].order, row) for row in rows)
        return {order: row for order, row in ordered if order in orders}

    def _refuse_attached(self, asked: Asked) -> None:
        trace = self.traces.get(asked.key)
        if trace and (trace.waiting or trace.lost):
            said = NOT_READ if trace.waiting else NOT_OURS
            raise ValidationError(said, code="trace_not_read")

    def _refuse_line(self, asked: Asked, refusal: ValidationError) -> None:
        part = _PLACES.get(refusal.error_list[0].code or "")
        self.add_error(field_name(asked, part) if part else _place(asked), refusal)

    def _row(self, asked: Asked) -> dict[str, Any]:
        names = {part: field_name(asked, part) for part in PARTS}
        row = {part: self.cleaned_data.get(name, "") for part, name in names.items()}
        row["instrument"] = self.cited.chosen(row["instrument"])
        if asked.line.kind == LineKind.CHOICE and row["answer"] not in dict(LEFT_OUT):
            row |= {"choice": row["answer"], "answer": ""}
        if trace := self.traces.get(asked.key):
            row["trace"] = trace.kept
        if survey := self.surveys.get(asked.key):
            row["thicknesses"] = survey.thicknesses()
        return row

    def _add(self, asked: Asked) -> None:
        line = asked.line
        label = f"{line.order}. {asked.words}"
        if line.measured:
            self._add_measured(asked, label)
        else:
            chosen = [(words, words) for words, _met in line.choices]
            if line.kind in ATTACHED:
                chosen = [("", "As read below")]
            self.fields[field_name(asked, "answer")] = forms.ChoiceField(
                choices=[*(chosen or ANSWERED), *LEFT_OUT],
                widget=forms.RadioSelect,
                required=False,
                label=label,
            )
        self.fields[field_name(asked, "note")] = forms.CharField(
            max_length=200, required=False, label="Note, or the reason"
        )

    def _add_measured(self, asked: Asked, label: str) -> None:
        line = asked.line
        units = QUANTITIES[line.quantity].units
        before = self.previous.get(asked.known_by)
        self.fields[field_name(asked, "value")] = forms.CharField(
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
        self.fields[field_name(asked, "unit")] = forms.CharField(
            required=False,
            label=f"Unit, line {line.order}",
            initial=before.unit if before and before.unit in units else line.unit,
            widget=(
                forms.Select(choices=[(unit, unit) for unit in units])
                if len(units) > 1
                else forms.HiddenInput()
            ),
        )
        self.fields[field_name(asked, "answer")] = forms.ChoiceField(
            choices=[("", "Measured"), *LEFT_OUT],
            required=False,
            label=f"Or, line {line.order}",
        )
        if self.cited:
            self.fields[field_name(asked, "instrument")] = self.cited.field(
                f"Measured with, line {line.order}", "As for the whole test"
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
        options["initial"] = held_in(correcting) | {"record": correcting.pk}
        super().__init__(*args, of=of, vehicle=correcting.vehicle, **options)
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


def field_name(asked: Asked, part: str) -> str:
    """Return the name of a field of what is asked."""
    return f"{asked.key}_{part}"


def carried_over(
    data: Mapping[str, Any], old: TestForm, new: TestForm
) -> dict[str, Any]:
    """
    Return what was typed into the lines of one revision, for those of another.

    Lines that read the same keep what was typed; the rest begin blank.
    """
    before = {asked.known_by: asked for asked in old.asked}
    kept = {key: data[key] for key in data if not key.startswith("line_")}
    kept["revision"] = str(new.of.pk)
    for asked in new.asked:
        source = before.get(asked.known_by)
        for part in PARTS if source else ():
            assert source is not None
            if field_name(source, part) in data:
                kept[field_name(asked, part)] = data[field_name(source, part)]
    return kept


def _place(asked: Asked) -> str:
    """Return the field an error of a line stands at."""
    return field_name(asked, "value" if asked.line.measured else "answer")


def _mistakes_at(fields: list[BoundField]) -> list[Mistake]:
    return [
        Mistake(f"at-{field.name}", str(field.label), str(error))
        for field in fields
        for error in field.errors
    ]


def _people(chosen: Any) -> Any:
    key = getattr(chosen, "pk", chosen)
    kept = Person.objects.filter(pk=key) if key else Person.objects.none()
    return Person.objects.active() | kept

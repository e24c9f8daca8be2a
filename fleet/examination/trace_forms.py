"""The part of a trace line's form that reads a logger's file or typed points."""

from collections.abc import Callable, Iterable, Mapping
from functools import cached_property
from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from fleet.engineering.trace_heads import SECONDS, Columns
from fleet.engineering.units import QUANTITIES
from fleet.examination.asking import Asked, key_of
from fleet.examination.models import TestRecord
from fleet.examination.trace_pages import TraceShown, shown_trace
from fleet.examination.traces import (
    ReadTrace,
    points_digest,
    read_again,
    read_file,
    read_points,
    reads_train_pipe,
    sealed,
    taken_by,
    unsealed,
)
from fleet.examination.vocabulary import LineKind, Stage

BUTTON = "read_trace"  # its value is the key of the line
NOT_OURS = "What was read from the trace has been lost on the way. Read it again."
NOT_READ = "Press “Read the trace” and look through what was found, then record."
_UNITS = [
    (unit, unit) for name in ("pressure", "vacuum") for unit in QUANTITIES[name].units
]


class TraceForm(forms.Form):
    """Where a trace comes from, and what was read from it already."""

    held = forms.CharField(required=False, widget=forms.HiddenInput)
    file = forms.FileField(
        required=False,
        allow_empty_file=True,
        label="File of the logger (CSV)",
        help_text="64 MB or a million samples at most.",
        widget=forms.FileInput(attrs={"accept": ".csv,.txt,text/csv,text/plain"}),
    )
    points = forms.CharField(
        required=False,
        label="Or points typed in",
        help_text="One to a line: seconds and reading, such as 12.5 3.8.",
        widget=forms.Textarea(attrs={"rows": 5}),
    )
    application = forms.IntegerField(
        min_value=1,
        max_value=99,
        required=False,
        label="Which application counts",
        help_text="Where the recording holds several: its number, from the first. To change "
        "it, choose the file again. Left empty, the strongest.",
        widget=forms.TextInput(attrs={"inputmode": "numeric", "autocomplete": "off"}),
    )
    unit = forms.ChoiceField(
        choices=[("", "As the file says"), *_UNITS], required=False, label="Unit"
    )
    time = forms.CharField(
        max_length=60,
        required=False,
        label="Column of the time",
        help_text="Its number or heading. Left empty, it is looked for.",
    )
    value = forms.CharField(
        max_length=60,
        required=False,
        label="Column of the pressure",
        help_text="Its number or heading. Left empty, it is looked for.",
    )
    time_unit = forms.ChoiceField(
        choices=[("", "As the file says, or s"), *((n, n) for n in SECONDS)],
        required=False,
        label="Unit of the time",
    )
    step_s = forms.FloatField(
        min_value=0.000001,
        required=False,
        label="Without a time column: seconds from sample to sample",
        widget=forms.TextInput(attrs={"inputmode": "decimal", "autocomplete": "off"}),
    )

    def __init__(
        self, data: Any, files: Any, *, asked: Asked, lines: Iterable[Any], held: str
    ) -> None:
        """Take what was sent for a line; `held` is what a record keeps already."""
        self.asked = asked
        self.lines = list(lines)
        prefix = f"{asked.key}_trace"
        sent = bool(data) and f"{prefix}-held" in data
        initial = {"held": held}
        super().__init__(
            data if sent else None, files or None, prefix=prefix, initial=initial
        )
        if not sent:
            self.is_bound = False

    @property
    def column_fields(self) -> list[forms.BoundField]:
        """Return the fields that say how the file is laid out."""
        return [self[name] for name in ("unit", "time", "value", "time_unit", "step_s")]

    @cached_property
    def kept(self) -> ReadTrace | None:
        """Return what was read before and carried along; None where nothing was."""
        text = str(self["held"].value() or "")
        return unsealed(text) if text else None

    @property
    def of_train_pipe(self) -> bool:
        """Say whether the lines read a train pipe, not a cylinder."""
        return reads_train_pipe(self.lines)

    @property
    def lost(self) -> bool:
        """Say whether something was carried along that is none of ours."""
        return bool(self["held"].value()) and self.kept is None

    @property
    def waiting(self) -> bool:
        """Say whether there is something to read that was not read yet."""
        if not self.is_bound:
            return False
        points = str(self["points"].value() or "")
        read = self.kept.digest if self.kept else ""
        return bool(self.files.get(self.add_prefix("file"))) or (
            bool(points.strip()) and points_digest(points) != read
        )

    @property
    def open(self) -> bool:
        """Say whether how the file is laid out is to be seen at once."""
        return any(field.value() for field in self.column_fields) or bool(self.errors)

    @property
    def shown(self) -> TraceShown | None:
        """Return what the page shows of what was read."""
        if self.kept is None:
            return None
        return shown_trace(self.kept, self.lines, self.asked.anchor)

    def read(self) -> ReadTrace | None:
        """Read what was sent; None where it cannot be, with the reason among the errors."""
        if not self.is_valid():
            return None
        try:
            return self._read()
        except ValueError as error:
            self.add_error(None, ValidationError(str(error), code="no_trace"))
            return None

    def _read(self) -> ReadTrace:
        said = self.cleaned_data
        file, points = said["file"], said["points"]
        number = said["application"]
        if file and points.strip():
            raise ValueError("Give a file or points, and clear the other.")
        if file:
            columns = Columns(
                _column(said["time"]),
                _column(said["value"]),
                said["unit"],
                said["time_unit"],
                said["step_s"],
            )
            return read_file(file.file, file.name, columns, self.lines, number)
        if not points.strip():
            raise ValueError("Choose the file of the logger, or type points.")
        return read_points(points, said["unit"], self.lines, number)


def trace_forms(
    data: Any, files: Any, asked: Iterable[Asked], initial: Mapping[str, Any]
) -> dict[str, TraceForm]:
    """Return the forms of every trace line among those asked, by their keys."""
    listed = list(asked)
    lines = [one.line for one in listed]
    return {
        one.key: TraceForm(
            data,
            files,
            asked=one,
            lines=lines,
            held=initial.get(f"{one.key}_trace", ""),
        )
        for one in listed
        if one.line.kind == LineKind.TRACE
    }


def held_traces(record: TestRecord) -> dict[str, str]:
    """Return what `trace_forms` takes of a record that is to be corrected."""
    return {
        f"{key_of(kept.line.order)}_trace": sealed(read_again(kept))
        for kept in record.traces.select_related("line")
    }


def reading_asked(data: Mapping[str, Any], files: Iterable[str]) -> bool:
    """Say whether a form was sent to have a trace read; a file is always read first."""
    return BUTTON in data or any(name.endswith("_trace-file") for name in files)


def traces_read(make: Callable[..., Any], data: Any, files: Any) -> Any:
    """
    Return the form of a test sent to have its trace read, the found values put in.

    Everything typed stays and nothing is judged yet: the form is shown again, and must
    not be recorded.
    """
    form = make(data, files)
    sent, refused = data.copy(), {}
    for key, trace_form in form.traces.items():
        if not trace_form.waiting and data.get(BUTTON) != key:
            continue
        trace = trace_form.read()
        if trace is None:
            refused[key] = trace_form
        sent[f"{key}_trace-held"] = sealed(trace) if trace else ""
        if trace is not None:
            _fill(sent, form.asked, trace)
    again = make(sent)
    for key, trace_form in refused.items():
        trace_form.data = sent
        again.traces[key] = trace_form
    again.errors.clear()
    return again


def _fill(sent: Any, asked: Iterable[Asked], trace: ReadTrace) -> None:
    """Put what was found into the fields of the lines that take it from the trace."""
    lines = [
        one.line
        for one in asked
        if not one.position and one.line.stage != Stage.AS_LEFT
    ]
    for row in taken_by(lines, trace):
        key = key_of(row["line"].order)
        sent[f"{key}_answer"] = ""
        for part in ("value", "unit", "note"):
            sent[f"{key}_{part}"] = row[part]


def _column(text: str) -> int | str | None:
    text = text.strip()
    if not text:
        return None
    return int(text) if text.isdigit() else text

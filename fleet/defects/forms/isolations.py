"""Forms of an isolation record: one block for each line, answered as found and left."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import Any

from django import forms

from fleet.defects import services
from fleet.defects.forms.parts import person_field, when_field
from fleet.defects.isolating import LineValues
from fleet.defects.models import Defect, IsolationVersion
from fleet.defects.vocabulary import Brake, Extent
from fleet.people.models import User
from fleet.register.models import Vehicle
from fleet.register.vocabulary import CockPosition
from fleet.ui.forms import SubmissionForm

_OPEN_CLOSED = [(p.value, p.label) for p in CockPosition if p]
_YES_NO = [("yes", "Yes"), ("no", "No")]


@dataclass(frozen=True, slots=True)
class Block:
    """One line of the record with its fields, as the page shows it."""

    line: LineValues
    fields: list[forms.BoundField]

    @property
    def wrong(self) -> bool:
        """Say whether an answer is missing or out of place."""
        return any(field.errors for field in self.fields)


class LinesForm(SubmissionForm):
    """A form with a block of radio buttons for each line; any may be left open."""

    ANSWERS: tuple[str, ...] = ("found", "left")
    lines: list[LineValues]

    def add_lines(self, lines: Iterable[LineValues]) -> None:
        """Add the fields of every line, answered as the lines are."""
        self.lines = list(lines)
        for at, line in enumerate(self.lines):
            for name in self._asked(line):
                self.fields[f"line-{at}-{name}"] = _radio(name, line)

    def _asked(self, line: LineValues) -> tuple[str, ...]:
        return self.ANSWERS if line["position"] else ("done",)

    @property
    def blocks(self) -> Iterator[Block]:
        """Yield the lines with their fields."""
        for at, line in enumerate(self.lines):
            names = [f"line-{at}-{name}" for name in self._asked(line)]
            yield Block(line, [self[name] for name in names])

    @property
    def rest(self) -> list[forms.BoundField]:
        """Return the visible fields that belong to no line."""
        return [f for f in self.visible_fields() if not f.name.startswith("line-")]

    def answers(self) -> list[LineValues]:
        """Return the lines with what was answered."""
        found = []
        for at, line in enumerate(self.lines):
            given = {n: self.cleaned_data[f"line-{at}-{n}"] for n in self._asked(line)}
            if "done" in given:
                given["done"] = {"yes": True, "no": False}.get(given["done"])
            found.append({**line, **given})
        return found


def _radio(name: str, line: LineValues) -> forms.ChoiceField:
    words = {"found": "Found", "left": "Left", "done": "Seen to"}
    initial = line[name]
    if name == "done":
        initial = {True: "yes", False: "no"}.get(initial, "")
    return forms.ChoiceField(
        label=words[name],
        choices=_YES_NO if name == "done" else _OPEN_CLOSED,
        widget=forms.RadioSelect,
        required=False,
        initial=initial,
    )


def _where_field() -> forms.CharField:
    return forms.CharField(
        label="Where the label is fixed", max_length=120, required=False
    )


def _secured_field() -> forms.CharField:
    return forms.CharField(
        label="Vehicle secured by what, and where",
        max_length=120,
        required=False,
        help_text="Such as: scotches both sides of the leading wheels.",
    )


_HAND_ONLY = ("secured",)
_TRAIN_ONLY = ("extent", "braked_weight_t")


class IsolateForm(LinesForm):
    """The record of an isolation."""

    why = forms.CharField(label="Why", max_length=200)
    extent = forms.ChoiceField(
        label="How much is cut out",
        choices=Extent.choices,
        widget=forms.RadioSelect,
        initial=Extent.WHOLE,
    )
    condition = forms.CharField(
        label="Condition, as train crew should read it",
        max_length=200,
        required=False,
        help_text="Needed where part of the brake stays in use.",
    )
    braked_weight_t = forms.DecimalField(
        label="Braked weight of what stays in use (t)",
        min_value=0,
        max_digits=6,
        decimal_places=1,
        required=False,
    )
    label_number = forms.CharField(label="Label number", max_length=20, required=False)
    label_where = _where_field()
    secured = _secured_field()
    since = when_field("Isolated")
    person = person_field("Isolated by")

    def __init__(
        self,
        *args: Any,
        vehicle: Vehicle,
        brake: Brake,
        lines: Iterable[LineValues],
        defect: Defect | None = None,
        **options: Any,
    ) -> None:
        """Ask every line of this vehicle's type."""
        super().__init__(*args, **options)
        self.vehicle, self.brake, self.defect = vehicle, brake, defect
        for name in _TRAIN_ONLY if brake is Brake.HAND else _HAND_ONLY:
            del self.fields[name]
        if brake is Brake.HAND:
            self.fields["condition"].help_text = "Beside what the operator lays down."
        if defect is not None:
            self.fields["why"].initial = defect.title
        self.add_lines(lines)

    def apply(self, *, by: User) -> IsolationVersion:
        """Record the isolation; may raise ValidationError."""
        names = (
            "why",
            "extent",
            "condition",
            "braked_weight_t",
            "label_number",
            "label_where",
            "secured",
        )
        return services.record_isolation(
            by=by,
            person=self.cleaned_data["person"],
            vehicle=self.vehicle,
            system=self.brake,
            since=self.cleaned_data["since"],
            lines=self.answers(),
            defect=self.defect,
            **{name: self.cleaned_data[name] for name in names if name in self.fields},
        )


class CompleteForm(LinesForm):
    """An isolation record gone on with: what was open is answered now."""

    label_number = forms.CharField(label="Label number", max_length=20, required=False)
    label_where = _where_field()
    secured = _secured_field()
    at = when_field("From when this holds")
    person = person_field("Completed by")

    def __init__(
        self, *args: Any, version: IsolationVersion, lines: Any, **options: Any
    ) -> None:
        """Begin with what was answered so far."""
        super().__init__(*args, **options)
        self.version = version
        self.fields["label_number"].initial = version.label_number
        self.fields["label_where"].initial = version.label_where
        if version.isolation.brake is Brake.HAND:
            self.fields["secured"].initial = version.secured
        else:
            del self.fields["secured"]
        self.add_lines(lines)

    def apply(self, *, by: User) -> IsolationVersion:
        """Complete the record; may raise ValidationError."""
        said = self.cleaned_data
        return services.complete_isolation(
            by=by,
            person=said["person"],
            version=self.version,
            at=said["at"],
            lines=self.answers(),
            label_number=said["label_number"],
            label_where=said["label_where"],
            secured=said.get("secured", ""),
        )


class RestoreForm(LinesForm):
    """What has to be put back before the brake is in use again."""

    ANSWERS = ("left",)

    at = when_field("Restored")
    person = person_field("Restored by")

    def __init__(self, *args: Any, version: IsolationVersion, **options: Any) -> None:
        """Ask every cock, and the label."""
        super().__init__(*args, **options)
        self.version = version
        unanswered = {"left": "", "done": None}
        lines = services.restoring_lines(version)
        self.normal = [line["left"] for line in lines]
        self.add_lines({**line, **unanswered} for line in lines)

    def apply(self, *, by: User) -> IsolationVersion:
        """Restore the brake; may raise ValidationError."""
        said = self.cleaned_data
        return services.restore_brake(
            by=by,
            person=said["person"],
            version=self.version,
            at=said["at"],
            lines=self.answers(),
        )

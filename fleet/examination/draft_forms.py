"""Forms of a draft: what stands about the lines, and one line."""

from typing import Any

from django import forms

from fleet.engineering.units import QUANTITIES, UNITS
from fleet.examination.drafts import NUMBERS
from fleet.examination.models import ProcedureDraft
from fleet.examination.vocabulary import (
    Found,
    LineKind,
    Repeat,
    Stage,
    TestSubject,
)
from fleet.people.models import Skill
from fleet.register.vocabulary import Effect, EquipmentKind, Scope
from fleet.ui.cautions import CAUTIONS

_FEW = {"rows": 3}


class NewProcedureForm(forms.Form):
    """Begin a procedure that is new."""

    code = forms.SlugField(
        max_length=30, help_text="Short, for good: letters, figures and hyphens."
    )
    title = forms.CharField(max_length=100)
    subject = forms.ChoiceField(choices=TestSubject.choices(), label="Carried out on")
    kind = forms.ChoiceField(
        choices=[("", "Not one kind"), *EquipmentKind.choices()],
        required=False,
        label="Of items: which kind",
    )
    source = forms.CharField(
        max_length=200,
        help_text="A document with its clause, common practice, or operator's own.",
    )

    def clean(self) -> dict[str, Any]:
        """Refuse a kind of item for what is done on a vehicle."""
        cleaned = super().clean() or self.cleaned_data
        if cleaned.get("kind") and cleaned.get("subject") == TestSubject.VEHICLE:
            self.add_error("kind", "A procedure on vehicles names no kind of item.")
        return cleaned


class DraftForm(forms.Form):
    """Write what stands about the lines of a draft."""

    title = forms.CharField(max_length=100)
    source = forms.CharField(max_length=200)
    effective_from = forms.DateField(
        required=False,
        label="Holds from",
        help_text="Tomorrow or later, so that nobody tested by the old lines is judged "
        "by the new. Needed before it is approved.",
        widget=forms.DateInput(format="%Y-%m-%d", attrs={"type": "date"}),
    )
    reason = forms.CharField(
        max_length=300,
        required=False,
        label="Why it is changed",
        help_text="Needed wherever something is taken out or asks less than before.",
        widget=forms.Textarea(attrs=_FEW),
    )
    scopes = forms.MultipleChoiceField(
        choices=Scope.choices(),
        required=False,
        label="Bears on",
        widget=forms.CheckboxSelectMultiple,
    )
    cautions = forms.MultipleChoiceField(
        choices=[(caution.key, caution.title) for caution in CAUTIONS],
        required=False,
        label="Cautions shown with it",
        widget=forms.CheckboxSelectMultiple,
    )
    skill = forms.ChoiceField(
        choices=[("", "None"), *Skill.choices],
        required=False,
        label="Competence needed",
    )


class LineForm(forms.Form):
    """Write one line of a draft."""

    text = forms.CharField(max_length=200, label="What is asked")
    kind = forms.ChoiceField(choices=LineKind.choices(), label="How it is answered")
    quantity = forms.ChoiceField(
        choices=[
            ("", "Nothing measured"),
            *((n, q.label) for n, q in QUANTITIES.items()),
        ],
        required=False,
        label="Measured: what",
    )
    unit = forms.ChoiceField(
        choices=[("", "No unit"), *((name, name) for name in UNITS)],
        required=False,
        label="Unit of the limits",
    )
    low = forms.DecimalField(
        max_digits=10, decimal_places=4, required=False, label="At least"
    )
    high = forms.DecimalField(
        max_digits=10, decimal_places=4, required=False, label="At most"
    )
    condemned = forms.DecimalField(
        max_digits=10,
        decimal_places=4,
        required=False,
        label="Condemned beyond",
        help_text="Of what wears. The limits above then say what may still be released: "
        "the condemning limit and the wear till the next look.",
    )
    good = forms.CharField(
        required=False,
        label="Choices that are good enough",
        help_text="One to a line.",
        widget=forms.Textarea(attrs=_FEW),
    )
    bad = forms.CharField(
        required=False,
        label="Choices that are not",
        help_text="One to a line.",
        widget=forms.Textarea(attrs=_FEW),
    )
    criterion = forms.CharField(
        max_length=200,
        required=False,
        label="Criterion in words",
        help_text="What is good enough. Without it, and without limits, nothing judges "
        "the answer.",
    )
    repeat = forms.ChoiceField(
        choices=Repeat.choices(), required=False, label="Asked for"
    )
    stage = forms.ChoiceField(
        choices=Stage.choices(),
        required=False,
        label="As found or as left",
        help_text="An as-left line stands after the same line as found.",
    )
    finds = forms.ChoiceField(
        choices=Found.choices(),
        required=False,
        label="What the reading is",
        help_text="A trace gives it where the procedure asks for one; brake force "
        "follows from maximum pressure and piston stroke.",
    )
    reads_at = forms.DecimalField(
        max_digits=6,
        decimal_places=3,
        required=False,
        label="Read off the trace at",
        help_text="A filling time: per cent of the maximum, 95 where nothing is said. A "
        "release time: bar in the cylinder, 0.4 where nothing is said. A train pipe: the "
        "level in bar, or in inHg where the line bears on the vacuum train pipe.",
    )
    scope = forms.ChoiceField(choices=Scope.choices(), label="Bears on")
    effect_failed = forms.ChoiceField(choices=Effect.choices(), label="If not met")
    required = forms.BooleanField(
        required=False, initial=True, label="To be answered, not to be left out"
    )
    source = forms.CharField(
        max_length=200,
        label="Source of the limit",
        help_text="A document with its clause, common practice, or operator's own.",
    )

    def values(self) -> dict[str, Any]:
        """Return the line as a draft keeps it, numbers as text."""
        row = dict(self.cleaned_data)
        good, bad = (_listed(row.pop(name)) for name in ("good", "bad"))
        row["choices"] = [[w, True] for w in good] + [[w, False] for w in bad]
        for name in NUMBERS:
            row[name] = "" if row[name] is None else f"{row[name]:f}"
        return row


def head_initial(draft: ProcedureDraft) -> dict[str, Any]:
    """Return what the form of a draft begins with."""
    return {**draft.content, "reason": draft.reason}


def line_initial(values: dict[str, Any]) -> dict[str, Any]:
    """Return what the form of a line begins with."""
    choices = values.get("choices") or []
    chosen = {
        name: "\n".join(words for words, met in choices if bool(met) is good)
        for name, good in (("good", True), ("bad", False))
    }
    return {**values, **chosen}


def _listed(text: str) -> list[str]:
    return [line.strip() for line in text.splitlines() if line.strip()]

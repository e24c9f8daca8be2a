"""Forms of a defect: report it, and take it from step to step."""

from typing import Any

from django import forms

from fleet.defects import services
from fleet.defects.forms.parts import (
    note_field,
    person_field,
    reason_field,
    scope_field,
    when_field,
)
from fleet.defects.models import Defect, DefectStep
from fleet.defects.symptoms import SCOPE_OF, Symptom, symptoms_of
from fleet.defects.vocabulary import Step, Tendency
from fleet.defects.wording import effect_words, possible_effects
from fleet.examination.models import Test, TestRecord
from fleet.people.models import Person, User
from fleet.register.models import Equipment, Position, Vehicle
from fleet.register.vocabulary import Effect, Scope
from fleet.ui.forms import SubmissionForm

NOT_ASSESSED = "not_assessed"
OWN_WORDS = "own_words"


def effect_choices(scope: Scope | None) -> list[tuple[str, str]]:
    """Return the effects there can be, each saying what it does to the level."""
    return [
        (effect.value, f"{effect.label}: {effect_words(effect, scope)}")
        for effect in possible_effects(scope)
    ]


class RaiseForm(SubmissionForm):
    """A report of a defect: what is seen, what it does; the rest is filled in already."""

    symptom = forms.ChoiceField(
        label="What is wrong", widget=forms.RadioSelect, required=False
    )
    words = forms.CharField(
        label="In your own words",
        max_length=100,
        required=False,
        help_text="Instead of the list, or with it: where exactly, how much.",
    )
    effect = forms.ChoiceField(
        label="What it does",
        widget=forms.RadioSelect,
        error_messages={"required": "Choose what it does, or that it waits."},
    )
    condition = forms.CharField(
        label="Condition, as train crew should read it",
        max_length=200,
        required=False,
        help_text="Only where it runs under a condition.",
    )
    scope = scope_field(required=False)
    tends = forms.ChoiceField(
        label="Which way it drives the brake",
        required=False,
        choices=[("", "As usual for what is wrong"), *Tendency.choices()],
    )
    on = when_field("Found")
    person = person_field("Found by")
    note = note_field()

    FOLDED = ("scope", "tends", "on", "person", "note")

    def __init__(
        self,
        *args: Any,
        vehicle: Vehicle | None,
        equipment: Equipment | None,
        place: Position | None,
        may_assess: bool,
        **options: Any,
    ) -> None:
        """Offer what usually fails here, and the effects there can be."""
        super().__init__(*args, **options)
        self.vehicle, self.equipment, self.place = vehicle, equipment, place
        kind = place.kind if place else (equipment.kind if equipment else "")
        self.symptoms = symptoms_of(kind)
        self._offer_symptoms()
        scope = Scope(place.scope) if place else SCOPE_OF.get(kind)  # type: ignore[call-overload]
        self._offer_effects(scope, may_assess=may_assess)

    def _offer_symptoms(self) -> None:
        listed = [(s.text, s.text[0].upper() + s.text[1:]) for s in self.symptoms]
        field = self.fields["symptom"]
        field.choices = [*listed, (OWN_WORDS, "Something else, in my own words")]  # type: ignore[attr-defined]

    def _offer_effects(self, scope: Scope | None, *, may_assess: bool) -> None:
        waiting = (
            "Not assessed yet: an examiner decides; until then it counts as a fault"
        )
        offered = effect_choices(scope) if may_assess else []
        self.fields["effect"].choices = [*offered, (NOT_ASSESSED, waiting)]  # type: ignore[attr-defined]
        if not any(code == Effect.CONDITION for code, _ in offered):
            del self.fields["condition"]
        if self.place is not None:
            del self.fields["scope"]  # the position's own
        elif scope is not None:
            self.fields["scope"].initial = scope
        if len(offered) == 1:
            self.fields["effect"].initial = offered[0][0]

    @property
    def folded(self) -> list[forms.BoundField]:
        """Return the fields that are filled in already and rarely touched."""
        return [self[name] for name in self.FOLDED if name in self.fields]

    @property
    def unfolded(self) -> list[forms.BoundField]:
        """Return the fields a report is made of."""
        return [
            field for field in self.visible_fields() if field.name not in self.FOLDED
        ]

    @property
    def folded_wrong(self) -> bool:
        """Say whether something folded away has an error."""
        return any(field.errors for field in self.folded)

    def clean(self) -> dict[str, Any]:
        """Ask for words where nothing of the list was chosen."""
        cleaned: dict[str, Any] = super().clean() or self.cleaned_data
        chosen = cleaned.get("symptom") not in {None, "", OWN_WORDS}
        if not chosen and not cleaned.get("words"):
            self.add_error(
                "words",
                forms.ValidationError(
                    "Choose what is wrong, or write it in your own words.",
                    code="nothing_said",
                ),
            )
        return cleaned

    def apply(self, *, by: User) -> Defect:
        """Raise the defect; may raise ValidationError."""
        said = self.cleaned_data
        symptom = self._symptom(said["symptom"])
        effect = said["effect"]
        return services.raise_defect(
            by=by,
            person=said["person"],
            title=self._title(symptom, said["words"]),
            on=said["on"],
            vehicle=self.vehicle,
            equipment=self.equipment,
            position=self.place.code if self.place else "",
            scope=said.get("scope", ""),
            effect=None if effect == NOT_ASSESSED else effect,
            condition=said.get("condition", "") if effect == Effect.CONDITION else "",
            tends=said["tends"] or (symptom.tends if symptom else Tendency.UNKNOWN),
            note=said["note"],
        )

    def _symptom(self, text: str) -> Symptom | None:
        return next((s for s in self.symptoms if s.text == text), None)

    def _title(self, symptom: Symptom | None, words: str) -> str:
        said = ", ".join(
            part for part in (symptom.text if symptom else "", words) if part
        )
        if self.place is None:
            return said[0].upper() + said[1:]
        return f"{self.place.label}: {said}"[:120]


class StepForm(SubmissionForm):
    """What every step asks: when; each step adds its own."""

    on = when_field("When")

    def __init__(
        self,
        *args: Any,
        defect: Defect,
        standing: DefectStep,
        signer: Person,
        **options: Any,
    ) -> None:
        """Keep the defect, the step it stands at, and who is signed in."""
        super().__init__(*args, **options)
        self.defect, self.standing, self.signer = defect, standing, signer

    def apply(self, *, by: User) -> DefectStep:
        """Take the step; may raise ValidationError."""
        raise NotImplementedError


class AssessForm(StepForm):
    """What a defect bears on and what it does, decided by somebody entitled."""

    scope = scope_field()
    effect = forms.ChoiceField(label="What it does", widget=forms.RadioSelect)
    condition = RaiseForm.base_fields["condition"]
    note = note_field("Why so")
    field_order = ("scope", "effect", "condition", "on", "note")

    def __init__(self, *args: Any, **options: Any) -> None:
        """Offer the effects, beginning with what stands."""
        super().__init__(*args, **options)
        stands = self.standing
        self.fields["effect"].choices = effect_choices(None)  # type: ignore[attr-defined]
        self.fields["scope"].initial = stands.scope
        if stands.step != Step.RAISED:
            self.fields["effect"].initial = stands.effect
            self.fields["condition"].initial = stands.condition

    def apply(self, *, by: User) -> DefectStep:
        """Assess the defect, signed by who is signed in."""
        said = self.cleaned_data
        return services.assess(
            by=by,
            person=self.signer,
            defect=self.defect,
            on=said["on"],
            scope=said["scope"],
            effect=said["effect"],
            condition=said["condition"],
            note=said["note"],
        )


class HigherForm(AssessForm):
    """An assessment of a defect that came back, by somebody at a higher level."""

    note = note_field("Why it comes back, and what is done about it", required=True)

    def apply(self, *, by: User) -> DefectStep:
        """Assess the defect at a higher level, signed by who is signed in."""
        said = _said(self)
        return services.assess_higher(
            by=by, person=self.signer, defect=self.defect, **said
        )


class InHandForm(StepForm):
    """Who begins the work, and when."""

    person = person_field("Who begins")
    note = note_field()

    def apply(self, *, by: User) -> DefectStep:
        """Take the defect in hand."""
        return services.take_in_hand(by=by, defect=self.defect, **_said(self))


class DoneForm(StepForm):
    """Who did the work, and what was done."""

    person = person_field("Done by")
    note = note_field("What was done", required=True)

    def apply(self, *, by: User) -> DefectStep:
        """Record the work done."""
        return services.work_done(by=by, defect=self.defect, **_said(self))


class TestedForm(StepForm):
    """Which test shows the work to be good."""

    test = forms.ModelChoiceField(
        TestRecord.objects.none(),
        label="Test",
        help_text="Passed tests of this vehicle or item, newest first.",
    )
    person = person_field("Recorded by")
    note = note_field()
    field_order = ("test", "on", "person", "note")

    def __init__(self, *args: Any, **options: Any) -> None:
        """Offer the passed tests of the vehicle and the item."""
        super().__init__(*args, **options)
        mine = TestRecord.objects.current().filter(passed=True)
        aboard = mine.filter(vehicle=self.defect.vehicle, vehicle__isnull=False)
        of_item = mine.filter(equipment=self.defect.equipment, equipment__isnull=False)
        offered = (aboard | of_item).select_related("procedure_revision")
        self.fields["test"].queryset = offered  # type: ignore[attr-defined]

    def apply(self, *, by: User) -> DefectStep:
        """Record that the test was passed."""
        said = _said(self)
        record: TestRecord = said.pop("test")
        test: Test = record.test
        return services.record_tested(by=by, defect=self.defect, test=test, **said)


class ReleaseForm(StepForm):
    """The signature that clears a defect."""

    note = note_field("Remark")

    def apply(self, *, by: User) -> DefectStep:
        """Release, signed by who is signed in."""
        said = _said(self)
        return services.release(by=by, person=self.signer, defect=self.defect, **said)


class NoFaultForm(StepForm):
    """What was tried before saying that there is no fault."""

    note = note_field("What was tried", required=True)

    def apply(self, *, by: User) -> DefectStep:
        """Clear the defect as not found, signed by who is signed in."""
        said = _said(self)
        return services.no_fault_found(
            by=by, person=self.signer, defect=self.defect, **said
        )


class CorrectForm(SubmissionForm):
    """A step as it should have been written down, and why it was not."""

    on = when_field("When")
    person = person_field("Who")
    scope = scope_field()
    effect = forms.ChoiceField(
        label="What it does", choices=Effect.choices, widget=forms.RadioSelect
    )
    condition = RaiseForm.base_fields["condition"]
    note = note_field()
    reason = reason_field()

    ASSESSMENT = ("scope", "effect", "condition")

    def __init__(self, *args: Any, step: DefectStep, **options: Any) -> None:
        """Begin with what was written."""
        written = {
            "on": step.on,
            "person": step.by_id,
            "note": step.note,
            **{name: getattr(step, name) for name in self.ASSESSMENT},
        }
        super().__init__(*args, **{**options, "initial": written})
        self.step = step
        self.fields["effect"].choices = effect_choices(None)  # type: ignore[attr-defined]
        if step.step != Step.ASSESSED:
            for name in self.ASSESSMENT:
                del self.fields[name]

    def apply(self, *, by: User) -> DefectStep:
        """Correct the step; may raise ValidationError."""
        said = dict(self.cleaned_data)
        said.pop("submission")
        if said.get("effect") != Effect.CONDITION and "condition" in said:
            said["condition"] = ""
        return services.correct_step(by=by, step=self.step, **said)


class TakeBackForm(SubmissionForm):
    """Why a record is taken back."""

    reason = reason_field()


STEP_FORMS: dict[Step, type[StepForm]] = {
    Step.ASSESSED: AssessForm,
    Step.IN_HAND: InHandForm,
    Step.DONE: DoneForm,
    Step.TESTED: TestedForm,
    Step.RELEASED: ReleaseForm,
    Step.NO_FAULT: NoFaultForm,
}


def _said(form: forms.Form) -> dict[str, Any]:
    return {k: v for k, v in form.cleaned_data.items() if k != "submission"}

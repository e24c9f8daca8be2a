"""Forms of concessions: ask, agree, grant, correct, refuse, withdraw, re-check."""

import datetime as dt
from typing import Any

from django import forms

from fleet.people.models import Person, User
from fleet.ui.forms import SubmissionForm
from fleet.upkeep.concession_grants import CORRECTED
from fleet.upkeep.concession_terms import Terms
from fleet.upkeep.due import written
from fleet.upkeep.models import Concession, ConcessionVersion, Recheck
from fleet.upkeep.rechecks import record_recheck

ASKED = ("why", "risk", "condition", "since", "last_day", "recheck_days")


def _day(label: str, **options: Any) -> forms.DateField:
    picker = forms.DateInput({"type": "date"}, format="%Y-%m-%d")
    return forms.DateField(label=label, widget=picker, **options)


def _words(label: str, **options: Any) -> forms.CharField:
    rows = forms.Textarea(attrs={"rows": 3})
    return forms.CharField(label=label, max_length=300, widget=rows, **options)


class AskForm(SubmissionForm):
    """What is asked for, why, and on what terms."""

    why = _words("Why the work cannot be done in time")
    risk = _words("The risk, and why it is bearable")
    condition = forms.CharField(
        label="Condition, as train crew should read it",
        max_length=200,
        help_text="Such as: Not as the last vehicle; brake tested before each day.",
    )
    since = _day("From")
    last_day = _day("Last day it holds")
    recheck_days = forms.IntegerField(
        label="Re-checked at least every so many days", min_value=1, max_value=999
    )

    def __init__(self, *args: Any, terms: Terms, day: dt.date, **options: Any) -> None:
        """Begin with the most the policy allows."""
        begins = terms.counted_from + dt.timedelta(days=1)
        options["initial"] = {
            "since": max(day, begins),
            "last_day": max(day, terms.ceiling),
            "recheck_days": terms.recheck_days,
        } | options.get("initial", {})
        super().__init__(*args, **options)
        self.fields["last_day"].help_text = (
            f"No later than {written(terms.ceiling)}: {terms.ceiling_days} days beyond "
            f"{written(terms.counted_from)}."
        )
        self.fields["recheck_days"].help_text = f"At most {terms.recheck_days}."

    def asked(self) -> dict[str, Any]:
        """Return what was asked, as services take it."""
        return {name: self.cleaned_data[name] for name in ASKED}


class GrantForm(SubmissionForm):
    """When the operator accepted it."""

    on = _day("Accepted on")


class AgreeForm(SubmissionForm):
    """Nothing but the signature of who is signed in."""


class CorrectForm(SubmissionForm):
    """A grant as it should have been written down, and why it is put right."""

    condition = forms.CharField(
        label="Condition, as train crew should read it", max_length=200
    )
    decided_on = _day("Granted on")
    since = _day("From")
    last_day = _day("Last day it holds")
    recheck_days = forms.IntegerField(
        label="Re-checked at least every so many days", min_value=1, max_value=999
    )
    why = _words("Why the work cannot be done in time")
    risk = _words("The risk, and why it is bearable")
    reason = forms.CharField(label="What was wrong with it, and why", max_length=300)

    @classmethod
    def says(cls, version: ConcessionVersion) -> dict[str, Any]:
        """Return what a grant says, to begin with."""
        return {name: getattr(version, name) for name in CORRECTED}

    def changes(self, version: ConcessionVersion) -> dict[str, Any]:
        """Return what is written otherwise than the grant says."""
        said = {name: self.cleaned_data[name] for name in CORRECTED}
        return {n: v for n, v in said.items() if v != getattr(version, n)}


class RefuseForm(SubmissionForm):
    """Why it is refused."""

    reason = forms.CharField(label="Why", max_length=300)


class WithdrawForm(SubmissionForm):
    """From when it no longer holds, and why."""

    withdrawn_from = _day("It no longer holds from")
    reason = forms.CharField(label="Why", max_length=300)


class RecheckForm(SubmissionForm):
    """What was found at a re-check."""

    on = _day("Looked at on")
    holds = forms.TypedChoiceField(
        label="Are its terms kept, and is nothing worse?",
        choices=[("", "Choose"), ("yes", "Yes"), ("no", "No: it ends here")],
        coerce=lambda answer: answer == "yes",
    )
    found = _words("What was found")

    def apply(self, *, by: User, person: Person, concession: Concession) -> Recheck:
        """Record it."""
        names = ("on", "holds", "found")
        said = {name: self.cleaned_data[name] for name in names}
        return record_recheck(by=by, person=person, concession=concession, **said)

"""Forms of concessions: ask, grant, refuse, withdraw, re-check."""

import datetime as dt
from typing import Any

from django import forms

from fleet.engineering.calendar import Moment
from fleet.people.competence import competent_persons
from fleet.people.models import Person, Skill, User
from fleet.records.clock import today
from fleet.ui.forms import SubmissionForm
from fleet.upkeep import concessions
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
    """Who agreed to it, and when the operator accepted."""

    agreed_by = forms.ModelChoiceField(
        Person.objects.none(),
        label="Agreed by",
        help_text="Somebody entitled to agree to concessions, other than who asked.",
    )
    on = _day("Agreed and accepted on")

    def __init__(self, *args: Any, version: ConcessionVersion, **options: Any) -> None:
        """Offer those entitled today."""
        super().__init__(*args, **options)
        self.version = version
        entitled = competent_persons(Skill.CONCEDE, Moment.on(today()))
        self.fields["agreed_by"].queryset = Person.objects.active().filter(  # type: ignore[attr-defined]  # a ModelChoiceField
            pk__in=[person.pk for person in entitled]
        )
        self.fields["on"].initial = today()

    def apply(
        self, *, by: User, person: Person, counted_from: dt.date | None
    ) -> ConcessionVersion:
        """Grant it."""
        return concessions.grant_concession(
            by=by,
            person=person,
            version=self.version,
            agreed_by=self.cleaned_data["agreed_by"],
            on=self.cleaned_data["on"],
            counted_from=counted_from,
        )


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

"""Job plans: what the work of each requirement takes, and what has no plan."""

from typing import Any

from django import forms
from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render

from fleet.people.access import needs, signed_in
from fleet.records.clock import today
from fleet.records.views import filled, recorded
from fleet.ui.forms import SubmissionForm
from fleet.upkeep.models import Requirement, RequirementRevision
from fleet.workshop.falling import hours_of, plans_by_code
from fleet.workshop.job_plans import (
    PLAN_FIELDS,
    WORK_SKILLS,
    correct_job_plan,
    plan_of,
    revise_job_plan,
    set_job_plan,
)
from fleet.workshop.models import JobPlanVersion
from fleet.workshop.vocabulary import Place

MOST_HOURS = 2_000


class PlanForm(SubmissionForm):
    """What the work takes: hours by skill, weeks, place, unit, what it is done with."""

    weeks = forms.IntegerField(
        label="Weeks in the shop",
        min_value=1,
        max_value=26,
        help_text="Hours are spread evenly over them.",
    )
    place = forms.ChoiceField(label="Where it must stand", choices=Place.choices())
    exchange = forms.BooleanField(
        label="An exchange unit is fitted, so one of the item's group must be in store",
        required=False,
    )
    early_days = forms.IntegerField(
        label="Days before due from which it is sensible", min_value=0, max_value=1_000
    )
    together = forms.SlugField(
        label="Done together with",
        max_length=30,
        required=False,
        help_text="Jobs of one name on one vehicle belong in one visit: yearly.",
    )
    parts = forms.CharField(max_length=300, required=False)
    note = forms.CharField(
        max_length=300,
        required=False,
        help_text="What whoever plans or does it must know.",
    )

    def __init__(self, *args: Any, **options: Any) -> None:
        """Add a field for the hours of each skill, first."""
        super().__init__(*args, **options)
        for skill in WORK_SKILLS:
            self.fields[f"hours_{skill}"] = forms.IntegerField(
                label=f"Hours: {skill.label.lower()}",
                min_value=0,
                max_value=MOST_HOURS,
                required=False,
            )
        self.order_fields([f"hours_{skill}" for skill in WORK_SKILLS])

    def said(self) -> dict[str, Any]:
        """Return the fields of a plan as the form has them."""
        said = {
            name: self.cleaned_data[name] for name in PLAN_FIELDS if name != "hours"
        }
        hours = {str(s): self.cleaned_data[f"hours_{s}"] or 0 for s in WORK_SKILLS}
        return said | {"hours": {skill: n for skill, n in hours.items() if n}}


class CorrectForm(PlanForm):
    """The same, with why it was written down wrongly."""

    reason = forms.CharField(label="What was wrong?", max_length=300)


def plan_list(request: HttpRequest) -> HttpResponse:
    """Show every requirement in force with its plan; first those that have none."""
    revisions = RequirementRevision.objects.in_force(today()).select_related(
        "requirement"
    )
    plans = plans_by_code()
    rows = [_row(r, plans.get(r.requirement.code)) for r in revisions]
    rows.sort(key=lambda row: (row["plan"] is not None, row["code"]))
    without = sum(row["plan"] is None for row in rows)
    return render(request, "workshop/plans.html", {"rows": rows, "without": without})


def _row(revision: RequirementRevision, plan: JobPlanVersion | None) -> dict[str, Any]:
    return {
        "code": revision.requirement.code,
        "title": revision.title,
        "plan": plan,
        "hours": list(_hours(plan)) if plan else [],
    }


def _hours(plan: JobPlanVersion) -> list[tuple[str, int]]:
    labels = {str(skill): skill.label for skill in WORK_SKILLS}
    return [(labels.get(skill, skill), n) for skill, n in hours_of(plan).items()]


def plan(request: HttpRequest, code: str) -> HttpResponse:
    """Show the plan of one requirement, and all it ever was."""
    requirement, revision = _requirement(code)
    held = plan_of(requirement)
    versions = JobPlanVersion.objects.filter(plan__requirement=requirement)
    told = _row(revision, held) | {
        "revision": revision,
        "versions": [
            (version, _hours(version))
            for version in versions.select_related("opened_by__user").order_by("-pk")
        ],
    }
    return render(request, "workshop/plan.html", told)


@needs("plan_work")
def plan_edit(request: HttpRequest, code: str) -> HttpResponse:
    """Set the plan of a requirement, or revise it."""
    requirement, revision = _requirement(code)
    held = plan_of(requirement)
    form = filled(PlanForm, request, initial=_initial(held))
    user = signed_in(request)

    def write() -> None:
        if held is None:
            set_job_plan(by=user, requirement=requirement, **form.said())
        else:
            revise_job_plan(by=user, plan=held, **form.said())

    if recorded(form, write):
        messages.success(request, f"The plan of {code} is kept.")
        return redirect("workshop:plan", code)
    told = {"form": form, "revision": revision, "code": code, "plan": held}
    return render(request, "workshop/plan_form.html", told)


@needs("plan_work")
def plan_correct(request: HttpRequest, code: str) -> HttpResponse:
    """Put right what was written down wrongly in a plan."""
    requirement, revision = _requirement(code)
    held = plan_of(requirement)
    if held is None:
        raise Http404
    form = filled(CorrectForm, request, initial=_initial(held))
    user = signed_in(request)

    def write() -> None:
        reason = form.cleaned_data["reason"]
        correct_job_plan(by=user, plan=held, reason=reason, **form.said())

    if recorded(form, write):
        messages.success(request, f"The plan of {code} is put right.")
        return redirect("workshop:plan", code)
    told = {
        "form": form,
        "revision": revision,
        "code": code,
        "plan": held,
        "correcting": True,
    }
    return render(request, "workshop/plan_form.html", told)


def _initial(held: JobPlanVersion | None) -> dict[str, Any]:
    shown = held or JobPlanVersion()
    values = {name: getattr(shown, name) for name in PLAN_FIELDS if name != "hours"}
    return values | {f"hours_{skill}": n for skill, n in shown.hours.items()}


def _requirement(code: str) -> tuple[Requirement, RequirementRevision]:
    requirement = get_object_or_404(Requirement, code=code)
    newest = RequirementRevision.objects.newest_first().filter(requirement=requirement)
    revision = newest.first()
    if revision is None:
        raise Http404
    return requirement, revision

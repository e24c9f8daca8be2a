"""What people do with job plans: set, revise, put right; and loading a folder of them."""

import tomllib
from pathlib import Path
from typing import Any

from fleet.people.models import Skill, User
from fleet.records.deeds import deed
from fleet.records.refusing import refusing
from fleet.records.versions import (
    continue_version,
    correct_version,
    identify,
    open_version,
)
from fleet.upkeep.models import Requirement, RequirementRevision
from fleet.upkeep.vocabulary import Subject
from fleet.workshop.models import JobPlan, JobPlanVersion

PLAN_FIELDS = (
    "hours",
    "weeks",
    "place",
    "exchange",
    "early_days",
    "together",
    "parts",
    "note",
)

# Skills of those who do the work; the others are for who assesses, releases or agrees.
WORK_SKILLS = (Skill.AIR, Skill.VACUUM, Skill.GEAR, Skill.BENCH, Skill.VESSEL)


def plan_of(requirement: Requirement) -> JobPlanVersion | None:
    """Return the plan of a requirement as it stands; None: there is none."""
    rows = JobPlanVersion.objects.current().filter(plan__requirement=requirement)
    found: JobPlanVersion | None = rows.first()
    return found


def set_job_plan(
    *, by: User | None, requirement: Requirement, **values: Any
) -> JobPlanVersion:
    """
    Say for the first time what the work of a requirement takes.

    `values` are named as the fields of a plan. Raises ValidationError: `plan_is_there`,
    `no_hours`, `hours_not_understood`, `no_item`.
    """
    with deed("workshop.set_job_plan", by=by, locking=(requirement,)) as entry:
        if plan_of(requirement) is not None:
            raise refusing(
                "There is a plan meanwhile. Open it and revise it.",
                code="plan_is_there",
            )
        _refuse_senseless(requirement, values)
        plan = JobPlan.objects.filter(requirement=requirement).first()
        plan = plan or identify(JobPlan, entry=entry, requirement=requirement)
        made: JobPlanVersion = open_version(
            JobPlanVersion, entry=entry, plan=plan, **values
        )
        return made


def revise_job_plan(
    *, by: User | None, plan: JobPlanVersion, reason: str = "", **values: Any
) -> JobPlanVersion:
    """
    Say what the work takes from now on; what is not named stays as it was.

    Raises ValidationError as `set_job_plan`, and `already_superseded`.
    """
    requirement = plan.plan.requirement
    with deed("workshop.revise_job_plan", by=by, locking=(requirement,)) as entry:
        _refuse_senseless(requirement, _carried(plan) | values)
        return continue_version(plan, entry=entry, reason=reason, **values)


def correct_job_plan(
    *, by: User | None, plan: JobPlanVersion, reason: str, **values: Any
) -> JobPlanVersion:
    """
    Put right what was written down wrongly; both versions stay.

    Raises ValidationError as `revise_job_plan`, and `no_reason`.
    """
    requirement = plan.plan.requirement
    with deed("workshop.correct_job_plan", by=by, locking=(requirement,)) as entry:
        _refuse_senseless(requirement, _carried(plan) | values)
        return correct_version(plan, entry=entry, reason=reason, **values)


def _carried(plan: JobPlanVersion) -> dict[str, Any]:
    return {name: getattr(plan, name) for name in PLAN_FIELDS}


def _refuse_senseless(requirement: Requirement, values: dict[str, Any]) -> None:
    if not any(values.get("hours", {}).values()):
        raise refusing(
            "Give the hours of at least one skill.", code="no_hours", field="hours"
        )
    if not values.get("exchange"):
        return
    newest = RequirementRevision.objects.newest_first().filter(requirement=requirement)
    if (revision := newest.first()) and revision.subject != Subject.EQUIPMENT:
        raise refusing(
            "The requirement is of the vehicle, so there is nothing to exchange.",
            code="no_item",
            field="exchange",
        )


def load_job_plans(folder: Path, *, by: User | None) -> None:
    """
    Load the job plans of a folder of practice files, all or nothing.

    Raises OSError or tomllib.TOMLDecodeError for the file, ValidationError for content.
    """
    with (folder / "jobplans.toml").open("rb") as file:
        plans = tomllib.load(file)["plan"]
    requirements = {r.code: r for r in Requirement.objects.all()}
    with deed("workshop.load_job_plans", by=by):
        for raw in plans:
            set_job_plan(by=by, requirement=requirements[raw.pop("requirement")], **raw)

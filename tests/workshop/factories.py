"""Job plans made through the services."""

from fleet.workshop.job_plans import set_job_plan


def make_plan(requirement, **values):
    """Four hours of the air brake skill, anywhere, within a week."""
    values = {"by": None, "hours": {"air": 4}} | values
    return set_job_plan(requirement=requirement, **values)

"""What every form page of this slice does alike: record once, show what was refused."""

from collections.abc import Callable
from typing import TypeVar

from django.core.exceptions import PermissionDenied, ValidationError
from django.http import HttpRequest

from fleet.people.access import may
from fleet.people.roles import bearers
from fleet.records.deeds import AlreadyRecorded, submitted
from fleet.ui.forms import SubmissionForm, add_refusal

T = TypeVar("T")


def recorded(
    form: SubmissionForm, write: Callable[[], T]
) -> T | AlreadyRecorded | None:
    """
    Write what a valid form says, once; None where it was refused, with the reason in it.

    Sent a second time, the entry it became is returned in its AlreadyRecorded.
    """
    if not form.is_bound or not form.is_valid():
        return None
    try:
        with submitted(uuid=form.cleaned_data["submission"]):
            return write()
    except AlreadyRecorded as before:
        return before
    except ValidationError as refusal:
        add_refusal(form, refusal)
        return None


def needs_one_of(request: HttpRequest, *permissions: str) -> None:
    """Refuse who has none of these permissions."""
    if not any(may(request.user, permission) for permission in permissions):
        raise PermissionDenied(f"This is for a {bearers(permissions[0])}.")

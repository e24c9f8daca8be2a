"""What every page that records something does alike: write once, show a refusal."""

from collections.abc import Callable
from typing import Any, TypeVar

from django.core.exceptions import ValidationError
from django.http import HttpRequest

from fleet.records.deeds import AlreadyRecorded, submitted
from fleet.ui.forms import SubmissionForm, add_refusal

F = TypeVar("F", bound=SubmissionForm)


def filled(form_class: type[F], request: HttpRequest, **options: Any) -> F:
    """Return the form as sent, or an empty one where nothing was sent."""
    data = request.POST if request.method == "POST" else None
    return form_class(data, **options)


def recorded(form: SubmissionForm, write: Callable[[], Any]) -> bool:
    """
    Write what a valid form says, and say whether it stands recorded now.

    Sent a second time it stands recorded already, and nothing is written. What a service
    refuses is shown in the form.
    """
    if not form.is_bound or not form.is_valid():
        return False
    try:
        with submitted(uuid=form.cleaned_data["submission"]):
            write()
    except AlreadyRecorded:
        return True
    except ValidationError as refusal:
        add_refusal(form, refusal)
        return False
    return True

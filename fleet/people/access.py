"""Who may do what on a page: the check that stands first in every view."""

from collections.abc import Callable
from functools import wraps
from typing import Any, TypeAlias

from django.core.exceptions import PermissionDenied
from django.http import HttpRequest, HttpResponse

from fleet.people.models import Person, User
from fleet.people.roles import bearers

View: TypeAlias = Callable[..., HttpResponse]
SIGNED_IN_BEFORE = "signed_in_before"  # in the session: when the account last came in


def needs(permission: str) -> Callable[[View], View]:
    """
    Let only those with a permission of `people` into a view; "record_facts" for one.

    Everybody else gets the page that says who may. Everyone signed in may look, so
    pages that only show something need none.
    """

    def guard(view: View) -> View:
        @wraps(view)
        def guarded(request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponse:
            if not may(request.user, permission):
                raise PermissionDenied(f"This is for a {bearers(permission)}.")
            return view(request, *args, **kwargs)

        return guarded

    return guard


def may(user: Any, permission: str) -> bool:
    """Say whether an account carries a permission of `people`."""
    return bool(user.has_perm(f"people.{permission}"))


def signed_in(request: HttpRequest) -> User:
    """Return the account a request comes from; log-in is required everywhere."""
    assert isinstance(request.user, User)
    return request.user


def person_of(user: User) -> Person:
    """Return the person an account stands for, made from its name the first time."""
    person, _made = Person.objects.get_or_create(
        user=user, defaults={"name": str(user)}
    )
    return person

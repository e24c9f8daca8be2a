"""Pages for what went wrong: each says what to do next."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.csrf import requires_csrf_token


@requires_csrf_token
def bad_request(request: HttpRequest, exception: Exception) -> HttpResponse:
    """Answer a request that could not be read."""
    return render(request, "ui/400.html", status=400)


@requires_csrf_token
def permission_denied(request: HttpRequest, exception: Exception) -> HttpResponse:
    """Answer one who may not do this, with the reason where there is one."""
    context = {"reason": str(exception)}
    return render(request, "ui/403.html", context, status=403)


@requires_csrf_token
def page_not_found(request: HttpRequest, exception: Exception) -> HttpResponse:
    """Answer for an address that leads nowhere."""
    return render(request, "ui/404.html", status=404)


def server_error(request: HttpRequest) -> HttpResponse:
    """Answer for a fault of ours, from a page that asks nothing of the database."""
    return render(None, "ui/500.html", status=500)


def csrf_failure(request: HttpRequest, reason: str = "") -> HttpResponse:
    """Answer a form whose token is missing or old; nothing was stored."""
    return render(request, "ui/403_csrf.html", status=403)

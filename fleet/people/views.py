"""Signing in and out."""

from typing import Any

from django.contrib.auth.views import LoginView, LogoutView
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render

sign_in = LoginView.as_view(
    template_name="ui/login.html", redirect_authenticated_user=True
)
sign_out = LogoutView.as_view()


def locked_out(
    request: HttpRequest, _response: Any = None, _credentials: Any = None
) -> HttpResponse:
    """Answer one who guessed too often, saying when to come back."""
    return render(request, "people/locked.html", status=429)

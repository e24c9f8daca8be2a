"""Addresses for the tests of the menu: two pages of seven."""

from django.http import HttpResponse
from django.urls import include, path


def page(request):
    """Answer with nothing."""
    return HttpResponse()


urlpatterns = [
    path("", include(([path("", page, name="board")], "web"))),
    path("", include(([path("vehicles/", page, name="vehicle-list")], "register"))),
]

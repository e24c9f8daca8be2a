"""The pages for what went wrong: the right status, and a sentence on what to do."""

import pytest
from django.contrib.auth.models import AnonymousUser
from django.core.exceptions import PermissionDenied
from django.test import RequestFactory
from django.urls import get_resolver

from fleet.ui import errors


@pytest.fixture
def request_():
    request = RequestFactory().get("/nowhere")
    request.user = AnonymousUser()
    return request


@pytest.mark.parametrize(
    ("view", "status", "words"),
    [
        (errors.bad_request, 400, "Nothing was stored"),
        (errors.permission_denied, 403, "Nothing was stored"),
        (errors.page_not_found, 404, "look the vehicle or the item up"),
    ],
)
def test_an_error_page_has_its_status_and_says_what_to_do(
    request_, view, status, words
):
    answer = view(request_, Exception())

    assert answer.status_code == status
    assert words in answer.content.decode()


def test_a_refusal_gives_its_reason(request_):
    refused = PermissionDenied("Only a <manager> signs this.")

    html = errors.permission_denied(request_, refused).content.decode()

    assert "Only a &lt;manager&gt; signs this." in html


def test_a_fault_of_ours_is_answered_without_asking_the_database(request_):
    answer = errors.server_error(request_)  # no database mark: a query would fail

    assert answer.status_code == 500
    assert "take no brake status from this register" in answer.content.decode()


def test_an_old_form_is_answered_with_403(request_):
    assert errors.csrf_failure(request_, "stale").status_code == 403


@pytest.mark.parametrize("status", [400, 403, 404, 500])
def test_the_register_answers_errors_with_these_pages(status):
    handler = get_resolver(None).resolve_error_handler(status)

    assert handler.__module__ == errors.__name__

"""Who gets in: log-in by default, few public addresses, a lock after five guesses."""

import datetime as dt

import pytest
import time_machine
from django.contrib.auth import authenticate, get_user_model
from django.core.exceptions import PermissionDenied
from django.db import OperationalError, connection
from django.test import RequestFactory
from django.urls import NoReverseMatch, get_resolver, reverse
from django.urls.resolvers import URLPattern

PUBLIC = {"healthz", "sign-in", "sign-out", "vouch", "calendar-feed"}
PASSWORD = "seven brass cocks"


def patterns(resolver, namespace=""):
    """Every address below `resolver` but the admin's, as (full name, pattern)."""
    for entry in resolver.url_patterns:
        if isinstance(entry, URLPattern):
            yield f"{namespace}{entry.name}", entry
        elif entry.namespace != "admin":
            inner = f"{namespace}{entry.namespace}:" if entry.namespace else namespace
            yield from patterns(entry, inner)


def plain_addresses():
    """Addresses that need no argument, by name."""
    for name, _ in patterns(get_resolver()):
        try:
            yield name, reverse(name)
        except NoReverseMatch:
            continue


def test_only_the_named_addresses_are_open_to_a_stranger():
    unguarded = {
        name.split(":")[-1]
        for name, pattern in patterns(get_resolver())
        if not getattr(pattern.callback, "login_required", True)
    }

    assert "healthz" in unguarded
    assert unguarded <= PUBLIC


@pytest.mark.django_db
def test_a_stranger_is_sent_to_sign_in_from_every_other_address(client):
    answers = {
        name: client.get(address)
        for name, address in plain_addresses()
        if name.split(":")[-1] not in PUBLIC
    }

    sign_in = reverse("people:sign-in")
    let_in = [
        name
        for name, answer in answers.items()
        if answer.status_code != 302 or not answer["Location"].startswith(sign_in)
    ]
    assert answers
    assert let_in == []


@pytest.mark.django_db
def test_the_health_address_answers_without_a_log_in(client):
    answer = client.get("/healthz")

    assert (answer.status_code, answer.content) == (200, b"ok\n")
    assert "no-store" in answer["Cache-Control"]


def test_the_health_address_says_when_the_database_is_gone(client, monkeypatch):
    def gone():
        raise OperationalError

    monkeypatch.setattr(connection, "cursor", gone)

    assert client.get("/healthz").status_code == 503


@pytest.mark.django_db
def test_nothing_may_be_loaded_from_elsewhere_or_written_into_the_page(client):
    policy = client.get("/healthz")["Content-Security-Policy"]

    assert "default-src 'self'" in policy
    assert "frame-ancestors 'none'" in policy
    assert "unsafe" not in policy


@pytest.fixture
def fitter(db):
    return get_user_model().objects.create_user("fitter", password=PASSWORD)


def attempt(password, *, username="fitter", address="10.0.0.1"):
    """The user that these words let in, or None."""
    request = RequestFactory().post("/sign-in/", REMOTE_ADDR=address)
    try:
        return authenticate(request, username=username, password=password)
    except PermissionDenied:
        return None


def test_the_right_password_is_let_in_after_four_wrong_ones(fitter):
    for _ in range(4):
        assert attempt("wrong") is None

    assert attempt(PASSWORD) == fitter


def test_five_wrong_passwords_lock_that_person_at_that_address(fitter):
    for _ in range(5):
        attempt("wrong")

    assert attempt(PASSWORD) is None


def test_one_forgetful_hand_locks_nobody_else_at_the_depot(fitter):
    other = get_user_model().objects.create_user("planner", password=PASSWORD)
    for _ in range(5):
        attempt("wrong")

    assert attempt(PASSWORD, username="planner") == other
    assert attempt(PASSWORD, address="10.0.0.2") == fitter


@pytest.mark.parametrize(
    ("minutes", "let_in"),
    [
        pytest.param(14, False, id="still locked"),
        pytest.param(16, True, id="open again"),
    ],
)
def test_the_lock_opens_by_itself_after_a_quarter_of_an_hour(fitter, minutes, let_in):
    start = dt.datetime(2026, 3, 2, 9, 0, tzinfo=dt.UTC)
    with time_machine.travel(start, tick=False) as clock:
        for _ in range(5):
            attempt("wrong")
        clock.shift(dt.timedelta(minutes=minutes))

        assert (attempt(PASSWORD) is not None) is let_in

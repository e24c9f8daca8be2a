"""What every test may ask for: quick passwords, two hypothesis profiles, a browser."""

import os
import shutil

import hypothesis
import pytest
from django.conf import settings

hypothesis.settings.register_profile("dev", max_examples=30, deadline=None)
hypothesis.settings.register_profile(
    "ci", max_examples=60, deadline=None, derandomize=True, print_blob=True
)
hypothesis.settings.load_profile("ci" if os.environ.get("CI") else "dev")

pytest_plugins = ["tests.people.fixtures"]

CHROMIUM_ARGUMENTS = [
    "--no-sandbox",  # as root, in a container
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]
HEIGHT_PX = 900


def pytest_configure():
    """Set what must stand before the first test."""
    # Argon2 is slow on purpose; here it would only make the tests slow.
    settings.PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]
    # Once a browser is open, its event loop stays in this thread to the end, and
    # Django would refuse every query beside it.
    os.environ["DJANGO_ALLOW_ASYNC_UNSAFE"] = "true"


@pytest.fixture(scope="session")
def django_db_setup(django_db_setup, django_db_blocker):
    """Make the test database; at the end drop its copies, and what is connected to it."""
    yield
    with django_db_blocker.unblock():
        from django.db import connection

        from tests.web.kept import drop_all

        drop_all()
        if connection.vendor == "postgresql":
            with connection.cursor() as cursor:
                cursor.execute(
                    "SELECT pg_terminate_backend(pid) FROM pg_stat_activity "
                    "WHERE datname = current_database() AND pid <> pg_backend_pid()"
                )


def chromium():
    """Where the browser is, or None."""
    return os.environ.get("CHROMIUM") or shutil.which("chromium")


def do_without_browser(reason):
    """Skip the test, saying why; in CI a browser that is not there is a failure."""
    if os.environ.get("CI"):
        pytest.fail(reason)
    pytest.skip(reason)


@pytest.fixture(scope="session")
def browser():
    """A headless Chromium; tests that ask for it are skipped where there is none."""
    path = chromium()
    if path is None:
        do_without_browser("no Chromium: install it, or set CHROMIUM to its path")
    from playwright.sync_api import sync_playwright  # slow to import

    steering = sync_playwright()
    try:
        launched = steering.start().chromium.launch(
            executable_path=path, args=CHROMIUM_ARGUMENTS
        )
    except Exception as error:  # noqa: BLE001 - what it raises depends on what is missing
        do_without_browser(f"Chromium does not start: {str(error).splitlines()[0]}")
    yield launched
    launched.close()
    steering.__exit__(None, None, None)


@pytest.fixture
def page_at(browser, live_server):
    """Return `page_at(width_px, user=None)`: a page of that width, signed in as `user`.

    Afterwards the test fails if any of its pages broke the content security policy
    or raised an error in a script.
    """
    contexts, faults = [], []

    def on_console(message):
        if "Content Security Policy" in message.text:
            faults.append(message.text)

    def open_page(width_px, user=None):
        context = browser.new_context(
            base_url=live_server.url,
            viewport={"width": width_px, "height": HEIGHT_PX},
            locale="en-GB",
        )
        contexts.append(context)
        if user is not None:
            context.add_cookies([session_cookie(user, live_server.url)])
        page = context.new_page()
        page.on("console", on_console)
        page.on("pageerror", lambda error: faults.append(str(error)))
        return page

    yield open_page
    for context in contexts:
        for page in context.pages:
            page.wait_for_timeout(50)  # a breach is told a moment after it happens
        context.close()
    assert faults == []


def session_cookie(user, url):
    """The cookie of a browser in which `user` has signed in."""
    from django.test import Client

    client = Client()
    client.force_login(user)
    cookie = client.cookies[settings.SESSION_COOKIE_NAME]
    return {"name": cookie.key, "value": cookie.value, "url": url}

"""The browser of the tests: it reaches the live server, at the width asked for."""

import pytest


@pytest.mark.django_db(transaction=True)
@pytest.mark.parametrize("width", [390, 1280])
def test_a_page_is_as_wide_as_it_was_asked_to_be(page_at, width):
    page = page_at(width)

    page.goto("/healthz")

    assert page.inner_text("body").strip() == "ok"
    assert page.evaluate("window.innerWidth") == width

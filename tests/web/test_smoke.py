"""Every page in a browser, for every role: it opens, nothing breaks, nothing overflows."""

from functools import cache
from itertools import chain

import pytest
from django.test import Client
from django.urls import resolve

from tests.web.demo import ACCOUNTS, account, load, vehicle_of, walk
from tests.web.kept import copied

PHONE, DESK = 390, 1280
FILES = (".pdf", ".csv", ".xlsx", ".ics")  # what a browser keeps instead of showing
# Of the many vehicles: dual, not to run, with an empty position, piped only, a shunter.
VEHICLES = ("T 107", "T 109", "K 9", "V 31", "D 11")


@pytest.fixture
def sorts_of_pages(transactional_db):
    """Addresses of each sort of page there is, as a manager comes by them."""
    with copied(load):
        yield _sorts()


@cache  # every copy of the demo has the same addresses
def _sorts():
    client = Client()
    client.force_login(account("manager"))
    chosen = {}
    for address, answer in walk(client):
        path = address.partition("?")[0]
        if answer.status_code == 200:
            chosen.setdefault(resolve(path).view_name, []).append(address)
    chosen["web:vehicle"] = [vehicle_of(number) for number in VEHICLES]
    return chosen


def opened(page, address):
    """Open an address; return its status."""
    path = address.partition("?")[0]
    if path.endswith(FILES):
        return page.request.get(address).status
    return page.goto(address, wait_until="load").status


def says_who_may(page, address):
    """Say whether a closed door names those it is open to."""
    path = address.partition("?")[0]
    return path.endswith(FILES) or "This is for a" in page.inner_text("main")


def too_wide(page):
    """By how many pixels the page is wider than the window."""
    return page.evaluate("document.documentElement.scrollWidth - window.innerWidth")


@pytest.mark.parametrize("width", [PHONE, DESK])
def test_every_page_opens_without_fault_and_fits_its_window(
    sorts_of_pages, page_at, width
):
    assert len(sorts_of_pages) > 50

    faults = []
    page = page_at(width, account("manager"))
    for address in chain.from_iterable(sorts_of_pages.values()):
        status = opened(page, address)
        if status != 200 or too_wide(page) > 0:
            faults.append((address, status, too_wide(page)))

    assert faults == []


@pytest.mark.parametrize("role", sorted(ACCOUNTS.keys() - {"manager"}))
def test_every_sort_of_page_opens_for_a_role_or_says_who_may(
    sorts_of_pages, page_at, role
):
    faults = []
    page = page_at(PHONE, account(role))
    for address, *_others in sorts_of_pages.values():
        status = opened(page, address)
        if status != 200 and not (status == 403 and says_who_may(page, address)):
            faults.append((address, status))

    assert faults == []

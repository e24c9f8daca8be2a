"""Every page in a browser, for every role: it opens, nothing breaks, nothing overflows."""

import pytest
from django.test import Client
from django.urls import resolve

from tests.web.demo import ACCOUNTS, account, load, vehicle_of, walk

PHONE, DESK = 390, 1280
PDF = ".pdf"
# Of the many vehicles: dual, not to run, with an empty position, piped only, a shunter.
VEHICLES = ("T 107", "T 109", "K 9", "V 31", "D 11")


@pytest.fixture
def sorts_of_pages(transactional_db):
    """One address of each sort of page there is, as a manager comes by them."""
    load()
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
    if path.endswith(PDF):
        return page.request.get(address).status
    return page.goto(address, wait_until="load").status


def says_who_may(page, address):
    """Say whether a closed door names those it is open to."""
    return PDF in address or "This is for a" in page.inner_text("main")


def too_wide(page):
    """By how many pixels the page is wider than the window."""
    return page.evaluate("document.documentElement.scrollWidth - window.innerWidth")


def test_every_page_opens_for_every_role_without_fault(sorts_of_pages, page_at):
    every = [address for found in sorts_of_pages.values() for address in found]
    one_each = [found[0] for found in sorts_of_pages.values()]
    assert len(one_each) > 50

    faults = []
    for width in (PHONE, DESK):
        page = page_at(width, account("manager"))
        for address in every:
            status = opened(page, address)
            if status != 200 or too_wide(page) > 0:
                faults.append((width, address, status, too_wide(page)))
    for role in ACCOUNTS.keys() - {"manager"}:
        page = page_at(PHONE, account(role))
        for address in one_each:
            status = opened(page, address)
            if status != 200 and not (status == 403 and says_who_may(page, address)):
                faults.append((role, address, status))

    assert faults == []

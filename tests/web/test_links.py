"""The ways through the register: where its links lead, for each role."""

import pytest
from django.test import Client
from django.urls import resolve

from fleet.people.roles import ROLES
from tests.web.demo import account, every_name, loaded_for_a_module, walk

pytestmark = pytest.mark.django_db

# Addresses the walk does not come by, each for a reason.
NOT_MET = {
    "healthz": "for the machine that watches over the server",
    "people:sign-in": "where everybody comes in",
    "people:sign-out": "a button, not a link",
    "examination:draft-arrange": "buttons of a draft's lines",
    "examination:counter-sign": "for the competent, on a test that wants it",
    "web:concession-correct": "for the entitled, on a concession that was granted",
    "workshop:calendar-feed": "once a user made a private address",
    "workshop:calendar-revoke": "once a user made a private address",
    "workshop:diary-write": "a button under a sheet that was looked through",
    "workshop:consignment-retract": "on the page of units of which none is back",
    "workshop:publish": "on a search that supposes nothing; the newest asks what if",
    "workshop:run-stop": "a button of a search that goes on",
    "examination:signature-retract": "on the page of a test that is counter-signed",
}


@pytest.fixture(scope="module")
def walked(django_db_setup, django_db_blocker):
    """By role: what each address answered that the role comes by in the demo."""
    with loaded_for_a_module(django_db_blocker):
        found = {}
        for role in ROLES:
            client = Client()
            client.force_login(account(role))
            pages = walk(client, thorough=role == "manager")
            found[role] = {at: answer.status_code for at, answer in pages}
        yield found


@pytest.mark.parametrize("role", sorted(ROLES))
def test_no_link_leads_anybody_to_an_error_or_to_a_closed_door(walked, role):
    wrong = {at: status for at, status in walked[role].items() if status > 302}

    assert wrong == {}
    assert len(walked[role]) > 40


def test_every_page_can_be_reached_by_links(walked):
    reached = {
        resolve(address.partition("?")[0]).view_name
        for found in walked.values()
        for address in found
    }

    assert every_name() - reached - set(NOT_MET) == set()

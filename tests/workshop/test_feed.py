"""
The calendar feed, read back as a calendar program reads it.

Sections are those of RFC 5545 (September 2009), section numbers from memory.
"""

import datetime as dt

import pytest
from django.urls import reverse
from icalendar import Calendar

from fleet.fitness.services import mark_for_rebuild
from fleet.people.models import User
from fleet.records.models import Entry
from fleet.upkeep.models import Requirement
from fleet.workshop.feeds import make_feed
from fleet.workshop.models import CalendarFeed
from tests.examination.factories import make_test
from tests.web.reading import main, words
from tests.web.scenes import coach, day, fleet, on, standing_at_today
from tests.workshop.factories import make_plan

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def _today():
    with standing_at_today():
        yield


def read(client, feed):
    """The calendar under an address, for somebody who has not signed in."""
    answer = client.get(reverse("workshop:calendar-feed", args=[feed.token]))
    assert answer.status_code == 200
    assert answer["Content-Type"] == "text/calendar; charset=utf-8"
    return answer.content


def events(content):
    return Calendar.from_ical(content).walk("VEVENT")


def test_what_falls_due_is_an_all_day_event_with_all_that_a_program_needs(
    client, planner
):
    fleet(1)
    make_plan(Requirement.objects.get(code="annual"), hours={"air": 4})

    content = read(client, make_feed(planner))
    calendar = Calendar.from_ical(content)
    (event,) = events(content)

    assert calendar["VERSION"] == "2.0"  # 3.7.4, required
    assert calendar["PRODID"]  # 3.7.3, required
    # 3.6.1: a DATE value makes it all-day; 3.8.2.2: the end is not part of it
    assert event.decoded("DTSTART") == day("2027-03-05")
    assert event["DTSTART"].params["VALUE"] == "DATE"
    assert event.decoded("DTEND") == day("2027-03-06")
    assert event["SUMMARY"] == "T 101: Air brake test due"
    assert "4 h air brake tests" in event["DESCRIPTION"]
    assert event["TRANSP"] == "TRANSPARENT"  # 3.8.2.7: makes nobody busy
    assert event.walk("VALARM") == []


def test_lines_end_in_crlf_and_hold_at_most_75_octets(client, planner):
    fleet(1)

    content = read(client, make_feed(planner))

    lines = content.split(b"\r\n")  # 3.1
    assert lines[-1] == b""
    assert all(len(line) <= 75 and b"\n" not in line for line in lines)


def test_without_a_method_the_stamp_is_the_last_change_in_utc(client, planner):
    fleet(1)

    content = read(client, make_feed(planner))
    (event,) = events(content)

    # 3.8.7.2: with no METHOD it is when the information was last revised, in UTC
    assert "METHOD" not in Calendar.from_ical(content)
    assert event.decoded("DTSTAMP") == Entry.objects.order_by("-number")[0].made_at
    assert b"DTSTAMP:20260510T120000Z" in content


def test_the_next_time_keeps_its_uid_while_its_date_moves(client, planner):
    (vehicle,) = fleet(1)
    feed = make_feed(planner)
    (before,) = events(read(client, feed))

    make_test(vehicle=vehicle, on=on("2026-05-08"))
    (after,) = events(read(client, feed))

    assert after.decoded("DTSTART") == day("2027-05-08")
    assert after["UID"] == before["UID"]  # 3.8.4.7: persistent


def test_every_event_has_a_uid_of_its_own(client, planner):
    coach("T 190", tested="2025-01-10")
    fleet(2)

    found = events(read(client, make_feed(planner)))

    assert len({e["UID"] for e in found}) == len(found) > 3


def test_what_has_no_date_or_is_not_reassessed_has_no_event(client, planner):
    fleet(1)
    coach("T 107", tested=None)
    feed = make_feed(planner)
    assert {e["SUMMARY"].split(":")[0] for e in events(read(client, feed))} == {
        "T 101",
        "T 107",  # as if done today
    }

    mark_for_rebuild(None)

    assert events(read(client, feed)) == []


def test_no_person_is_named_in_it(client, planner):
    fleet(1)
    User.objects.filter(pk=planner.pk).update(first_name="Mirelle", last_name="Quaine")

    content = read(client, make_feed(planner)).decode()

    assert "Quaine" not in content
    assert planner.username not in content
    assert "ATTENDEE" not in content
    assert "ORGANIZER" not in content


def test_an_address_revoked_leads_nowhere(client, planner):
    feed = make_feed(planner)
    client.force_login(planner)

    client.post(reverse("workshop:calendar-revoke"))

    answer = client.get(reverse("workshop:calendar-feed", args=[feed.token]))
    assert answer.status_code == 404
    assert "You have no address" in words(client.get(reverse("workshop:calendar")))


def test_a_new_address_ends_the_one_before(client, planner):
    first = make_feed(planner)
    client.force_login(planner)

    client.post(reverse("workshop:calendar-make"))

    answer = client.get(reverse("workshop:calendar-feed", args=[first.token]))
    assert answer.status_code == 404
    assert CalendarFeed.objects.filter(revoked_at__isnull=True).count() == 1


def test_the_address_of_one_who_left_leads_nowhere(client, planner):
    feed = make_feed(planner)
    User.objects.filter(pk=planner.pk).update(is_active=False)

    answer = client.get(reverse("workshop:calendar-feed", args=[feed.token]))

    assert answer.status_code == 404


def test_each_user_has_an_address_nobody_guesses(client, planner, fitter):
    tokens = [make_feed(planner).token, make_feed(fitter).token]

    assert len(set(tokens)) == 2
    assert all(len(token) >= 32 for token in tokens)  # 24 random bytes
    client.force_login(fitter)
    said = main(client.get(reverse("workshop:calendar")))
    assert tokens[1] in said
    assert tokens[0] not in said


@pytest.mark.parametrize("vehicles", [1, 6])
def test_the_feed_takes_the_same_number_of_queries_whatever_the_fleet(
    client, planner, vehicles, django_assert_num_queries
):
    fleet(vehicles)
    feed = make_feed(planner)

    # the feed, its 11 of the forecast, the last entry, what is stale
    with django_assert_num_queries(14):
        found = events(read(client, feed))

    assert len(found) == vehicles
    assert all(e.decoded("DTSTART") > dt.date(2026, 5, 10) for e in found)

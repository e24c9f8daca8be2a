"""A vehicle put away for the winter and brought back, told on its pages."""

import datetime as dt

import pytest
import time_machine
from django.urls import reverse

from fleet.register.vocabulary import Scope
from fleet.upkeep.vocabulary import Change
from tests.examination.factories import make_procedure, make_test
from tests.upkeep.factories import (
    make_conditions,
    make_matrix_line,
    make_requirement,
)
from tests.web.reading import part, rows, words
from tests.web.scenes import coach, day, on

pytestmark = pytest.mark.django_db


def clock(text):
    """The clock stopped at noon of a day."""
    return time_machine.travel(
        dt.datetime.combine(day(text), dt.time(12), dt.UTC), tick=False
    )


@pytest.fixture
def winter(db):
    """A coach tested on 5 March 2025, under a test that stands still from thirty days."""
    make_conditions(storage_days_needing_tests=30)
    make_requirement(code="annual", storage_credit_days=30)
    make_matrix_line(
        code="return", change_kind=Change.STORAGE_ENDED, kind="", scope=Scope.AIR_BRAKE
    )
    return coach("T 107", tested="2025-03-05")


def page(client, user, vehicle, text):
    """The page of the vehicle on a day, as it is opened that day."""
    with clock(text):
        client.force_login(user)
        return client.get(reverse("web:vehicle", args=[vehicle.pk]))


def sent(client, user, vehicle, text, name, **said):
    """A form sent on a day."""
    with clock(text):
        client.force_login(user)
        answer = client.post(reverse(f"register:{name}", args=[vehicle.pk]), said)
    assert answer.status_code == 302
    return answer


def due(answer):
    """The due date of the annual test, and how it was counted."""
    (row,) = [r for r in rows(part(answer, "due")) if "annual" in r["Requirement"]]
    return row["Due"], row["Counted"]


def test_the_story_of_a_winter_in_store(client, planner, winter):
    assert due(page(client, planner, winter, "2025-10-31"))[0] == "5 Mar 2026"

    sent(
        client,
        planner,
        winter,
        "2025-11-01",
        "vehicle-store",
        since_day="2025-11-01",
        since_time="",
        place="Carriage shed",
        preserved="Drained",
    )
    away, counted = due(page(client, planner, winter, "2026-02-01"))
    assert away == "5 Mar 2026 forecast"
    assert "out of use since 1 Nov 2025: credited once it is back" in counted

    sent(
        client,
        planner,
        winter,
        "2026-03-01",
        "vehicle-return",
        at_day="2026-03-01",
        at_time="09:00",
    )
    shown = page(client, planner, winter, "2026-03-02")
    # 30 days of November, 31 of December, 31 of January, 28 of February: 120.
    assert due(shown)[0] == "3 Jul 2026"
    assert "extended by 120 days out of use" in due(shown)[1]
    assert "to follow: returned from storage on 1 Mar 2026" in words(shown)
    assert "Convey as piped" in words(shown)

    with clock("2026-03-02"):
        make_test(vehicle=winter, procedure=make_procedure(), on=on("2026-03-02"))
    shown = page(client, planner, winter, "2026-03-02")
    assert "Fit to run braked" in words(shown)
    assert due(shown)[0] == "2 Mar 2027"


def test_three_weeks_in_store_ask_for_nothing_and_are_not_credited(
    client, planner, winter
):
    sent(
        client,
        planner,
        winter,
        "2025-11-01",
        "vehicle-store",
        since_day="2025-11-01",
        since_time="",
        place="Shed",
        preserved="",
    )
    sent(
        client,
        planner,
        winter,
        "2025-11-22",
        "vehicle-return",
        at_day="2025-11-22",
        at_time="",
    )

    shown = page(client, planner, winter, "2025-11-22")

    assert due(shown)[0] == "5 Mar 2026"
    assert "returned from storage" not in words(shown)

"""What a moment must satisfy before anything is written."""

import datetime as dt

import pytest
import time_machine
from django.core.exceptions import ValidationError

from fleet.engineering.calendar import Moment
from fleet.records.moments import present, refuse_future, refuse_unknown
from fleet.records.refusing import codes_of, refusing

# Half past ten in the evening in winter, so that the local day is the day of UTC.
NOW = dt.datetime(2026, 2, 10, 22, 30, tzinfo=dt.UTC)
TODAY = dt.date(2026, 2, 10)


@pytest.mark.parametrize(
    "moment",
    [
        pytest.param(Moment.on(TODAY), id="today"),
        pytest.param(Moment.on(TODAY, dt.time(22, 30)), id="this minute"),
        pytest.param(Moment.parse("2026-02"), id="this month, which may be past"),
        pytest.param(Moment.parse("2026"), id="this year"),
        pytest.param(Moment.unknown(), id="unknown"),
        pytest.param(TODAY, id="a plain day"),
        pytest.param(None, id="none"),
    ],
)
def test_what_may_have_happened_is_kept(moment):
    with time_machine.travel(NOW, tick=False):
        refuse_future(moment, "since")


@pytest.mark.parametrize(
    "moment",
    [
        pytest.param(Moment.on(TODAY + dt.timedelta(days=1)), id="tomorrow"),
        pytest.param(Moment.on(TODAY, dt.time(22, 31)), id="in a minute"),
        pytest.param(Moment.parse("2026-03"), id="next month"),
        pytest.param(Moment.parse("2027"), id="next year"),
        pytest.param(TODAY + dt.timedelta(days=1), id="a plain day"),
    ],
)
def test_what_is_still_to_come_is_refused_at_its_field(moment):
    with (
        time_machine.travel(NOW, tick=False),
        pytest.raises(ValidationError) as refused,
    ):
        refuse_future(moment, "since")

    assert codes_of(refused.value) == {"in_the_future"}
    assert list(refused.value.error_dict) == ["since"]


def test_the_day_turns_over_where_the_register_is_kept():
    summer_night = dt.datetime(2026, 7, 1, 23, 30, tzinfo=dt.UTC)  # 00:30 on the 2nd
    with time_machine.travel(summer_night, tick=False):
        refuse_future(Moment.parse("2026-07-02"), "since")

        assert present() == Moment.on(dt.date(2026, 7, 2), dt.time(0, 30))


@pytest.mark.parametrize("moment", [None, Moment.unknown()])
def test_an_unknown_date_is_refused_where_one_is_needed(moment):
    with pytest.raises(ValidationError) as refused:
        refuse_unknown(moment, "at")

    assert codes_of(refused.value) == {"unknown_date"}


def test_a_refusal_keeps_its_code_at_its_field_and_without_one():
    assert codes_of(refusing("No.", code="no", field="since")) == {"no"}
    assert codes_of(refusing("No.", code="no")) == {"no"}

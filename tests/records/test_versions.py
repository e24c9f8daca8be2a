"""Facts are dated twice: what was known when, corrections, retractions, moments."""

import datetime as dt

import pytest
from django.core.exceptions import ValidationError

from fleet.engineering.calendar import Moment, Order, order_of
from fleet.records.deeds import deed
from fleet.records.models import Entry, Kind
from fleet.records.refusing import codes_of
from fleet.records.versions import (
    continue_version,
    correct_version,
    retract_version,
    write_many,
)
from fleet.register.models import Fitting, Usage, VehicleVersion
from fleet.register.services.fittings import (
    correct_fitting,
    retract_fitting,
    take_off,
)
from tests.register.factories import make_depot, make_fitting, make_vehicle

pytestmark = pytest.mark.django_db


def newest():
    """The number of the newest entry."""
    return Entry.objects.order_by("-number").first().number


def held_of(vehicle, known_at):
    """Where things were said to be on a vehicle, as known at an entry."""
    rows = Fitting.objects.known_at(known_at).filter(vehicle=vehicle)
    return {(row.position, str(row.since), str(row.until)) for row in rows}


def test_what_was_known_at_an_entry_never_changes_later():
    vehicle = make_vehicle()
    fitting = make_fitting(
        vehicle=vehicle, position="distributor", since=Moment.parse("2020-03-01")
    )
    known = {newest(): held_of(vehicle, newest())}
    fitting = correct_fitting(
        by=None,
        fitting=fitting,
        reason="read wrongly",
        since=Moment.parse("2020-03-05"),
    )
    known[newest()] = held_of(vehicle, newest())
    fitting = take_off(
        by=None, fitting=fitting, at=Moment.parse("2022-05-01"), to=make_depot()
    )
    known[newest()] = held_of(vehicle, newest())
    retract_fitting(by=None, fitting=fitting, reason="another vehicle's card")
    known[newest()] = held_of(vehicle, newest())

    assert list(known.values()) == [
        {("distributor", "1 Mar 2020", "None")},
        {("distributor", "5 Mar 2020", "None")},
        {("distributor", "5 Mar 2020", "1 May 2022")},
        set(),
    ]
    for number, then in known.items():
        assert held_of(vehicle, number) == then


def test_a_correction_keeps_both_versions_with_its_reason():
    fitting = make_fitting(vehicle=make_vehicle(), position="distributor")

    corrected = correct_fitting(
        by=None,
        fitting=fitting,
        reason="it was the day after",
        since=Moment.parse("2016"),
    )

    old = Fitting.objects.get(pk=fitting.pk)
    assert (old.closed_by, old.since) == (corrected.opened_by, fitting.since)
    assert (corrected.change, corrected.reason) == (
        Kind.CORRECTED,
        "it was the day after",
    )
    assert corrected.replaces == old
    assert corrected.is_current
    assert not old.is_current


@pytest.mark.parametrize("reason", ["", "   "])
def test_a_correction_without_a_reason_is_refused(reason):
    fitting = make_fitting(vehicle=make_vehicle(), position="distributor")

    with pytest.raises(ValidationError) as refused:
        correct_fitting(
            by=None, fitting=fitting, reason=reason, since=Moment.parse("2016")
        )

    assert codes_of(refused.value) == {"no_reason"}
    assert list(refused.value.error_dict) == ["reason"]
    assert Fitting.objects.get(pk=fitting.pk).closed_by is None


@pytest.mark.parametrize(
    "again",
    [
        lambda old, entry: continue_version(old, entry=entry),
        lambda old, entry: correct_version(old, entry=entry, reason="slip"),
        lambda old, entry: retract_version(old, entry=entry, reason="slip"),
    ],
    ids=["continued", "corrected", "retracted"],
)
def test_a_superseded_record_cannot_be_superseded_again(again):
    vehicle = make_vehicle()
    fitting = make_fitting(vehicle=vehicle, position="distributor")
    correct_fitting(by=None, fitting=fitting, reason="slip", remark="by lamp light")
    rows = Fitting.objects.count()

    with (
        pytest.raises(ValidationError) as refused,
        deed("test.again", by=None) as entry,
    ):
        again(fitting, entry)

    assert codes_of(refused.value) == {"already_superseded"}
    assert Fitting.objects.count() == rows


def test_a_retraction_is_a_version_too_and_cannot_be_superseded():
    fitting = make_fitting(vehicle=make_vehicle(), position="distributor")
    retracted = retract_fitting(by=None, fitting=fitting, reason="never happened")

    with pytest.raises(ValidationError) as refused:
        correct_fitting(by=None, fitting=retracted, reason="it did", remark="x")

    assert codes_of(refused.value) == {"already_superseded"}
    assert retracted.change == Kind.RETRACTED
    assert not Fitting.objects.current().filter(position="distributor").exists()


@pytest.mark.parametrize(
    ("since", "first", "last"),
    [
        ("2019-05-03", dt.date(2019, 5, 3), dt.date(2019, 5, 3)),
        ("2019-05", dt.date(2019, 5, 1), dt.date(2019, 5, 31)),
        ("2019-Q2", dt.date(2019, 4, 1), dt.date(2019, 6, 30)),
        ("2019", dt.date(2019, 1, 1), dt.date(2019, 12, 31)),
        ("unknown", None, None),
    ],
)
def test_an_imprecise_date_is_kept_as_the_span_it_must_lie_in(since, first, last):
    vehicle = make_vehicle(since=Moment.parse(since))

    stored = VehicleVersion.objects.get(vehicle=vehicle)

    assert stored.since == Moment(first, last)
    assert stored.since.precision == Moment.parse(since).precision


def test_an_interval_of_unknown_beginning_holds_before_every_day():
    vehicle = make_vehicle(since=Moment.unknown())
    held = VehicleVersion.objects.filter(vehicle=vehicle)

    assert held.holding_on(dt.date(1900, 1, 1)).exists()
    assert held.holding_at(Moment.unknown()).exists()


def test_an_interval_holds_from_its_first_moment_to_just_before_its_last():
    fitting = make_fitting(
        vehicle=make_vehicle(), position="distributor", since=Moment.parse("2020-03-01")
    )
    take_off(by=None, fitting=fitting, at=Moment.parse("2020-03-04"), to=make_depot())
    held = Fitting.objects.current().on_vehicles()

    on = [day for day in range(1, 6) if held.holding_at(_march(day)).exists()]
    at_close = [d for d in range(1, 6) if held.holding_on(dt.date(2020, 3, d)).exists()]

    assert on == [1, 2, 3]
    assert at_close == [1, 2, 3]
    assert not held.holding_on(dt.date(2020, 2, 29)).exists()


def _march(day):
    return Moment.on(dt.date(2020, 3, day))


def test_times_of_one_day_are_kept_and_put_events_in_order():
    day = dt.date(2020, 3, 1)
    vehicle = make_vehicle()
    first = make_fitting(
        vehicle=vehicle, position="distributor", since=Moment.on(day, dt.time(9))
    )
    take_off(by=None, fitting=first, at=Moment.on(day, dt.time(11)), to=make_depot())
    second = make_fitting(
        vehicle=vehicle, position="distributor", since=Moment.on(day, dt.time(14, 30))
    )

    a, b = (Fitting.objects.current().get(position="distributor", equipment=e)
            for e in (first.equipment, second.equipment))  # fmt: skip

    assert order_of(a.since, b.since) is Order.BEFORE
    assert (a.until.at, b.since.at) == (dt.time(11), dt.time(14, 30))


@pytest.mark.parametrize(
    ("a", "b", "order"),
    [
        pytest.param((None, 1), (None, 2), Order.BEFORE, id="stated order"),
        pytest.param((None, 2), (None, 1), Order.AFTER, id="stated the other way"),
        pytest.param((None, None), (None, 1), Order.UNKNOWN, id="one states none"),
        pytest.param((dt.time(9), 2), (dt.time(10), 1), Order.BEFORE, id="time first"),
        pytest.param((dt.time(9), None), (None, None), Order.UNKNOWN, id="one time"),
    ],
)
def test_the_order_within_a_day_survives_storage(a, b, order):
    day = dt.date(2020, 3, 1)
    wanted = [Moment.on(day, *a), Moment.on(day, *b)]
    for position, since in zip(("distributor", "cylinder-1"), wanted, strict=True):
        make_fitting(vehicle=make_vehicle(), position=position, since=since)

    stored = [
        Fitting.objects.current().get(position=p).since
        for p in ("distributor", "cylinder-1")
    ]

    assert stored == wanted
    assert order_of(*stored) is order


def test_the_bulk_writer_reports_how_far_it_is_and_guards_hold():
    vehicle = make_vehicle()
    days = [dt.date(2020, 1, 1) + dt.timedelta(days=n) for n in range(5)]

    with deed("test.bulk", by=None) as entry:
        rows = (
            Usage(opened_by=entry, vehicle=vehicle, first=d, last=d, miles=10, days=1)
            for d in days
        )
        counts = list(write_many(rows, batch=2))

    assert counts == [2, 4, 5]
    assert Usage.objects.current().filter(vehicle=vehicle).count() == 5


def test_the_bulk_writer_does_not_slip_an_overlap_past_the_guard():
    fitting = make_fitting(vehicle=make_vehicle(), position="distributor")
    store, rows = make_depot(), Fitting.objects.count()

    def twin(entry):
        since = Moment.parse("2020")
        item = fitting.equipment
        return Fitting(opened_by=entry, equipment=item, store=store, since=since)

    with (
        pytest.raises(ValidationError) as refused,
        deed("test.bulk", by=None) as entry,
    ):
        list(write_many([twin(entry)]))

    assert codes_of(refused.value) == {"item_elsewhere"}
    assert Fitting.objects.count() == rows

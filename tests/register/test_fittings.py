"""Fitting, taking off and exchanging: one place for an item, one item for a place."""

import datetime as dt

import pytest
from django.core.exceptions import ValidationError
from django.db import IntegrityError, connection, transaction

from fleet.engineering.calendar import Moment
from fleet.records.refusing import codes_of
from fleet.register.models import EquipmentVersion, Fitting
from fleet.register.services.fittings import (
    correct_fitting,
    exchange,
    fit,
    retract_fitting,
    take_off,
)
from fleet.register.services.types import revise_type
from fleet.register.vocabulary import EquipmentKind, EquipmentState
from tests.register.factories import (
    air_places,
    make_depot,
    make_equipment,
    make_fitting,
    make_type,
    make_vehicle,
)

pytestmark = pytest.mark.django_db

at = Moment.parse


def life_of(item):
    """Where an item was, in order: place, from, until."""
    rows = Fitting.objects.current().filter(equipment=item).order_by("since_key", "pk")
    return [
        (row.position or "store", str(row.since), str(row.until or "")) for row in rows
    ]


def refused(deed, **wanted):
    """The codes and fields with which a deed is refused; nothing may be stored by it."""
    before = sorted(Fitting.objects.values_list("pk", "closed_by"))
    with pytest.raises(ValidationError) as refusal:
        deed(by=None, **wanted)
    assert sorted(Fitting.objects.values_list("pk", "closed_by")) == before
    return codes_of(refusal.value), set(refusal.value.error_dict)


@pytest.fixture
def vehicle():
    return make_vehicle(number="T 107")


@pytest.fixture
def item():
    return make_equipment(serial="D 20")


def test_fitting_an_item_takes_it_out_of_its_store(vehicle, item):
    fitting = fit(
        by=None,
        equipment=item,
        vehicle=vehicle,
        position="distributor",
        since=at("2020-03-01"),
    )

    assert fitting.is_current
    assert life_of(item) == [
        ("store", "1 Jan 2015", "1 Mar 2020"),
        ("distributor", "1 Mar 2020", ""),
    ]


def test_taking_off_puts_it_into_a_store_in_the_state_it_came_off_in(vehicle, item):
    fitting = make_fitting(
        vehicle=vehicle, position="distributor", equipment=item, since=at("2020-03-01")
    )

    take_off(
        by=None,
        fitting=fitting,
        at=at("2022-05-04"),
        to=make_depot("shed", "Tarn shed"),
        state=EquipmentState.UNSERVICEABLE,
        remark="slow to release",
    )

    assert life_of(item)[1:] == [
        ("distributor", "1 Mar 2020", "4 May 2022"),
        ("store", "4 May 2022", ""),
    ]
    last = Fitting.objects.current().open_ended().get(equipment=item)
    assert last.store.name == "Tarn shed"
    states = EquipmentVersion.objects.current().filter(equipment=item)
    assert states.holding_at(at("2022-05-03")).get().state == "serviceable"
    assert states.holding_at(at("2022-05-04")).get().state == "unserviceable"


def test_an_exchange_is_one_step_with_one_entry(vehicle, item):
    old = make_fitting(vehicle=vehicle, position="distributor", since=at("2019"))

    new = exchange(
        by=None,
        vehicle=vehicle,
        position="distributor",
        equipment=item,
        at=at("2021-07-08"),
        to=make_depot(),
        remark="exchange unit",
    )

    assert new.equipment == item
    assert life_of(old.equipment)[1:] == [
        ("distributor", "2019", "8 Jul 2021"),
        ("store", "8 Jul 2021", ""),
    ]
    assert Fitting.objects.get(pk=old.pk).closed_by == new.opened_by
    standing = (
        EquipmentVersion.objects.current().open_ended().get(equipment=old.equipment)
    )
    assert standing.state == EquipmentState.UNSERVICEABLE


def test_an_item_moves_between_vehicles_and_its_history_moves_with_it(vehicle, item):
    other, store = make_vehicle(), make_depot()
    first = make_fitting(
        vehicle=vehicle, position="distributor", equipment=item, since=at("2016-01-01")
    )
    take_off(by=None, fitting=first, at=at("2018-01-01"), to=store)
    make_fitting(
        vehicle=other, position="distributor", equipment=item, since=at("2019-01-01")
    )

    assert life_of(item) == [
        ("store", "1 Jan 2015", "1 Jan 2016"),
        ("distributor", "1 Jan 2016", "1 Jan 2018"),
        ("store", "1 Jan 2018", "1 Jan 2019"),
        ("distributor", "1 Jan 2019", ""),
    ]
    rows = Fitting.objects.current().on_vehicles().filter(equipment=item)
    assert [row.vehicle for row in rows.order_by("since_key")] == [vehicle, other]


def test_an_item_on_one_vehicle_cannot_be_fitted_to_another(vehicle, item):
    make_fitting(
        vehicle=vehicle, position="distributor", equipment=item, since=at("2020-03-01")
    )
    other = make_vehicle()

    with pytest.raises(ValidationError, match=r"T 107 at distributor from 1 Mar 2020"):
        fit(
            by=None,
            equipment=item,
            vehicle=other,
            position="distributor",
            since=at("2021-01-01"),
        )


@pytest.mark.parametrize(
    ("since", "until"),
    [
        pytest.param("2016-06", "2017-06", id="into the beginning"),
        pytest.param("2017-06", "2017-09", id="within"),
        pytest.param("2018-06", "2019-06", id="over the end"),
        pytest.param("2016", "2020", id="around it"),
    ],
)
def test_two_past_fittings_of_an_item_may_not_overlap(vehicle, item, since, until):
    make_fitting(
        vehicle=vehicle,
        position="distributor",
        equipment=item,
        since=at("2017-01-01"),
        until=at("2019-01-01"),
    )

    codes = refused(
        fit,
        equipment=item,
        vehicle=make_vehicle(),
        position="distributor",
        since=at(since),
        until=at(until),
    )

    assert codes == ({"item_elsewhere"}, {"equipment"})


def test_two_past_fittings_at_a_position_may_not_overlap(vehicle, item):
    make_fitting(
        vehicle=vehicle,
        position="distributor",
        since=at("2017-01-01"),
        until=at("2019-01-01"),
    )

    codes = refused(
        fit,
        equipment=item,
        vehicle=vehicle,
        position="distributor",
        since=at("2018-12-31"),
        until=at("2020-01-01"),
    )

    assert codes == ({"position_taken"}, {"position"})


def test_a_position_is_free_from_the_moment_the_old_item_came_off(vehicle, item):
    make_fitting(
        vehicle=vehicle,
        position="distributor",
        since=at("2017-01-01"),
        until=at("2019-01-01"),
    )

    fitting = fit(
        by=None,
        equipment=item,
        vehicle=vehicle,
        position="distributor",
        since=at("2019-01-01"),
    )

    assert fitting.is_current


@pytest.mark.parametrize("same", ["equipment", "position"])
def test_the_database_refuses_an_overlap_that_no_service_checked(vehicle, same):
    past = make_fitting(
        vehicle=vehicle,
        position="distributor",
        since=at("2017-01-01"),
        until=at("2019-01-01"),
    )
    twin = Fitting(
        opened_by=past.opened_by,
        equipment=past.equipment if same == "equipment" else make_equipment(store=None),
        vehicle=make_vehicle() if same == "equipment" else vehicle,
        position="distributor",
        since=at("2018-01-01"),
        until=at("2018-02-01"),
    )

    with pytest.raises(IntegrityError), transaction.atomic():
        twin.save()

    assert connection.in_atomic_block
    assert not Fitting.objects.filter(since_key=twin.since_key).exists()


def test_a_fitting_recorded_late_leaves_the_item_in_its_store_before_and_after(
    vehicle, item
):
    fit(
        by=None,
        equipment=item,
        vehicle=vehicle,
        position="distributor",
        since=at("2017-03-01"),
        until=at("2018-04-01"),
    )

    assert life_of(item) == [
        ("store", "1 Jan 2015", "1 Mar 2017"),
        ("distributor", "1 Mar 2017", "1 Apr 2018"),
        ("store", "1 Apr 2018", ""),
    ]


def test_an_item_cannot_be_fitted_before_it_came_to_the_store_it_is_in(vehicle):
    item = make_equipment(since=at("2020-01-01"))

    codes = refused(
        fit,
        equipment=item,
        vehicle=vehicle,
        position="distributor",
        since=at("2019-01-01"),
    )

    assert codes == ({"item_elsewhere"}, {"equipment"})


def test_it_cannot_come_off_before_it_was_fitted(vehicle):
    fitting = make_fitting(
        vehicle=vehicle, position="distributor", since=at("2020-03-01")
    )

    codes = refused(take_off, fitting=fitting, at=at("2020-02-29"), to=make_depot())

    assert codes == ({"removed_before_fitted"}, {"at"})


def test_a_past_fitting_cannot_end_before_it_begins(vehicle, item):
    codes = refused(
        fit,
        equipment=item,
        vehicle=vehicle,
        position="distributor",
        since=at("2020-03-01"),
        until=at("2020-02-01"),
    )

    assert codes == ({"removed_before_fitted"}, {"until"})


def test_it_cannot_come_off_twice(vehicle):
    fitting = make_fitting(vehicle=vehicle, position="distributor")
    ended = take_off(by=None, fitting=fitting, at=at("2020-02-01"), to=make_depot())

    assert refused(take_off, fitting=ended, at=at("2021-01-01"), to=make_depot()) == (
        {"already_taken_off"},
        {"at"},
    )
    with pytest.raises(ValidationError) as refusal:
        take_off(by=None, fitting=fitting, at=at("2021-01-01"), to=make_depot())
    assert codes_of(refusal.value) == {"already_superseded"}


@pytest.mark.parametrize("deed", ["fit", "take off"])
def test_what_is_dated_in_the_future_is_refused(vehicle, item, deed):
    later = at("2190-01-01")
    if deed == "fit":
        codes = refused(
            fit, equipment=item, vehicle=vehicle, position="distributor", since=later
        )
        assert codes == ({"in_the_future"}, {"since"})
    else:
        fitting = make_fitting(vehicle=vehicle, position="distributor")
        codes = refused(take_off, fitting=fitting, at=later, to=make_depot())
        assert codes == ({"in_the_future"}, {"at"})


def test_when_it_came_off_must_be_known_at_least_to_the_year(vehicle):
    fitting = make_fitting(vehicle=vehicle, position="distributor")

    assert refused(take_off, fitting=fitting, at=Moment.unknown(), to=make_depot()) == (
        {"unknown_date"},
        {"at"},
    )


def test_an_item_may_have_been_fitted_nobody_knows_when(vehicle):
    item = make_equipment(made=Moment.unknown(), since=Moment.unknown())

    fitting = fit(
        by=None,
        equipment=item,
        vehicle=vehicle,
        position="distributor",
        since=Moment.unknown(),
    )

    assert not fitting.since.known
    assert Fitting.objects.current().on_vehicles().holding_at(at("1990")).exists()


def test_an_item_cannot_be_fitted_before_it_was_made(vehicle):
    item = make_equipment(made=at("2018"), since=at("2018"))

    assert refused(
        fit,
        equipment=item,
        vehicle=vehicle,
        position="distributor",
        since=at("2017-12-31"),
    ) == ({"before_made"}, {"since"})


def test_a_position_the_type_has_not_is_refused_with_those_that_are_free(vehicle, item):
    make_fitting(vehicle=vehicle, position="distributor")

    with pytest.raises(ValidationError, match=r"Free are: .*cylinder-1") as refusal:
        fit(
            by=None,
            equipment=item,
            vehicle=vehicle,
            position="distributor-2",
            since=at("2020"),
        )

    assert codes_of(refusal.value) == {"no_such_position"}
    assert "distributor," not in str(refusal.value)


def test_positions_are_those_of_the_revision_in_force_on_the_day(vehicle):
    type_ = make_type()
    fewer = [p for p in air_places() if p["code"] != "slack-adjuster"]
    revise_type(
        by=None,
        type=type_,
        name="Open coach, disc braked",
        effective_from=dt.date(2020, 1, 1),
        positions=fewer,
    )
    wanted = {"vehicle": vehicle, "position": "slack-adjuster"}

    make_fitting(**wanted, since=at("2018-01-01"), until=at("2019-12-01"))
    item = make_equipment(EquipmentKind.SLACK_ADJUSTER)

    assert refused(fit, equipment=item, since=at("2020-01-01"), **wanted) == (
        {"no_such_position"},
        {"position"},
    )


def test_before_the_vehicle_came_nothing_can_be_fitted_to_it(item):
    vehicle = make_vehicle(since=at("2020-01-01"))

    assert refused(
        fit,
        equipment=item,
        vehicle=vehicle,
        position="distributor",
        since=at("2019-01-01"),
    ) == ({"vehicle_not_recorded_then"}, {"since"})


def test_an_item_of_another_kind_is_refused_unless_it_is_really_there(vehicle):
    hose = make_equipment(EquipmentKind.BP_HOSE)
    wanted = {
        "equipment": hose,
        "vehicle": vehicle,
        "position": "distributor",
        "since": at("2020-01-01"),
    }

    assert refused(fit, **wanted) == ({"wrong_kind"}, {"equipment"})
    assert fit(by=None, allow_wrong_kind=True, **wanted).is_current


def test_an_exchange_needs_something_to_take_off_and_something_else_to_fit(
    vehicle, item
):
    wanted = {
        "vehicle": vehicle,
        "position": "distributor",
        "at": at("2021-01-01"),
        "to": make_depot(),
    }
    assert refused(exchange, equipment=item, **wanted) == (
        {"nothing_fitted"},
        {"position"},
    )
    held = make_fitting(vehicle=vehicle, position="distributor")
    assert refused(exchange, equipment=held.equipment, **wanted) == (
        {"same_item"},
        {"equipment"},
    )


def test_a_failed_exchange_leaves_the_old_item_fitted(vehicle, item):
    held = make_fitting(vehicle=vehicle, position="distributor")
    make_fitting(vehicle=make_vehicle(), position="distributor", equipment=item)

    codes = refused(
        exchange,
        vehicle=vehicle,
        position="distributor",
        equipment=item,
        at=at("2021-01-01"),
        to=make_depot(),
    )

    assert codes == ({"item_elsewhere"}, {"equipment"})
    assert Fitting.objects.current().get(pk=held.pk).until is None


@pytest.mark.parametrize(
    ("since", "stored_until"),
    [("2020-02-01", "1 Feb 2020"), ("2020-04-01", "1 Apr 2020")],
)
def test_correcting_when_it_was_fitted_moves_the_end_of_its_time_in_store(
    vehicle, item, since, stored_until
):
    fitting = make_fitting(
        vehicle=vehicle, position="distributor", equipment=item, since=at("2020-03-01")
    )

    correct_fitting(by=None, fitting=fitting, reason="job card", since=at(since))

    assert life_of(item) == [
        ("store", "1 Jan 2015", stored_until),
        ("distributor", stored_until, ""),
    ]


@pytest.mark.parametrize(
    ("until", "stored_from"),
    [("2021-01-01", "1 Jan 2021"), ("2023-01-01", "1 Jan 2023")],
)
def test_correcting_when_it_came_off_moves_the_beginning_of_its_time_in_store(
    vehicle, item, until, stored_from
):
    fitting = make_fitting(
        vehicle=vehicle, position="distributor", equipment=item, since=at("2020-03-01")
    )
    ended = take_off(by=None, fitting=fitting, at=at("2022-01-01"), to=make_depot())

    correct_fitting(by=None, fitting=ended, reason="job card", until=at(until))

    assert life_of(item)[1:] == [
        ("distributor", "1 Mar 2020", stored_from),
        ("store", stored_from, ""),
    ]


def test_a_correction_that_would_overlap_is_refused(vehicle):
    make_fitting(
        vehicle=vehicle,
        position="distributor",
        since=at("2017-01-01"),
        until=at("2019-01-01"),
    )
    later = make_fitting(
        vehicle=vehicle, position="distributor", since=at("2020-01-01")
    )

    codes = refused(
        correct_fitting, fitting=later, reason="job card", since=at("2018-01-01")
    )

    assert codes == ({"position_taken"}, {"position"})


@pytest.mark.parametrize(
    ("ended", "until", "code"),
    [
        pytest.param(False, at("2021"), "still_fitted", id="ending by correction"),
        pytest.param(True, None, "unknown_date", id="correcting the end away"),
    ],
)
def test_whether_it_came_off_is_not_a_matter_of_correction(vehicle, ended, until, code):
    fitting = make_fitting(vehicle=vehicle, position="distributor")
    if ended:
        fitting = take_off(
            by=None, fitting=fitting, at=at("2020-02-01"), to=make_depot()
        )

    codes = refused(correct_fitting, fitting=fitting, reason="slip", until=until)

    assert codes == ({code}, {"until"})


def test_a_retracted_fitting_leaves_the_item_in_its_store_all_the_time(vehicle, item):
    fitting = make_fitting(
        vehicle=vehicle, position="distributor", equipment=item, since=at("2020-03-01")
    )

    retract_fitting(by=None, fitting=fitting, reason="wrong serial read")

    assert life_of(item) == [("store", "1 Jan 2015", "")]
    assert not Fitting.objects.current().filter(vehicle=vehicle).exists()


def test_retracting_a_past_fitting_closes_the_gap_between_its_times_in_store(
    vehicle, item
):
    fitting = fit(
        by=None,
        equipment=item,
        vehicle=vehicle,
        position="distributor",
        since=at("2017-03-01"),
        until=at("2018-04-01"),
    )

    retract_fitting(by=None, fitting=fitting, reason="wrong serial read")

    assert life_of(item) == [
        ("store", "1 Jan 2015", "1 Apr 2018"),
        ("store", "1 Apr 2018", ""),
    ]

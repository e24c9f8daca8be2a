"""Particulars are facts too: split at a date, corrected with a reason, never rewritten."""

import datetime as dt
from decimal import Decimal

import pytest
from django.core.exceptions import ValidationError

from fleet.engineering.calendar import Moment
from fleet.records.models import Entry
from fleet.records.refusing import codes_of
from fleet.register.models import (
    DistributorParticulars,
    EquipmentVersion,
    Fitting,
    HoseParticulars,
    StoragePeriod,
    TypeRevision,
    Usage,
    VehicleVersion,
)
from fleet.register.positions import free_positions, revision_at
from fleet.register.services.equipment import alter_equipment, correct_equipment
from fleet.register.services.types import define_type, revise_type
from fleet.register.services.usage import (
    log_usage,
    read_meter,
    return_vehicle,
    store_vehicle,
)
from fleet.register.services.vehicles import alter_vehicle, correct_vehicle
from fleet.register.vocabulary import EquipmentKind, Fitment, MainReservoirPipe
from tests.register.factories import (
    air_places,
    make_equipment,
    make_fitting,
    make_type,
    make_vehicle,
    vacuum_places,
)

pytestmark = pytest.mark.django_db

at = Moment.parse


def refused(deed, **wanted):
    """The codes and fields with which a deed is refused; no entry may come of it."""
    before = Entry.objects.count()
    with pytest.raises(ValidationError) as refusal:
        deed(**{"by": None} | wanted)
    assert Entry.objects.count() == before
    return codes_of(refusal.value), set(refusal.value.error_dict)


def held_at(vehicle, when):
    """The particulars of a vehicle at a moment, as held true now."""
    held = VehicleVersion.objects.current().filter(vehicle=vehicle)
    return held.holding_at(at(when)).get()


def test_a_conversion_never_rewrites_the_past():
    vehicle = make_vehicle(
        since=at("2015-01-01"), air=Fitment.BRAKED, vacuum=Fitment.BRAKED
    )
    known = Entry.objects.order_by("-number").first().number

    alter_vehicle(
        by=None,
        vehicle=vehicle,
        since=at("2020-05-01"),
        air=Fitment.NONE,
        main_reservoir_pipe=MainReservoirPipe.NONE,
    )

    assert held_at(vehicle, "2020-04-30").air == Fitment.BRAKED
    assert held_at(vehicle, "2020-05-01").air == Fitment.NONE
    assert held_at(vehicle, "2020-05-01").vacuum == Fitment.BRAKED
    then = VehicleVersion.objects.known_at(known).get(vehicle=vehicle)
    assert (then.air, then.until) == (Fitment.BRAKED, None)


def test_a_change_before_the_newest_particulars_is_refused():
    vehicle = make_vehicle(since=at("2015-01-01"))
    alter_vehicle(by=None, vehicle=vehicle, since=at("2020-05-01"), tare_t=33)

    assert refused(
        alter_vehicle, vehicle=vehicle, since=at("2019-01-01"), tare_t=34
    ) == ({"later_particulars"}, {"since"})


def test_two_changes_on_one_day_both_hold_afterwards():
    vehicle = make_vehicle()
    alter_vehicle(by=None, vehicle=vehicle, since=at("2020-05-01"), tare_t=33)
    alter_vehicle(by=None, vehicle=vehicle, since=at("2020-05-01"), empty_load=True)

    held = held_at(vehicle, "2020-05-01")
    assert (held.tare_t, held.empty_load) == (33, True)


@pytest.mark.parametrize(
    ("since", "code"), [("2190", "in_the_future"), ("unknown", "unknown_date")]
)
def test_a_change_needs_a_date_that_has_been(since, code):
    assert refused(
        alter_vehicle, vehicle=make_vehicle(), since=at(since), tare_t=33
    ) == ({code}, {"since"})


@pytest.mark.parametrize("number", ["T 300", "t 300", "  T   300 "])
def test_a_running_number_in_use_is_refused_however_it_is_typed(number):
    make_vehicle(number="T 300")

    assert refused(make_vehicle, number=number) == ({"number_taken"}, {"number"})


def test_a_number_given_up_may_be_borne_by_another_vehicle_afterwards():
    old = make_vehicle(number="T 300", since=at("2015-01-01"))
    alter_vehicle(by=None, vehicle=old, since=at("2020-01-01"), number="T 301")

    new = make_vehicle(number="T 300", since=at("2020-01-01"))

    assert held_at(new, "2021").number == held_at(old, "2019").number == "T 300"
    assert refused(make_vehicle, number="T 300", since=at("2016-01-01"))[0] == {
        "number_taken"
    }


def test_a_correction_of_particulars_needs_a_reason_and_keeps_both():
    vehicle = make_vehicle(tare_t=Decimal("33.5"))
    version = VehicleVersion.objects.get(vehicle=vehicle)
    assert refused(correct_vehicle, version=version, reason="", tare_t=34) == (
        {"no_reason"},
        {"reason"},
    )

    correct_vehicle(by=None, version=version, reason="weighed", tare_t=Decimal("34.2"))

    tares = VehicleVersion.objects.filter(vehicle=vehicle).order_by("pk")
    assert list(tares.values_list("tare_t", "reason")) == [
        (Decimal("33.50"), ""),
        (Decimal("34.20"), "weighed"),
    ]


@pytest.mark.parametrize("since", ["2019-05-01", "2021-05-01"])
def test_correcting_when_particulars_began_moves_the_end_of_those_before(since):
    vehicle = make_vehicle(since=at("2015-01-01"))
    changed = alter_vehicle(by=None, vehicle=vehicle, since=at("2020-05-01"), tare_t=33)

    correct_vehicle(by=None, version=changed, reason="works log", since=at(since))

    held = VehicleVersion.objects.current().filter(vehicle=vehicle)
    assert sorted((str(v.since), str(v.until)) for v in held) == [
        ("1 Jan 2015", str(at(since))),
        (str(at(since)), "None"),
    ]


def test_particulars_cannot_be_corrected_to_begin_before_those_before_them():
    vehicle = make_vehicle(since=at("2015-01-01"))
    changed = alter_vehicle(by=None, vehicle=vehicle, since=at("2020-05-01"), tare_t=33)

    assert refused(
        correct_vehicle, version=changed, reason="works log", since=at("2014-01-01")
    ) == ({"particulars_overlap"}, {"since"})


def test_a_main_reservoir_pipe_without_air_pipes_cannot_be():
    assert refused(
        make_vehicle,
        type=make_type(),
        air=Fitment.NONE,
        main_reservoir_pipe=MainReservoirPipe.THROUGH,
    ) == ({"pipe_without_air"}, {"main_reservoir_pipe"})


@pytest.mark.parametrize(
    ("field", "value"), [("air", "steam"), ("tare_t", 0), ("number", "")]
)
def test_what_a_field_cannot_hold_is_refused_at_that_field(field, value):
    type_ = make_type()

    _codes, fields = refused(make_vehicle, type=type_, **{field: value})

    assert fields == {field}


def test_a_serial_number_is_borne_once_within_a_kind():
    make_equipment(EquipmentKind.DISTRIBUTOR, serial="A 7")
    make_equipment(EquipmentKind.BP_HOSE, serial="A 7")

    assert refused(make_equipment, kind=EquipmentKind.DISTRIBUTOR, serial="a 7") == (
        {"serial_taken"},
        {"serial"},
    )


def test_a_hose_carries_particulars_of_its_own_and_an_imprecise_make_date():
    hose = make_equipment(
        EquipmentKind.BP_HOSE,
        made=at("2015-Q3"),
        since=None,
        particulars={"length_mm": 620, "coupling": "straight", "batch": "B12"},
    )

    version = EquipmentVersion.objects.get(equipment=hose)
    assert (version.made_earliest, version.made_latest) == (
        dt.date(2015, 7, 1),
        dt.date(2015, 9, 30),
    )
    assert version.since == at("2015-Q3")
    assert HoseParticulars.objects.get(equipment=hose).batch == "B12"


def test_a_kind_without_particulars_of_its_own_refuses_them():
    assert refused(
        make_equipment, kind=EquipmentKind.DRIP_TRAP, particulars={"batch": "B12"}
    ) == ({"no_particulars"}, {"kind"})


def test_an_item_cannot_be_here_before_it_was_made():
    assert refused(make_equipment, made=at("2018"), since=at("2017")) == (
        {"before_made"},
        {"since"},
    )


def test_an_item_made_in_the_future_is_refused():
    assert refused(make_equipment, made=at("2190"), since=None)[0] == {"in_the_future"}


def test_a_rating_changes_from_a_date_on_and_its_own_particulars_with_it():
    item = make_equipment(
        EquipmentKind.DISTRIBUTOR, particulars={"max_cylinder_bar": Decimal("3.8")}
    )

    alter_equipment(
        by=None,
        equipment=item,
        since=at("2020-01-01"),
        state="quarantined",
        particulars={"max_cylinder_bar": Decimal("3.6")},
    )

    states = EquipmentVersion.objects.current().filter(equipment=item)
    ratings = DistributorParticulars.objects.current().filter(equipment=item)
    assert states.holding_at(at("2019-12-31")).get().state == "serviceable"
    assert ratings.holding_at(at("2019-12-31")).get().max_cylinder_bar == Decimal("3.8")
    assert states.holding_at(at("2020-01-01")).get().state == "quarantined"
    assert ratings.holding_at(at("2020-01-01")).get().max_cylinder_bar == Decimal("3.6")


def test_a_make_date_read_wrongly_is_corrected_with_its_particulars():
    hose = make_equipment(EquipmentKind.BP_HOSE, made=at("2015"), since=at("2016"))
    version = EquipmentVersion.objects.get(equipment=hose)

    correct_equipment(
        by=None,
        version=version,
        reason="plate cleaned",
        made=at("2012-Q4"),
        particulars={"batch": "B9"},
    )

    held = EquipmentVersion.objects.current().get(equipment=hose)
    assert (held.made_latest, held.reason) == (dt.date(2012, 12, 31), "plate cleaned")
    assert HoseParticulars.objects.current().get(equipment=hose).batch == "B9"


def test_a_type_is_defined_once_and_each_position_has_a_code_of_its_own():
    make_type("van")
    wanted = {"name": "Van", "effective_from": dt.date(1970, 1, 1)}

    assert refused(define_type, code="van", positions=[], **wanted)[0] == {
        "type_exists"
    }
    twice = [air_places()[0], air_places()[0]]
    assert refused(define_type, code="wagon", positions=twice, **wanted)[0] == {
        "position_twice"
    }


def test_a_type_keeps_its_earlier_positions_for_earlier_days():
    type_ = make_type("coach")
    vehicle = make_vehicle(type=type_)
    revise_type(
        by=None,
        type=type_,
        name="Coach, vacuum only",
        effective_from=dt.date(2020, 1, 1),
        positions=vacuum_places(),
        reason="air removed",
    )

    before, after = at("2019-12-31"), at("2020-01-01")

    assert revision_at(vehicle, before).number == 1
    assert revision_at(vehicle, after).number == 2
    assert {p.code for p in free_positions(vehicle, after)} == {
        p["code"] for p in vacuum_places()
    }
    assert TypeRevision.objects.current().filter(type=type_).count() == 2


def test_a_revision_takes_effect_after_the_one_before():
    type_ = make_type("coach")

    assert refused(
        revise_type,
        type=type_,
        name="Coach",
        effective_from=dt.date(1970, 1, 1),
        positions=[],
    ) == ({"revision_not_later"}, {"effective_from"})


def test_a_filled_position_is_not_free():
    vehicle = make_vehicle()
    make_fitting(vehicle=vehicle, position="distributor", since=at("2016-01-01"))

    assert "distributor" in {p.code for p in free_positions(vehicle, at("2015-06-01"))}
    assert "distributor" not in {p.code for p in free_positions(vehicle, at("2017"))}


def log(vehicle, first, last, miles=100, days=2, by=None):
    return log_usage(
        by=by,
        vehicle=vehicle,
        first=dt.date.fromisoformat(first),
        last=dt.date.fromisoformat(last),
        miles=miles,
        days=days,
    )


@pytest.mark.parametrize(
    ("first", "last", "days", "code", "field"),
    [
        ("2020-02-01", "2020-01-01", 1, "ends_before_it_begins", "last"),
        ("2020-01-01", "2020-01-03", 4, "too_many_days", "days"),
        ("2020-01-01", "2190-01-03", 4, "in_the_future", "last"),
        ("2019-12-25", "2020-03-02", 4, "usage_overlap", "first"),
    ],
)
def test_usage_that_cannot_be_is_refused(first, last, days, code, field):
    vehicle = make_vehicle()
    log(vehicle, "2020-03-01", "2020-03-31")

    assert refused(log, vehicle=vehicle, first=first, last=last, days=days) == (
        {code},
        {field},
    )


def test_negative_miles_are_refused():
    assert refused(
        log, vehicle=make_vehicle(), first="2020-01-01", last="2020-01-02", miles=-1
    )[1] == {"miles"}


def test_a_meter_reading_counts_the_miles_since_the_one_before():
    vehicle = make_vehicle()
    readings = (("2020-01-31", 5_000, 9), ("2020-03-31", 5_120, 12))

    for day, meter, days in readings:
        read_meter(
            by=None,
            vehicle=vehicle,
            on=dt.date.fromisoformat(day),
            meter_miles=Decimal(meter),
            days=days,
        )

    rows = Usage.objects.filter(vehicle=vehicle).values_list(
        "first", "last", "miles", "days"
    )
    assert list(rows) == [
        (dt.date(2020, 1, 31), dt.date(2020, 1, 31), 0, 0),
        (dt.date(2020, 2, 1), dt.date(2020, 3, 31), 120, 12),
    ]


@pytest.mark.parametrize(
    ("day", "meter", "code"),
    [
        ("2020-02-28", 4_999, "meter_went_back"),
        ("2020-01-31", 5_100, "reading_not_later"),
    ],
)
def test_a_meter_reading_that_cannot_follow_the_one_before_is_refused(day, meter, code):
    vehicle = make_vehicle()
    first = {"vehicle": vehicle, "days": 1}
    read_meter(by=None, on=dt.date(2020, 1, 31), meter_miles=Decimal(5_000), **first)

    codes, _ = refused(
        read_meter, on=dt.date.fromisoformat(day), meter_miles=Decimal(meter), **first
    )

    assert codes == {code}


def test_a_vehicle_is_stored_and_returns_with_its_status():
    vehicle = make_vehicle()

    store_vehicle(
        by=None,
        vehicle=vehicle,
        since=at("2019-11-01"),
        place="Tarn siding",
        preserved="drained",
    )
    return_vehicle(by=None, vehicle=vehicle, at=at("2020-03-01"))

    period = StoragePeriod.objects.current().get(vehicle=vehicle)
    assert (str(period.since), str(period.until)) == ("1 Nov 2019", "1 Mar 2020")
    assert [
        held_at(vehicle, when).status
        for when in ("2019-10-31", "2019-11-01", "2020-02-29", "2020-03-01")
    ] == ["in_traffic", "stored", "stored", "in_traffic"]


def test_storage_does_not_overlap_nor_end_before_it_begins():
    vehicle = make_vehicle()
    assert refused(return_vehicle, vehicle=vehicle, at=at("2020"))[0] == {"not_stored"}
    store_vehicle(by=None, vehicle=vehicle, since=at("2019-11-01"))

    assert refused(store_vehicle, vehicle=vehicle, since=at("2020-01-01"))[0] == {
        "storage_overlap"
    }
    assert refused(return_vehicle, vehicle=vehicle, at=at("2019-01-01")) == (
        {"ends_before_it_begins"},
        {"at"},
    )


def test_nothing_is_fitted_by_adding_an_item_without_a_store():
    item = make_equipment(store=None)

    assert not Fitting.objects.filter(equipment=item).exists()

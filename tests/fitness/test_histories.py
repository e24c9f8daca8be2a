"""Whatever is recorded in whatever order: what is stored is what the facts say."""

import datetime as dt
from decimal import Decimal

import pytest
from django.core.exceptions import ValidationError
from django.db import transaction
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from fleet.defects import services as defects
from fleet.engineering.calendar import Moment
from fleet.fitness.status import board_rows, current_verdict
from fleet.fitness.verifying import differences
from fleet.records.clock import now
from fleet.records.deeds import number_at
from fleet.register.models import Fitting
from fleet.register.services.fittings import exchange, retract_fitting, take_off
from fleet.register.services.usage import log_usage, return_vehicle, store_vehicle
from fleet.register.vocabulary import Effect, EquipmentKind, Scope, System
from tests.defects.factories import person
from tests.examination.factories import make_test
from tests.fitness.histories import failing_test, make_policy
from tests.register.factories import (
    make_depot,
    make_equipment,
    make_fitting,
    make_type,
    make_vehicle,
    place,
)

pytestmark = pytest.mark.django_db

SMALL = [
    place("distributor", "Distributor", EquipmentKind.DISTRIBUTOR, Scope.AIR_BRAKE),
    place(
        "bp-hose-1",
        "Brake pipe hose, No. 1 end",
        EquipmentKind.BP_HOSE,
        Scope.BRAKE_PIPE,
        effect_missing=Effect.STOP,
    ),
]
DAYS = st.dates(dt.date(2016, 1, 1), dt.date(2026, 6, 30))
POSITIONS = st.sampled_from(["distributor", "bp-hose-1"])
CAR = st.integers(0, 1)  # which of two vehicles

DEEDS = st.one_of(
    st.tuples(st.just("fit"), CAR, POSITIONS, DAYS),
    st.tuples(st.just("move"), CAR, POSITIONS, DAYS),
    st.tuples(st.just("exchange"), CAR, POSITIONS, DAYS),
    st.tuples(st.just("retract"), CAR, POSITIONS, DAYS),
    st.tuples(st.just("test"), CAR, st.booleans(), DAYS),
    st.tuples(st.just("defect"), CAR, st.sampled_from(Effect), DAYS),
    st.tuples(st.just("usage"), CAR, st.integers(0, 300), DAYS),
    st.tuples(st.just("store"), CAR, st.booleans(), DAYS),
)


class Yard:
    """Two vehicles, and the deeds that may befall them."""

    def __init__(self):
        make_policy(miles=5000)
        type_ = make_type("bench-air", positions=SMALL)
        self.vehicles = [make_vehicle(type=type_) for _ in range(2)]
        for position in ("distributor", "bp-hose-1"):
            make_fitting(vehicle=self.vehicles[0], position=position)

    def do(self, deed, car, detail, day):
        """Do one deed; what the register refuses is not done."""
        try:
            with transaction.atomic():
                getattr(self, deed)(self.vehicles[car], detail, Moment.on(day))
        except ValidationError:
            pass

    def fit(self, vehicle, position, on):
        """Fit a new item."""
        make_fitting(vehicle=vehicle, position=position, since=on)

    def move(self, vehicle, position, on):
        """Take an item off one vehicle and fit it to the other."""
        fitting = self._held(vehicle, position)
        if fitting is None:
            return
        take_off(by=None, fitting=fitting, at=on, to=make_depot())
        other = self.vehicles[vehicle == self.vehicles[0]]
        item = fitting.equipment
        make_fitting(vehicle=other, position=position, equipment=item, since=on)

    def exchange(self, vehicle, position, on):
        """Put another item in its place."""
        exchange(
            by=None,
            vehicle=vehicle,
            position=position,
            equipment=make_equipment(
                EquipmentKind.DISTRIBUTOR
                if position == "distributor"
                else EquipmentKind.BP_HOSE
            ),
            at=on,
            to=make_depot(),
        )

    def retract(self, vehicle, position, _on):
        """Say that a fitting never was."""
        fitting = self._held(vehicle, position)
        if fitting is not None:
            retract_fitting(by=None, fitting=fitting, reason="Another vehicle")

    def test(self, vehicle, passed, on):
        """Test the air brake."""
        if passed:
            make_test(vehicle=vehicle, on=on)
        else:
            failing_test(vehicle, on.earliest.isoformat())

    def defect(self, vehicle, effect, on):
        """Raise a defect of the shared gear."""
        defects.raise_defect(
            by=None,
            person=person(),
            title="Hanger worn",
            on=on,
            vehicle=vehicle,
            scope=Scope.SHARED_GEAR,
            effect=effect,
            condition="Hand brake not to be relied on.",
        )

    def usage(self, vehicle, miles, on):
        """Log a month."""
        first = on.earliest
        log_usage(
            by=None,
            vehicle=vehicle,
            first=first,
            last=first + dt.timedelta(days=29),
            miles=Decimal(miles),
            days=min(miles, 20),
        )

    def store(self, vehicle, out, on):
        """Store a vehicle or bring it back."""
        if out:
            store_vehicle(by=None, vehicle=vehicle, since=on)
        else:
            return_vehicle(by=None, vehicle=vehicle, at=on)

    def _held(self, vehicle, position):
        held = Fitting.objects.current().filter(vehicle=vehicle, position=position)
        return held.order_by("since_key").last()


@settings(
    max_examples=12,
    suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow],
)
@given(st.lists(DEEDS, min_size=3, max_size=12), DAYS)
def test_what_is_stored_is_what_the_facts_say(deeds, day):
    with transaction.atomic():
        yard = Yard()
        for deed in deeds:
            yard.do(*deed)

        assert list(differences()) == []
        for row in board_rows(day):
            span = current_verdict(row.vehicle).span_on(System.AIR, day)
            assert row.systems[System.AIR].level == span.level
            assert row.systems[System.AIR].span.headline == span.headline
        transaction.set_rollback(True)


@settings(
    max_examples=10,
    suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow],
)
@given(
    st.lists(DEEDS, min_size=2, max_size=8),
    st.lists(DEEDS, min_size=1, max_size=6),
    DAYS,
)
def test_what_was_known_and_shown_then_never_follows_from_what_came_later(
    before, after, day
):
    with transaction.atomic():
        yard = Yard()
        for deed in before:
            yard.do(*deed)
        known = number_at(now())
        then = [current_verdict(vehicle.pk) for vehicle in yard.vehicles]
        shown = board_rows(day)
        for deed in after:
            yard.do(*deed)

        for vehicle, verdict in zip(yard.vehicles, then, strict=True):
            assert current_verdict(vehicle.pk, known_at=known) == verdict
        assert board_rows(day, known_at=known) == shown
        assert board_rows(day, known_at=known, again=True) == shown
        transaction.set_rollback(True)

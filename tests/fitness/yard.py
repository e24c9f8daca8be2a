"""Two vehicles and whatever may befall them: deeds for histories made at random."""

import datetime as dt
from collections import Counter
from decimal import Decimal

from django.core.exceptions import ValidationError
from django.db import transaction
from hypothesis import strategies as st

from fleet.defects import services as defects
from fleet.defects.models import IsolationVersion
from fleet.engineering.calendar import Moment
from fleet.records.clock import today
from fleet.register.models import Fitting
from fleet.register.services.fittings import exchange, retract_fitting, take_off
from fleet.register.services.usage import log_usage, return_vehicle, store_vehicle
from fleet.register.services.vehicles import alter_vehicle
from fleet.register.vocabulary import (
    Effect,
    EquipmentKind,
    Scope,
    System,
    VehicleStatus,
)
from fleet.upkeep.models import FleetNotice, Requirement
from fleet.upkeep.notices import close_notice, issue_notice, sign_item_off
from fleet.upkeep.services import revise_requirement
from fleet.upkeep.visits import Seen, accept_visit
from tests.defects.factories import answers, person
from tests.examination.factories import (
    make_calibration,
    make_instrument,
    make_test,
)
from tests.fitness.histories import failing_test, make_policy
from tests.register.factories import (
    make_depot,
    make_equipment,
    make_fitting,
    make_type,
    make_vehicle,
    place,
)

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
LOOKED = st.dates(dt.date(2016, 1, 1), dt.date(2028, 12, 31))  # days that are asked
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
    st.tuples(st.just("calibrate"), CAR, st.booleans(), DAYS),
    st.tuples(st.just("revise"), CAR, st.sampled_from([6, 12, 24]), DAYS),
    st.tuples(st.just("isolate"), CAR, st.booleans(), DAYS),
    st.tuples(st.just("restore"), CAR, st.booleans(), DAYS),
    st.tuples(st.just("visit"), CAR, st.integers(0, 60), DAYS),
    st.tuples(st.just("notice"), CAR, st.sampled_from(Effect), DAYS),
    st.tuples(st.just("sign_off"), CAR, st.booleans(), DAYS),
)


# Every kind of deed once, so that none is refused whenever it is drawn.
STORY = [
    ("test", 0, True, dt.date(2025, 3, 5)),
    ("calibrate", 0, False, dt.date(2025, 6, 1)),
    ("test", 0, False, dt.date(2025, 6, 2)),
    ("usage", 0, 120, dt.date(2025, 6, 3)),
    ("defect", 0, Effect.CONDITION, dt.date(2025, 7, 1)),
    ("exchange", 0, "distributor", dt.date(2025, 7, 2)),
    ("isolate", 0, True, dt.date(2025, 8, 1)),
    ("restore", 0, True, dt.date(2025, 8, 9)),
    ("store", 1, True, dt.date(2025, 9, 1)),
    ("fit", 1, "distributor", dt.date(2025, 9, 2)),
    ("move", 0, "bp-hose-1", dt.date(2025, 9, 3)),
    ("visit", 1, 30, dt.date(2026, 3, 1)),
    ("notice", 0, Effect.ISOLATE, dt.date(2026, 6, 1)),
    ("sign_off", 0, False, dt.date(2026, 6, 2)),
    ("revise", 0, 6, dt.date(2026, 6, 5)),
    ("retract", 1, "distributor", dt.date(2026, 6, 6)),
]


class Yard:
    """Two vehicles, and the deeds that may befall them."""

    def __init__(self):
        make_policy(miles=5000)
        type_ = make_type("bench-air", positions=SMALL)
        self.vehicles = [make_vehicle(type=type_) for _ in range(2)]
        for position in ("distributor", "bp-hose-1"):
            make_fitting(vehicle=self.vehicles[0], position=position)
        self.gauge = make_instrument("TG-4", calibrated="2016-01-04")
        self.done = Counter()

    def do(self, deed, car, detail, day):
        """Do one deed; what the register refuses is not done."""
        try:
            with transaction.atomic():
                getattr(self, deed)(self.vehicles[car], detail, Moment.on(day))
            self.done[deed] += 1
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
            make_test(vehicle=vehicle, on=on, instrument=self.gauge)
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

    def calibrate(self, _vehicle, good, on):
        """Compare the gauge every test was read on: found good, or well outside."""
        make_calibration(self.gauge, on, found="0.05" if good else "0.9")

    def revise(self, _vehicle, months, on):
        """Ask for the annual test after so many months, from a day to come."""
        revise_requirement(
            by=None,
            requirement=Requirement.objects.get(code="annual"),
            effective_from=today() + dt.timedelta(days=on.earliest.day),
            reason="Wear",
            months=months,
        )

    def isolate(self, vehicle, complete, on):
        """Isolate the air brake; the record with every line answered, or with none."""
        defects.record_isolation(
            by=None,
            person=person(),
            vehicle=vehicle,
            system=System.AIR,
            since=on,
            why="Slow to release",
            lines=answers(vehicle) if complete else [],
        )

    def restore(self, vehicle, _detail, on):
        """Restore what was isolated."""
        held = IsolationVersion.objects.current().open_ended().filter(vehicle=vehicle)
        for version in held[:1]:
            defects.restore_brake(by=None, person=person(), version=version, at=on)

    def visit(self, vehicle, days, on):
        """Take a vehicle for another line's, and accept it for some days."""
        alter_vehicle(by=None, vehicle=vehicle, since=on, status=VehicleStatus.VISITING)
        record = make_test(vehicle=vehicle, on=on)
        accept_visit(
            by=None,
            person=person(),
            vehicle=vehicle,
            owner="Another line",
            regime="Brake plan 2",
            since=on.earliest,
            last_day=on.earliest + dt.timedelta(days=days),
            evidence=[Seen("Statement seen")],
            tests=[record.test],
        )

    def notice(self, _vehicle, effect, on):
        """Ask something of every distributor there is, from today or soon."""
        issue_notice(
            by=None,
            code=f"fn-{FleetNotice.objects.count()}",
            title="Cracked covers",
            source="Letter of the overhaul shop",
            action="Look at the cover.",
            kind=EquipmentKind.DISTRIBUTOR,
            scope=Scope.AIR_BRAKE,
            effect=effect,
            effective_from=today() + dt.timedelta(days=on.earliest.day - 1),
        )

    def sign_off(self, vehicle, close, _on):
        """Deal with the item of a vehicle, or close the notice."""
        notice = FleetNotice.objects.last()
        fitting = self._held(vehicle, "distributor")
        if notice is None:
            return
        if close:
            close_notice(by=None, notice=notice, on=today(), reason="All looked at")
        elif fitting is not None:
            sign_item_off(
                by=None,
                person=person(),
                notice=notice,
                equipment=fitting.equipment,
                on=today(),
                note="No crack",
            )

    def _held(self, vehicle, position):
        held = Fitting.objects.current().filter(vehicle=vehicle, position=position)
        return held.order_by("since_key").last()

"""Vehicles, types and equipment made through the services, as people make them."""

import datetime as dt
from itertools import count

from fleet.engineering.calendar import Moment
from fleet.register.models import Depot, VehicleType
from fleet.register.services.equipment import add_equipment
from fleet.register.services.fittings import fit
from fleet.register.services.types import define_type
from fleet.register.services.vehicles import add_vehicle
from fleet.register.vocabulary import (
    CockPosition,
    Effect,
    EquipmentKind,
    Fitment,
    MainReservoirPipe,
    Scope,
)

_numbers = count(1001)  # numbers of three figures are free for tests to choose
_serials = count(1)

FIRST_DAY = dt.date(2015, 1, 1)


def place(code, label, kind, scope, **more):
    """A position as `define_type` takes it."""
    return {"code": code, "label": label, "kind": kind, "scope": scope} | more


def air_places():
    """The positions of a two-pipe air-braked vehicle, in the pipe's order."""
    stop, isolate = Effect.STOP, Effect.ISOLATE
    ends = [
        place(
            f"{code}-{end}",
            f"{label}, No. {end} end",
            kind,
            scope,
            end=end,
            effect_missing=stop,
            normal=normal,
        )
        for end in (1, 2)
        for code, label, kind, scope, normal in (
            (
                "bp-hose",
                "Brake pipe hose",
                EquipmentKind.BP_HOSE,
                Scope.BRAKE_PIPE,
                CockPosition.NONE,
            ),
            (
                "bp-cock",
                "Brake pipe end cock",
                EquipmentKind.BP_END_COCK,
                Scope.BRAKE_PIPE,
                CockPosition.CLOSED,
            ),
            (
                "mr-hose",
                "Main reservoir hose",
                EquipmentKind.MR_HOSE,
                Scope.MAIN_RESERVOIR_PIPE,
                CockPosition.NONE,
            ),
            (
                "mr-cock",
                "Main reservoir end cock",
                EquipmentKind.MR_END_COCK,
                Scope.MAIN_RESERVOIR_PIPE,
                CockPosition.CLOSED,
            ),
        )
    ]
    brake = [
        place(
            "distributor-cock",
            "Distributor isolating cock",
            EquipmentKind.DISTRIBUTOR_ISOLATING_COCK,
            Scope.AIR_BRAKE,
            normal=CockPosition.OPEN,
        ),
        place("distributor", "Distributor", EquipmentKind.DISTRIBUTOR, Scope.AIR_BRAKE),
        place(
            "aux-reservoir",
            "Auxiliary reservoir",
            EquipmentKind.AUXILIARY_RESERVOIR,
            Scope.AIR_BRAKE,
            effect_missing=isolate,
        ),
        place(
            "control-reservoir",
            "Control reservoir",
            EquipmentKind.CONTROL_RESERVOIR,
            Scope.AIR_BRAKE,
        ),
        place(
            "cylinder-1",
            "Brake cylinder, No. 1 end",
            EquipmentKind.BRAKE_CYLINDER,
            Scope.AIR_BRAKE,
            end=1,
        ),
        place(
            "slack-adjuster",
            "Slack adjuster",
            EquipmentKind.SLACK_ADJUSTER,
            Scope.SHARED_GEAR,
        ),
    ]
    return ends + brake


def vacuum_places():
    """The positions of a vacuum-braked vehicle."""
    ends = [
        place(
            f"vacuum-hose-{end}",
            f"Vacuum hose, No. {end} end",
            EquipmentKind.VACUUM_HOSE,
            Scope.VACUUM_TRAIN_PIPE,
            end=end,
            effect_missing=Effect.STOP,
        )
        for end in (1, 2)
    ]
    brake = [
        place(
            "vacuum-cylinder-1",
            "Vacuum cylinder, No. 1 end",
            EquipmentKind.VACUUM_CYLINDER,
            Scope.VACUUM_BRAKE,
            end=1,
        ),
        place(
            "da-valve",
            "Direct-admission valve",
            EquipmentKind.DA_VALVE,
            Scope.VACUUM_BRAKE,
            mandatory=False,
        ),
    ]
    return ends + brake


def make_depot(code="works", name="Wenlow works"):
    """The depot of that code, made if there is none."""
    return Depot.objects.get_or_create(code=code, defaults={"name": name})[0]


def make_type(code="coach-air", *, positions=None, **values):
    """A type of that code, defined if there is none: by default a two-pipe coach."""
    held = VehicleType.objects.filter(code=code).first()
    if held is not None:
        return held
    values = {
        "by": None,
        "name": "Open coach",
        "effective_from": dt.date(1970, 1, 1),
        "source": "operator's own",
    } | values
    positions = air_places() if positions is None else positions
    return define_type(code=code, positions=positions, **values)


def make_vehicle(**values):
    """A vehicle in traffic, by default a two-pipe air-braked coach."""
    values = {
        "by": None,
        "since": Moment.on(FIRST_DAY),
        "air": Fitment.BRAKED,
        "vacuum": Fitment.NONE,
        "main_reservoir_pipe": MainReservoirPipe.FEEDING,
    } | values
    values.setdefault("number", f"T {next(_numbers)}")
    if "type" not in values:
        values["type"] = make_type()
    return add_vehicle(**values)


def make_equipment(kind=EquipmentKind.DISTRIBUTOR, **values):
    """An item in the works' store, made in 2014."""
    values = {
        "by": None,
        "made": Moment.parse("2014-05"),
        "since": Moment.on(FIRST_DAY),
    } | values
    values.setdefault("serial", f"N{next(_serials):05d}")
    if "store" not in values:
        values["store"] = make_depot()
    return add_equipment(kind=kind, **values)


def make_fitting(*, vehicle, position, since=None, equipment=None, **values):
    """An item fitted at a position; by default a new one of the position's kind."""
    since = since or Moment.on(FIRST_DAY + dt.timedelta(days=1))
    if equipment is None:
        from fleet.register.positions import position_at

        equipment = make_equipment(position_at(vehicle, position, since).kind)
    return fit(
        by=None,
        vehicle=vehicle,
        position=position,
        equipment=equipment,
        since=since,
        **values,
    )


def equip(vehicle, *, since=None, leaving=()):
    """Fit a new item at every position of a vehicle but those left empty."""
    from fleet.register.positions import free_positions

    since = since or Moment.on(FIRST_DAY + dt.timedelta(days=1))
    return {
        position.code: make_fitting(
            vehicle=vehicle, position=position.code, since=since
        )
        for position in free_positions(vehicle, since)
        if position.code not in leaving
    }

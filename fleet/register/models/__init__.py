"""Tables of the register: depots, vehicle types, vehicles, equipment, where it is."""

from fleet.register.models.equipment import (
    DistributorParticulars,
    Equipment,
    EquipmentVersion,
    HoseParticulars,
)
from fleet.register.models.figures import BrakeFigures
from fleet.register.models.fittings import Fitting
from fleet.register.models.overhauls import Overhaul, OverhaulVersion
from fleet.register.models.types import Depot, Position, TypeRevision, VehicleType
from fleet.register.models.vehicles import StoragePeriod, Usage, Vehicle, VehicleVersion
from fleet.register.models.vessels import ReservoirParticulars

__all__ = [
    "BrakeFigures",
    "Depot",
    "DistributorParticulars",
    "Equipment",
    "EquipmentVersion",
    "Fitting",
    "HoseParticulars",
    "Overhaul",
    "OverhaulVersion",
    "Position",
    "ReservoirParticulars",
    "StoragePeriod",
    "TypeRevision",
    "Usage",
    "Vehicle",
    "VehicleType",
    "VehicleVersion",
]

"""Every workshop sum in one table, in the order in which pages list them."""

from fleet.web.sums.air import AIR_SUMS
from fleet.web.sums.force import FORCE_SUMS
from fleet.web.sums.parts import Sum
from fleet.web.sums.supply import SUPPLY_SUMS
from fleet.web.sums.vacuum import VACUUM_SUMS
from fleet.web.sums.vessels import VESSEL_SUMS

GROUPS: tuple[tuple[str, tuple[Sum, ...]], ...] = (
    ("Air brake", AIR_SUMS),
    ("Air supply and leaks", SUPPLY_SUMS),
    ("Vacuum brake", VACUUM_SUMS),
    ("Force and stopping", FORCE_SUMS),
    ("Reservoirs", VESSEL_SUMS),
)
SUMS = {one.name: one for _, group in GROUPS for one in group}

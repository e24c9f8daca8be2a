"""
Air for the brake: what an application takes, and how long a reservoir takes to recharge.

Pressures are gauge, in bar; volumes in litres; free air is at atmospheric pressure.
Isothermal ideal gas.
"""

from dataclasses import dataclass

from fleet.engineering.air import Cylinder
from fleet.engineering.flow import (
    STANDARD_ATMOSPHERE_BAR,
    Choke,
    choked_part,
    filling_time,
    free_air_l_per_min,
)
from fleet.engineering.refusals import not_negative, positive

# Close to its supply the last of the air takes for ever; the nozzle model does not know.
NEARLY_FULL = 0.99


@dataclass(frozen=True, slots=True)
class AirUsed:
    """Free air in litres that one application takes, to be made up afterwards."""

    cylinder_l: float
    brake_pipe_l: float

    @property
    def total_l(self) -> float:
        """Return all of it, in litres of free air."""
        return self.cylinder_l + self.brake_pipe_l


@dataclass(frozen=True, slots=True)
class Recharge:
    """Seconds to recharge through a choke, and how many of them the flow is choked."""

    seconds: float
    choked_seconds: float


def air_per_application(
    cylinder: Cylinder,
    cylinder_bar: float,
    *,
    brake_pipe_l: float = 0.0,
    pipe_drop_bar: float = 0.0,
    atmosphere_bar: float = STANDARD_ATMOSPHERE_BAR,
) -> AirUsed:
    """
    Return the free air one application and release takes (isothermal), in litres.

    The cylinder's share is lost at release, the brake pipe's when the pipe is reduced.
    The air that only pushes the piston out counts too, so even 0 bar takes the swept
    volume. Raises ValueError for a pressure or volume below zero.
    """
    not_negative(cylinder_bar, "The cylinder pressure", "bar")
    not_negative(brake_pipe_l, "The volume of the brake pipe", "l")
    not_negative(pipe_drop_bar, "The brake pipe drop", "bar")
    positive(atmosphere_bar, "The atmospheric pressure", "bar")
    filled = (cylinder_bar + atmosphere_bar) * cylinder.filled_l / atmosphere_bar
    return AirUsed(
        cylinder_l=filled - cylinder.dead_l,
        brake_pipe_l=brake_pipe_l * pipe_drop_bar / atmosphere_bar,
    )


def recharge(
    volume_l: float,
    choke: Choke,
    *,
    from_bar: float,
    to_bar: float,
    supply_bar: float,
    celsius: float = 20.0,
    atmosphere_bar: float = STANDARD_ATMOSPHERE_BAR,
) -> Recharge:
    """
    Return the time to recharge a reservoir through a choke from a constant supply.

    Isothermal; the supply is taken to hold its pressure, so a long train at the end of
    its pipe takes longer. Up to 99 % of the absolute supply pressure; ValueError above.
    """
    positive(volume_l, "The volume", "l")
    not_negative(from_bar, "The pressure to start from", "bar")
    supply_abs = positive(supply_bar, "The supply pressure", "bar") + atmosphere_bar
    first, last = ((bar + atmosphere_bar) / supply_abs for bar in (from_bar, to_bar))
    if last > NEARLY_FULL:
        most = NEARLY_FULL * supply_abs - atmosphere_bar
        raise ValueError(
            f"From a supply of {supply_bar:g} bar the time can be found up to "
            f"{most:.2f} bar; give a lower pressure to reach."
        )
    flow = free_air_l_per_min(
        choke,
        upstream_bar_abs=supply_abs,
        downstream_bar_abs=0.0,
        celsius=celsius,
        atmosphere_bar=atmosphere_bar,
    )
    scale = 60 * volume_l * supply_abs / (atmosphere_bar * flow)
    return Recharge(
        seconds=scale * filling_time(first, last),
        choked_seconds=scale * choked_part(first, last),
    )

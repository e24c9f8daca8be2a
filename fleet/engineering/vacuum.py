"""
The automatic vacuum brake: air leaking in, and the pull of a cylinder.

Vacuum is gauge, in mbar below the atmosphere (21 inHg is 711 mbar); more of it is less
pressure. Leaks run inward from the atmosphere: above about half an atmosphere of vacuum
the flow is choked and does not grow further, below it eases off. The rule for a leak from
a pressure vessel, proportional to its pressure, does not apply.

Two lines, two opposite dangers, never one figure: a leak into the train pipe tends to put
brakes on; a leak into the chamber lets an applied brake off.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from enum import StrEnum
from math import pi

from fleet.engineering.air import swept_l
from fleet.engineering.flow import (
    CRITICAL_RATIO,
    SHARP_EDGED,
    STANDARD_ATMOSPHERE_BAR,
    Choke,
    choked_share,
    filled_after,
    filling_time,
    free_air_l_per_min,
    hole_mm,
)
from fleet.engineering.refusals import not_negative, positive
from fleet.engineering.units import scaled

STANDARD_ATMOSPHERE_MBAR = STANDARD_ATMOSPHERE_BAR * 1000
# 21 inHg was the general working vacuum, 25 inHg that of some lines; common practice.
WORKING_21_MBAR = scaled(21, "inHg", "mbar")
WORKING_25_MBAR = scaled(25, "inHg", "mbar")


class LeakLine(StrEnum):
    """Which space air leaks into; each has its own danger."""

    TRAIN_PIPE = "train pipe"
    CHAMBER = "chamber"

    @property
    def danger(self) -> str:
        """Say what a leak into this space does to the brake."""
        if self is LeakLine.TRAIN_PIPE:
            return (
                "A train pipe leak tends to put the brakes on; the ejector or exhauster "
                "hides it until it can no longer keep up."
            )
        return (
            "A chamber leak lets an applied brake off with time; the brake does not hold "
            "a standing vehicle."
        )


@dataclass(frozen=True, slots=True)
class InwardLeak:
    """A leak by the free air it draws in while choked, l/min; it never draws more."""

    choked_l_per_min: float

    def __post_init__(self) -> None:
        positive(self.choked_l_per_min, "The flow of free air", "l/min")

    def at(
        self, vacuum_mbar: float, *, atmosphere_mbar: float = STANDARD_ATMOSPHERE_MBAR
    ) -> float:
        """Return the free air drawn in at a vacuum, l/min."""
        share = choked_share(_ratio(vacuum_mbar, atmosphere_mbar))
        return self.choked_l_per_min * share

    def hole_mm(
        self, *, coefficient: float = SHARP_EDGED, celsius: float = 20.0
    ) -> float:
        """Return the diameter in mm of one round hole that leaks as much."""
        return hole_mm(self.choked_l_per_min, coefficient=coefficient, celsius=celsius)


@dataclass(frozen=True, slots=True)
class TrainPipeFall:
    """What two readings of a shut-off train pipe show: mbar/min and the leak behind it."""

    mbar_per_min: float
    leak: InwardLeak | None
    line: LeakLine = LeakLine.TRAIN_PIPE


@dataclass(frozen=True, slots=True)
class ChamberHolding:
    """How long an applied cylinder holds before its pull is down to a threshold."""

    seconds: float
    first_differential_mbar: float
    line: LeakLine = LeakLine.CHAMBER


@dataclass(frozen=True, slots=True)
class VacuumCylinder:
    """
    A vacuum cylinder: bore in mm, room above the lowered piston, separate chamber, litres.

    The combined kind carries its chamber round itself: count it in either figure.
    """

    bore_mm: float
    above_piston_l: float
    chamber_l: float = 0.0

    def __post_init__(self) -> None:
        positive(self.bore_mm, "The bore", "mm")
        positive(self.above_piston_l, "The room above the piston", "l")
        not_negative(self.chamber_l, "The chamber", "l")

    @property
    def area_mm2(self) -> float:
        """Return the area of the piston in mm²."""
        return pi * self.bore_mm**2 / 4

    def upper_l(self, lift_mm: float) -> float:
        """
        Return the volume above the piston, chamber included, at a lift, in litres.

        Raises ValueError where the piston would strike the top of its cylinder.
        """
        swept = swept_l(self.bore_mm, lift_mm)
        if swept >= self.above_piston_l:
            most = self.above_piston_l / self.area_mm2 * 1e6
            raise ValueError(
                f"A lift of {lift_mm:g} mm is not possible: the room above the piston "
                f"ends at {most:.0f} mm."
            )
        return self.above_piston_l + self.chamber_l - swept


@dataclass(frozen=True, slots=True)
class Applied:
    """
    An applied vacuum cylinder: chamber vacuum, difference across the piston, its pull.

    The pull is before the weight of the piston, friction and the rigging.
    """

    chamber_mbar: float
    differential_mbar: float
    pull_kn: float


def absolute_mbar(
    vacuum_mbar: float, *, atmosphere_mbar: float = STANDARD_ATMOSPHERE_MBAR
) -> float:
    """Return the absolute pressure, mbar, behind a vacuum; it takes the barometer."""
    return _ratio(vacuum_mbar, atmosphere_mbar) * atmosphere_mbar


def critical_vacuum_mbar(*, atmosphere_mbar: float = STANDARD_ATMOSPHERE_MBAR) -> float:
    """Return the vacuum above which an inward leak is choked: 478 mbar or 14.1 inHg."""
    positive(atmosphere_mbar, "The atmospheric pressure", "mbar")
    return atmosphere_mbar * (1 - CRITICAL_RATIO)


def leak_through(
    hole: Choke,
    *,
    celsius: float = 20.0,
    atmosphere_mbar: float = STANDARD_ATMOSPHERE_MBAR,
) -> InwardLeak:
    """Return the leak of a known hole, such as a test disc."""
    bar = atmosphere_mbar / 1000
    return InwardLeak(
        free_air_l_per_min(
            hole,
            upstream_bar_abs=bar,
            downstream_bar_abs=0.0,
            celsius=celsius,
            atmosphere_bar=bar,
        )
    )


def together(leaks: Iterable[InwardLeak]) -> InwardLeak:
    """Return the leak of vehicles coupled together; at one vacuum the air adds up."""
    return InwardLeak(sum(leak.choked_l_per_min for leak in leaks))


def seconds_to_fall(
    volume_l: float,
    leak: InwardLeak,
    *,
    from_mbar: float,
    to_mbar: float,
    atmosphere_mbar: float = STANDARD_ATMOSPHERE_MBAR,
) -> float:
    """Return the time in which a leak lets the vacuum of a closed volume fall (isothermal)."""
    positive(volume_l, "The volume", "l")
    if to_mbar > from_mbar:
        raise ValueError("A leak lets the vacuum fall; give a lower vacuum to reach.")
    first, last = (_ratio(mbar, atmosphere_mbar) for mbar in (from_mbar, to_mbar))
    return 60 * volume_l / leak.choked_l_per_min * filling_time(first, last)


def vacuum_after(
    volume_l: float,
    leak: InwardLeak,
    *,
    from_mbar: float,
    seconds: float,
    atmosphere_mbar: float = STANDARD_ATMOSPHERE_MBAR,
) -> float:
    """Return the vacuum left in a closed volume after a time, mbar (isothermal)."""
    positive(volume_l, "The volume", "l")
    not_negative(seconds, "The time", "s")
    time = seconds * leak.choked_l_per_min / (60 * volume_l)
    ratio = filled_after(_ratio(from_mbar, atmosphere_mbar), time)
    return atmosphere_mbar * (1 - ratio)


def leak_from_fall(
    volume_l: float,
    *,
    first_mbar: float,
    last_mbar: float,
    seconds: float,
    atmosphere_mbar: float = STANDARD_ATMOSPHERE_MBAR,
) -> InwardLeak | None:
    """
    Return the leak that explains a fall of vacuum in a closed volume; None if none fell.

    Takes account of the easing off below half an atmosphere, so falls from different
    vacuums can be compared. Raises ValueError where the vacuum rose.
    """
    positive(seconds, "The time between the readings", "s")
    one = InwardLeak(1.0)
    needed = seconds_to_fall(
        volume_l,
        one,
        from_mbar=first_mbar,
        to_mbar=last_mbar,
        atmosphere_mbar=atmosphere_mbar,
    )
    return InwardLeak(needed / seconds) if needed > 0 else None


def train_pipe_fall(
    volume_l: float,
    *,
    first_mbar: float,
    last_mbar: float,
    seconds: float,
    atmosphere_mbar: float = STANDARD_ATMOSPHERE_MBAR,
) -> TrainPipeFall:
    """
    Return the fall of a train pipe with its ends closed and the exhauster shut off.

    With the brakes off the space below the pistons belongs to the volume. The rate stays
    the same down to about 14 inHg for one and the same leak, and eases off below.
    """
    leak = leak_from_fall(
        volume_l,
        first_mbar=first_mbar,
        last_mbar=last_mbar,
        seconds=seconds,
        atmosphere_mbar=atmosphere_mbar,
    )
    return TrainPipeFall((first_mbar - last_mbar) * 60 / seconds, leak)


def applied(
    cylinder: VacuumCylinder,
    *,
    working_mbar: float,
    lift_mm: float,
    train_pipe_mbar: float = 0.0,
    atmosphere_mbar: float = STANDARD_ATMOSPHERE_MBAR,
) -> Applied:
    """
    Return chamber vacuum, difference and pull of a cylinder at a lift (Boyle).

    Rising, the piston squeezes the air left above it, so pull falls with lift: a large
    chamber or short lift loses little. `train_pipe_mbar` is what is left below, 0 for a
    full application.
    """
    below = _ratio(train_pipe_mbar, atmosphere_mbar) * atmosphere_mbar
    above = _ratio(working_mbar, atmosphere_mbar) * atmosphere_mbar
    above *= cylinder.upper_l(0) / cylinder.upper_l(lift_mm)
    # Above the pressure below, the ball valve lets the chamber's air out.
    differential = max(0.0, below - above)
    pull_kn = differential * cylinder.area_mm2 * 1e-7
    return Applied(atmosphere_mbar - min(above, below), differential, pull_kn)


def chamber_holding(
    cylinder: VacuumCylinder,
    leak: InwardLeak,
    *,
    working_mbar: float,
    lift_mm: float,
    drops_at_mbar: float,
    atmosphere_mbar: float = STANDARD_ATMOSPHERE_MBAR,
) -> ChamberHolding:
    """
    Return how long a full application lasts before its difference is down to a threshold.

    The piston stays at its lift until then, the train pipe at atmospheric pressure, all
    the leak into chamber and upper side.
    """
    start = applied(
        cylinder,
        working_mbar=working_mbar,
        lift_mm=lift_mm,
        atmosphere_mbar=atmosphere_mbar,
    ).differential_mbar
    if not_negative(drops_at_mbar, "The threshold", "mbar") >= start:
        return ChamberHolding(0.0, start)
    seconds = seconds_to_fall(
        cylinder.upper_l(lift_mm),
        leak,
        from_mbar=start,
        to_mbar=drops_at_mbar,
        atmosphere_mbar=atmosphere_mbar,
    )
    return ChamberHolding(seconds, start)


def left_on_mbar(*, was_mbar: float, now_mbar: float) -> float:
    """
    Return the difference left on the pistons when a lower working vacuum takes over.

    Chambers drawn to 25 inHg and then worked at 21 keep 4 inHg of brake on: it drags until
    the release cords are pulled. Source: common practice.
    """
    not_negative(now_mbar, "The working vacuum now", "mbar")
    return max(
        0.0, not_negative(was_mbar, "The working vacuum before", "mbar") - now_mbar
    )


def _ratio(vacuum_mbar: float, atmosphere_mbar: float) -> float:
    """Return the absolute pressure behind a vacuum by that of the atmosphere."""
    positive(atmosphere_mbar, "The atmospheric pressure", "mbar")
    if not 0 <= vacuum_mbar <= atmosphere_mbar:
        raise ValueError(
            f"A vacuum lies between 0 and the atmosphere's {atmosphere_mbar:.0f} mbar; "
            f"{vacuum_mbar:.0f} mbar cannot be."
        )
    return 1 - vacuum_mbar / atmosphere_mbar

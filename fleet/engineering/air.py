"""
The automatic air brake: what pressure to expect in the cylinder.

Pressures are gauge, in bar, unless a name says `_abs`; volumes in litres. Three models
stand side by side and each result names its own: they differ (at a reduction of 10 psi
the linear rule gives 25 psi in the cylinder where Boyle gives 17.7), so a result of one
is never compared with a result of another. None of them knows the release spring, the
feed of the pipe or leakage: a cylinder that reads lower than expected asks why.
"""

from dataclasses import dataclass
from enum import StrEnum
from math import pi

from fleet.engineering.flow import STANDARD_ATMOSPHERE_BAR
from fleet.engineering.refusals import not_negative, positive

TRADE_RATIO = 2.5  # bar in the cylinder for each bar of reduction, at standard travel


class Model(StrEnum):
    """How a cylinder pressure was worked out."""

    BOYLE = "Boyle: isothermal, absolute pressures"
    LINEAR_RULE = "linear rule of the trade"
    GRADUATED = "graduated release: straight line"


class Stage(StrEnum):
    """How far the application has gone."""

    RELEASED = "released"
    PARTIAL = "partly applied"
    FULL = "fully applied"


@dataclass(frozen=True, slots=True)
class Cylinder:
    """
    A brake cylinder with what has to be filled besides: bore and travel in mm.

    `clearance_l` is the room behind the released piston, `pipe_l` that of the pipe to it;
    both hold air at atmospheric pressure before the application, the swept volume none.
    """

    bore_mm: float
    travel_mm: float
    clearance_l: float = 0.0
    pipe_l: float = 0.0

    def __post_init__(self) -> None:
        positive(self.bore_mm, "The bore", "mm")
        positive(self.travel_mm, "The piston travel", "mm")
        not_negative(self.clearance_l, "The clearance volume", "l")
        not_negative(self.pipe_l, "The volume of the pipe", "l")

    @property
    def swept_l(self) -> float:
        """Return the volume the piston sweeps, in litres."""
        return swept_l(self.bore_mm, self.travel_mm)

    @property
    def dead_l(self) -> float:
        """Return clearance and pipe, in litres."""
        return self.clearance_l + self.pipe_l

    @property
    def filled_l(self) -> float:
        """Return the whole volume of an applied cylinder, in litres."""
        return self.swept_l + self.dead_l


@dataclass(frozen=True, slots=True)
class Reservoir:
    """A charged reservoir: gauge pressure in bar, volume in litres."""

    bar: float
    volume_l: float

    def __post_init__(self) -> None:
        not_negative(self.bar, "The reservoir pressure", "bar")
        positive(self.volume_l, "The reservoir volume", "l")


@dataclass(frozen=True, slots=True)
class Distributor:
    """
    The settings of a graduated-release distributor, in bar.

    `full_cylinder_bar` is reached at a pipe drop of `full_drop_bar`. Below
    `starts_at_drop_bar` it stays released; once it starts it gives at least
    `first_step_bar`. The figures are the operator's: 3.8 bar at a drop of 1.5 bar is
    usual, the 1.5 bar from memory of UIC 540.
    """

    full_cylinder_bar: float
    full_drop_bar: float
    starts_at_drop_bar: float = 0.0
    first_step_bar: float = 0.0

    def __post_init__(self) -> None:
        positive(self.full_cylinder_bar, "The full cylinder pressure", "bar")
        positive(self.full_drop_bar, "The pipe drop of a full application", "bar")
        not_negative(self.starts_at_drop_bar, "The drop at which it starts", "bar")
        not_negative(self.first_step_bar, "The first step", "bar")
        if self.starts_at_drop_bar > self.full_drop_bar:
            raise ValueError("A distributor starts before its full application.")
        if self.first_step_bar > self.full_cylinder_bar:
            raise ValueError("The first step is not above the full cylinder pressure.")


@dataclass(frozen=True, slots=True)
class CylinderPressure:
    """
    A cylinder pressure in bar (gauge), with the model it rests on.

    `reservoir_bar` is what remains in the reservoir, where the model says.
    """

    bar: float
    stage: Stage
    model: Model
    reservoir_bar: float | None = None


@dataclass(frozen=True, slots=True)
class FullApplication:
    """The pressure of a full application, and whether the reservoir falls short of it."""

    bar: float
    reservoir_bar: float
    limited_by_reservoir: bool


def swept_l(bore_mm: float, travel_mm: float) -> float:
    """Return the volume a piston of that bore sweeps over that travel, in litres."""
    positive(bore_mm, "The bore", "mm")
    not_negative(travel_mm, "The piston travel", "mm")
    return pi / 4 * bore_mm**2 * travel_mm / 1e6


def equalise(
    reservoir: Reservoir,
    cylinder: Cylinder,
    *,
    atmosphere_bar: float = STANDARD_ATMOSPHERE_BAR,
) -> CylinderPressure:
    """
    Return the pressure at which reservoir and cylinder equalise (Boyle).

    Source: `(P + pa)/(1 + Vc/Vr) - pa`, clearance and pipe added at atmospheric pressure.
    """
    positive(atmosphere_bar, "The atmospheric pressure", "bar")
    air = (reservoir.bar + atmosphere_bar) * reservoir.volume_l
    air += atmosphere_bar * cylinder.dead_l
    both_abs = air / (reservoir.volume_l + cylinder.filled_l)
    # Too small a reservoir does not push the piston right out: no pressure at all.
    bar = max(0.0, both_abs - atmosphere_bar)
    return CylinderPressure(bar, Stage.FULL, Model.BOYLE, bar)


def full_reduction_bar(
    reservoir: Reservoir,
    cylinder: Cylinder,
    *,
    atmosphere_bar: float = STANDARD_ATMOSPHERE_BAR,
) -> float:
    """Return the brake pipe reduction beyond which a direct-release valve gives no more."""
    return (
        reservoir.bar - equalise(reservoir, cylinder, atmosphere_bar=atmosphere_bar).bar
    )


def direct_release(
    reservoir: Reservoir,
    pipe_bar: float,
    cylinder: Cylinder,
    *,
    atmosphere_bar: float = STANDARD_ATMOSPHERE_BAR,
) -> CylinderPressure:
    """
    Return the cylinder pressure of a direct-release (triple) valve, by Boyle.

    The valve feeds the cylinder until the reservoir has fallen to the pipe, so what
    counts is the pipe against the reservoir as charged: a reservoir half recharged gives
    less, and none while the pipe is above it. Each further reduction adds; the valve does
    not let a part of it off again.
    """
    not_negative(pipe_bar, "The brake pipe pressure", "bar")
    if pipe_bar >= reservoir.bar:
        return CylinderPressure(0.0, Stage.RELEASED, Model.BOYLE, reservoir.bar)
    full = equalise(reservoir, cylinder, atmosphere_bar=atmosphere_bar)
    if pipe_bar <= full.bar:
        return full
    air = (reservoir.bar - pipe_bar) * reservoir.volume_l
    air += atmosphere_bar * cylinder.dead_l
    bar = max(0.0, air / cylinder.filled_l - atmosphere_bar)
    return CylinderPressure(bar, Stage.PARTIAL, Model.BOYLE, pipe_bar)


def direct_release_linear(
    reservoir_bar: float, pipe_bar: float, *, ratio: float = TRADE_RATIO
) -> CylinderPressure:
    """
    Return the cylinder pressure of a direct-release valve by the linear rule of the trade.

    A rule of thumb for standard piston travel and pressures near 5 bar: it knows neither
    volumes nor the first bit of air that only moves the piston, and reads high for small
    reductions. Source: common practice; as printed by A. Krug, North American freight
    train brakes, and M. S. Shade, 1000 Air-Brake Questions (1913).
    """
    not_negative(reservoir_bar, "The reservoir pressure", "bar")
    not_negative(pipe_bar, "The brake pipe pressure", "bar")
    positive(ratio, "The ratio of the linear rule", "")
    drop = reservoir_bar - pipe_bar
    if drop <= 0:
        return CylinderPressure(0.0, Stage.RELEASED, Model.LINEAR_RULE, reservoir_bar)
    full = reservoir_bar * ratio / (ratio + 1)
    if ratio * drop >= full:
        return CylinderPressure(full, Stage.FULL, Model.LINEAR_RULE, full)
    return CylinderPressure(ratio * drop, Stage.PARTIAL, Model.LINEAR_RULE, pipe_bar)


def graduated_release(distributor: Distributor, drop_bar: float) -> CylinderPressure:
    """
    Return the cylinder pressure of a graduated-release distributor at a pipe drop.

    A straight line to the full application, the same on the way off: it follows the pipe
    both ways. Real ones keep to it within about 0.2 bar. `drop_bar` counts from the
    control reservoir's pressure, so an overcharged control reservoir means a drop at
    running pressure, and a brake that drags.
    """
    not_negative(drop_bar, "The brake pipe drop", "bar")
    if drop_bar == 0 or drop_bar < distributor.starts_at_drop_bar:
        return CylinderPressure(0.0, Stage.RELEASED, Model.GRADUATED)
    if drop_bar >= distributor.full_drop_bar:
        return CylinderPressure(
            distributor.full_cylinder_bar, Stage.FULL, Model.GRADUATED
        )
    line = distributor.full_cylinder_bar * drop_bar / distributor.full_drop_bar
    bar = max(distributor.first_step_bar, line)
    return CylinderPressure(bar, Stage.PARTIAL, Model.GRADUATED)


def reservoir_after_bar(
    reservoir: Reservoir,
    cylinder: Cylinder,
    cylinder_bar: float,
    *,
    atmosphere_bar: float = STANDARD_ATMOSPHERE_BAR,
) -> float:
    """
    Return what remains in a reservoir, not fed meanwhile, that fills a cylinder (Boyle).

    Raises ValueError above the pressure at which the two equalise.
    """
    not_negative(cylinder_bar, "The cylinder pressure", "bar")
    most = equalise(reservoir, cylinder, atmosphere_bar=atmosphere_bar).bar
    if cylinder_bar > most + 1e-9:
        raise ValueError(
            f"The reservoir cannot fill the cylinder to {cylinder_bar:.2f} bar; the two "
            f"equalise at {most:.2f} bar."
        )
    taken = (cylinder_bar + atmosphere_bar) * cylinder.filled_l
    taken -= atmosphere_bar * cylinder.dead_l
    return reservoir.bar - taken / reservoir.volume_l


def full_application(
    distributor: Distributor,
    reservoir: Reservoir,
    cylinder: Cylinder,
    *,
    atmosphere_bar: float = STANDARD_ATMOSPHERE_BAR,
) -> FullApplication:
    """
    Return the pressure to expect at a full application of a distributor.

    Its own setting, or less where long travel or a small reservoir lets the two equalise
    first. Counts on the reservoir alone, as with one pipe and the feed shut off.
    """
    most = equalise(reservoir, cylinder, atmosphere_bar=atmosphere_bar).bar
    if most < distributor.full_cylinder_bar:
        return FullApplication(most, most, limited_by_reservoir=True)
    bar = distributor.full_cylinder_bar
    rest = reservoir_after_bar(reservoir, cylinder, bar, atmosphere_bar=atmosphere_bar)
    return FullApplication(bar, rest, limited_by_reservoir=False)

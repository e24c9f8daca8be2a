"""
What a type's papers say of its brake, and the force that follows from a pressure or lift.

The figures are the operator's, from drawing or plate. What is not given is None, and what
rests on it is then not worked out: a missing figure is never guessed.
"""

from dataclasses import dataclass

from fleet.engineering.air import Cylinder, Distributor, Reservoir, full_application
from fleet.engineering.force import (
    ForceChange,
    Rigging,
    block_force,
    compare_force,
    piston_force_kn,
)
from fleet.engineering.vacuum import VacuumCylinder, applied


@dataclass(frozen=True, slots=True)
class Figures:
    """
    One brake system of a type: mm, litres, bar, mbar of vacuum, kN, t.

    Forces of return spring and slack adjuster are those of one cylinder, block force and
    braked weight those of the vehicle. `ratio` goes from pistons to all blocks together.
    """

    cylinders: int
    bore_mm: float
    travel_mm: float
    clearance_l: float = 0.0
    ratio: float | None = None
    efficiency: float | None = None
    blocks: int | None = None
    return_kn: float = 0.0
    adjuster_kn: float = 0.0
    adjuster_ratio: float = 0.0
    reservoir_l: float | None = None  # vacuum: a separate chamber, of one cylinder
    above_piston_l: float | None = None  # vacuum only
    full_cylinder_bar: float | None = None  # air only
    full_drop_bar: float | None = None  # air only
    working_mbar: float | None = None  # vacuum only
    pipe_l: float | None = None
    braked_weight_t: float | None = None

    @property
    def rigging(self) -> Rigging | None:
        """Return the brake gear of the whole vehicle; None where it is not all given."""
        if self.ratio is None or self.efficiency is None:
            return None
        return Rigging(
            ratio=self.ratio,
            efficiency=self.efficiency,
            blocks=self.blocks or 1,
            return_kn=self.return_kn * self.cylinders,
            adjuster_kn=self.adjuster_kn * self.cylinders,
            adjuster_ratio=self.adjuster_ratio,
        )

    @property
    def vacuum_cylinder(self) -> VacuumCylinder | None:
        """Return one vacuum cylinder; None where the room above its piston is not given."""
        if self.above_piston_l is None:
            return None
        return VacuumCylinder(
            self.bore_mm, self.above_piston_l, self.reservoir_l or 0.0
        )

    @property
    def type_kn(self) -> float | None:
        """Return the block force by the type's own figures, at its own travel, kN."""
        if self.working_mbar is not None:
            return self.force_at_lift(self.travel_mm)
        if self.full_cylinder_bar is None:
            return None
        return self.force_at_pressure(self.full_cylinder_bar)

    def force_at_pressure(self, cylinder_bar: float) -> float | None:
        """Return the force of all blocks at a cylinder pressure, kN (static)."""
        rigging = self.rigging
        if rigging is None:
            return None
        pushing = piston_force_kn(cylinder_bar, self.bore_mm) * self.cylinders
        return block_force(pushing, rigging).total_kn

    def force_at_lift(self, lift_mm: float) -> float | None:
        """
        Return the force of all blocks at a piston stroke and the working vacuum, kN.

        Raises ValueError where the piston would strike the top of its cylinder.
        """
        rigging, cylinder = self.rigging, self.vacuum_cylinder
        if rigging is None or cylinder is None or self.working_mbar is None:
            return None
        one = applied(cylinder, working_mbar=self.working_mbar, lift_mm=lift_mm)
        return block_force(one.pull_kn * self.cylinders, rigging).total_kn

    def force_from(
        self, cylinder_bar: float | None, stroke_mm: float | None
    ) -> float | None:
        """
        Return the force that follows from what was measured, kN.

        From the pressure of an air brake, the stroke of a vacuum brake. None where that
        was not measured, figures are missing, or the reading is one nothing can have.
        """
        vacuum = self.working_mbar is not None
        measured = stroke_mm if vacuum else cylinder_bar
        if measured is None:
            return None
        try:
            return (self.force_at_lift if vacuum else self.force_at_pressure)(measured)
        except ValueError:
            return None

    def reaches_bar(self, travel_mm: float, charged_bar: float) -> float | None:
        """
        Return the pressure to expect of a full application at a piston travel, bar.

        The type's own, or less where the reservoir gives out first (Boyle). None where
        reservoir, full pressure or its pipe drop are not given.
        """
        volume, full, drop = (
            self.reservoir_l,
            self.full_cylinder_bar,
            self.full_drop_bar,
        )
        if volume is None or full is None or drop is None:
            return None
        cylinder = Cylinder(self.bore_mm, travel_mm, self.clearance_l)
        each = Reservoir(charged_bar, volume / self.cylinders)
        return full_application(Distributor(full, drop), each, cylinder).bar


def change_of_force(
    figures: Figures, now_kn: float, previous_kn: float | None, *, fall_percent: float
) -> ForceChange:
    """Compare a force with the type's figure and the previous result; a fall asks why."""
    return compare_force(
        now_kn,
        type_kn=figures.type_kn or None,
        previous_kn=previous_kn or None,
        ask_below=fall_percent / 100,
    )


def compared(kn: float, other: float | None) -> str:
    """Return how a force compares with another, in words; "" where there is none."""
    if not other:
        return ""
    change = round((kn / other - 1) * 100)
    if change == 0:
        return "the same within one per cent"
    return f"{abs(change)} % {'less' if change < 0 else 'more'}"

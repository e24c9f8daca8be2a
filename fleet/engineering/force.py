"""
Block force, braked weight and what the hand brake holds, from pressure and rigging.

Forces in kN, masses in t, weights as forces; static unless said otherwise. Nothing here is
a measured brake: efficiency, ratio and losses are the type's figures, and a worn, dry or
bent rigging has less. Braked weights are entered from plate or papers, not computed.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from math import atan, ceil, floor, isfinite, pi, sin

from fleet.engineering.refusals import not_negative, positive

GRAVITY_M_PER_S2 = 9.80665


@dataclass(frozen=True, slots=True)
class Rigging:
    """
    A type's brake gear: what stands between cylinder and blocks.

    `ratio` multiplies the piston force up to the sum of all blocks, `efficiency` is what
    friction leaves of it, moving (dynamic) or standing as the caller means. `return_kn` is
    the cylinder's return spring; the slack adjuster's counter-force `adjuster_kn` acts at
    `adjuster_ratio` of the ratio. Zero where not known; then the force comes out too high.
    """

    ratio: float
    efficiency: float
    blocks: int
    return_kn: float = 0.0
    adjuster_kn: float = 0.0
    adjuster_ratio: float = 0.0

    def __post_init__(self) -> None:
        positive(self.ratio, "The rigging ratio", "")
        not_negative(self.return_kn, "The return spring's force", "kN")
        not_negative(self.adjuster_kn, "The slack adjuster's force", "kN")
        not_negative(self.adjuster_ratio, "The slack adjuster's ratio", "")
        if not 0 < self.efficiency <= 1:
            raise ValueError(
                f"Efficiency lies above 0 and up to 1; {self.efficiency:g} does not."
            )
        if self.blocks < 1:
            raise ValueError("Give at least one brake block.")


@dataclass(frozen=True, slots=True)
class BlockForce:
    """Forces in kN: at the piston, of all blocks without losses and with, and of one."""

    piston_kn: float
    lossless_kn: float
    total_kn: float
    per_block_kn: float


@dataclass(frozen=True, slots=True)
class HandBrake:
    """
    A hand brake on a gradient, kN.

    `holds` compares what the blocks can hold with what pulls, times the margin asked for;
    `steepest` is the gradient (rise over run) at which the two are equal.
    """

    pulls_kn: float
    holding_kn: float
    holds: bool
    steepest: float


@dataclass(frozen=True, slots=True)
class ForceChange:
    """Parts by which a force differs, -0.1 for a tenth less, and what must be asked."""

    from_type: float | None
    from_previous: float | None
    questions: tuple[str, ...]


def piston_force_kn(pressure_bar: float, bore_mm: float) -> float:
    """Return pressure times area, kN: gauge pressure in bar, bore in mm; no losses."""
    not_negative(pressure_bar, "The cylinder pressure", "bar")
    area_m2 = pi / 4 * (positive(bore_mm, "The bore", "mm") / 1000) ** 2
    return pressure_bar * 100 * area_m2


def block_force(piston_kn: float, rigging: Rigging) -> BlockForce:
    """
    Return the force of the blocks: ((F - F_spring)·i - i*·F_adjuster)·η, never below 0.

    Source: UIC 544-1, dynamic brake force of block brakes (from memory), with one η for the
    whole gear. Of several equal cylinders give the sum of their piston forces.
    """
    not_negative(piston_kn, "The piston force", "kN")
    pushing = max(piston_kn - rigging.return_kn, 0.0) * rigging.ratio
    lossless = max(pushing - rigging.adjuster_kn * rigging.adjuster_ratio, 0.0)
    total = lossless * rigging.efficiency
    return BlockForce(piston_kn, lossless, total, total / rigging.blocks)


def lever(force: float, driving_arm: float, driven_arm: float) -> float:
    """Return the force a lever passes on, in the unit of `force`; arms in one unit."""
    positive(driven_arm, "The driven arm", "")
    return (
        not_negative(force, "The force", "")
        * positive(driving_arm, "The driving arm", "")
        / driven_arm
    )


def leverage(weight: float, percent: float, cylinder_force: float) -> float:
    """
    Return the ratio that makes the blocks press with `percent` of the weight.

    Weight and cylinder force in one unit. Source: AAR Interchange Rule 3(b)(9) as quoted;
    without losses, as that rule counts.
    """
    positive(cylinder_force, "The cylinder force", "")
    share = positive(percent, "The percentage", "%") / 100
    return share * positive(weight, "The weight", "") / cylinder_force


def braking_ratio_percent(block_force_kn: float, mass_t: float) -> float:
    """Return the blocks' force over the weight, in per cent."""
    weight_kn = positive(mass_t, "The mass", "t") * GRAVITY_M_PER_S2
    return not_negative(block_force_kn, "The block force", "kN") / weight_kn * 100


def braked_weight_percentage(braked_weight_t: float, mass_t: float) -> float:
    """
    Return λ = B/m·100 from entered braked weight and mass, t; not rounded.

    Source: UIC 544-1. For a train give the sums, braked weight only of brakes that work; and
    round down, never up, with `whole_percentage`.
    """
    not_negative(braked_weight_t, "The braked weight", "t")
    return braked_weight_t / positive(mass_t, "The mass", "t") * 100


def whole_percentage(percentage: float) -> int:
    """Return the percentage rounded down, as it is used (UIC 544-1)."""
    return floor(percentage + 1e-9)


def composite_block_friction(block_kn: float, speed_km_h: float) -> float:
    """
    Return the friction of a composition block by Karwatzki's formula, block force in kN.

    0.055·(F + 200)/(F + 50)·(v + 150)/(v + 75). An average of test benches, dry and clean;
    fitted blocks may differ by a quarter and more, wet or iced by far more. Meant for 5 to
    60 kN and up to 160 km/h; else ValueError.
    """
    _refuse_block(block_kn, speed_km_h)
    force = 0.055 * (block_kn + 200) / (block_kn + 50)
    return force * (speed_km_h + 150) / (speed_km_h + 75)


def cast_iron_block_friction(block_kn: float, speed_km_h: float) -> float:
    """
    Return the friction of a cast-iron block by Karwatzki's formula (from memory).

    0.6·(16F/g + 100)/(80F/g + 100)·(v + 100)/(5v + 100); limits as for composition.
    """
    _refuse_block(block_kn, speed_km_h)
    load = block_kn / GRAVITY_M_PER_S2
    force = 0.6 * (16 * load + 100) / (80 * load + 100)
    return force * (speed_km_h + 100) / (5 * speed_km_h + 100)


def gradient_pull_kn(mass_t: float, gradient: float) -> float:
    """
    Return the pull of a gradient on standing vehicles, kN: m·g·sin.

    `gradient` is rise over run, 0.013 for 1.3 % and 1/77. No wind, no bearing friction.
    """
    not_negative(gradient, "The gradient", "")
    weight_kn = positive(mass_t, "The mass", "t") * GRAVITY_M_PER_S2
    return weight_kn * sin(atan(gradient))


def hand_brake(
    block_kn: float,
    friction: float,
    mass_t: float,
    gradient: float,
    *,
    margin: float = 1.0,
) -> HandBrake:
    """
    Say whether a hand brake holds a vehicle: block force times friction against the pull.

    `block_kn` is the sum of the blocks' force as wound on, `friction` that of block on wheel
    at rest, `margin` how many times the pull it must hold. Wheels must not slide: where the
    force needs more grip than the rail gives (about 0.15 of the braked axles' weight, common
    practice), it holds less. A calculation is no leave to go without scotches.
    """
    if margin < 1:
        raise ValueError("A margin below 1 is none; give 1 or more.")
    if not 0 < friction <= 1:
        raise ValueError(f"Friction lies above 0 and up to 1; {friction:g} does not.")
    holding = not_negative(block_kn, "The block force", "kN") * friction
    pulls = gradient_pull_kn(mass_t, gradient)
    share = min(holding / margin / (mass_t * GRAVITY_M_PER_S2), 0.999)
    steepest = share / (1 - share**2) ** 0.5
    return HandBrake(pulls, holding, holding >= pulls * margin, steepest)


def hand_brakes_needed(pulls: float, holds_each: float, *, margin: float = 1.0) -> int:
    """Return how many equal hand brakes hold a pull, in the unit of `holds_each`."""
    positive(holds_each, "What one hand brake holds", "")
    asked = not_negative(pulls, "The pull", "") * positive(margin, "The margin", "")
    return ceil(asked / holds_each - 1e-9)


def compare_force(
    now_kn: float,
    *,
    type_kn: float | None,
    previous_kn: float | None,
    ask_below: float,
) -> ForceChange:
    """
    Compare a force with the type's figure and with the last result.

    A fall of more than `ask_below` (a part of the figure compared with, 0.1 for a tenth),
    which the operator sets, asks why. Raises ValueError for a part outside 0 to 1.
    """
    if not 0 < ask_below < 1:
        raise ValueError("Give the fall that asks why as a part between 0 and 1.")
    from_type = _change(now_kn, type_kn)
    from_previous = _change(now_kn, previous_kn)
    pairs: Sequence[tuple[float | None, str]] = (
        (from_type, "the figure of the type"),
        (from_previous, "the previous result"),
    )
    questions = tuple(
        f"The force is {-part:.0%} below {what}, more than {ask_below:.0%}: "
        "find out why, and record it."
        for part, what in pairs
        if part is not None and -part > ask_below
    )
    return ForceChange(from_type, from_previous, questions)


def _change(now: float, other: float | None) -> float | None:
    not_negative(now, "The force", "kN")
    if other is None:
        return None
    return now / positive(other, "The force compared with", "kN") - 1


def _refuse_block(block_kn: float, speed_km_h: float) -> None:
    if not (isfinite(block_kn) and 5 <= block_kn <= 60):
        raise ValueError(f"The formula is for 5 to 60 kN a block, not {block_kn:g}.")
    if not 0 <= speed_km_h <= 160:
        raise ValueError(f"The formula is for 0 to 160 km/h, not {speed_km_h:g}.")

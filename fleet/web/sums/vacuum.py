"""Sums of the vacuum brake: two lines with opposite dangers, never one figure."""

from fleet.engineering.vacuum import (
    STANDARD_ATMOSPHERE_MBAR,
    InwardLeak,
    LeakLine,
    VacuumCylinder,
    applied,
    chamber_holding,
    critical_vacuum_mbar,
    train_pipe_fall,
)
from fleet.register.vocabulary import System
from fleet.web.sums.amounts import AmountField
from fleet.web.sums.fields import OPEN_AIR, count_field
from fleet.web.sums.parts import (
    Answer,
    Given,
    Sum,
    SumForm,
    amount_or,
    figure,
    in_unit,
    minutes,
)

LEAK_ENDS = (
    "Above about 14 inHg the flow is choked and steady; below it eases off, and a fall "
    "from there is not to be compared with one from working vacuum by its rate alone.",
    "The rule for a leak from a pressure vessel does not apply to vacuum.",
)


class TrainPipeForm(SumForm):
    """Ask for two readings of a train pipe that is shut off."""

    pipe = AmountField(
        "volume",
        "l",
        label="Train pipe",
        help_text="With the brakes off, the space below the pistons belongs to it.",
    )
    first = AmountField("vacuum", "inHg", label="First vacuum")
    last = AmountField("vacuum", "inHg", label="Last vacuum")
    time = AmountField("time", "min", label="Time between")


def pipe_fall(given: Given) -> Answer:
    """Work out the fall of a train pipe and the leak behind it."""
    first = given["first"]
    seconds = given["time"].to("s")
    found = train_pipe_fall(
        given["pipe"].to("l"),
        first_mbar=first.to("mbar"),
        last_mbar=given["last"].to("mbar"),
        seconds=seconds,
    )
    results = [("Fall", f"{in_unit(found.mbar_per_min, 'mbar', first)} a minute")]
    if found.leak is not None:
        choked = found.leak.choked_l_per_min
        results += [
            ("Air drawn in while choked", f"{figure(choked)} l/min"),
            ("As one sharp-edged hole", f"{figure(found.leak.hole_mm())} mm"),
        ]
    return Answer(
        tuple(results),
        (
            f"{first} to {given['last']} in {minutes(seconds)}; the flow is choked above "
            f"{in_unit(critical_vacuum_mbar(), 'mbar', first)}.",
        ),
        (found.line.danger,),
    )


class HoldingForm(SumForm):
    """Ask for a vacuum cylinder, its leak, and when its pull is no longer enough."""

    cylinders = count_field("Vacuum cylinders")
    bore = AmountField("length", "mm", label="Bore of each")
    above_piston = AmountField("volume", "l", label="Room above the lowered piston")
    reservoir = AmountField(
        "volume",
        "l",
        label="Separate vacuum chamber, each",
        required=False,
        help_text=f"The combined kind carries it round itself. {OPEN_AIR}",
    )
    working = AmountField("vacuum", "inHg", label="Working vacuum")
    travel = AmountField("length", "mm", label="Piston lift")
    leak = AmountField(
        "air_flow",
        "l/min",
        label="Leak into one chamber",
        help_text="Free air drawn in while choked, as the train pipe's sum gives it.",
    )
    drops_at = AmountField(
        "vacuum",
        "inHg",
        label="Difference that is no longer enough",
        help_text="Across the piston; the operator's to set.",
    )


def holding(given: Given) -> Answer:
    """Work out how long an applied vacuum cylinder holds, and its pull at the start."""
    cylinder = VacuumCylinder(
        given["bore"].to("mm"),
        given["above_piston"].to("l"),
        amount_or(given, "reservoir", "l"),
    )
    working, lift = given["working"], given["travel"].to("mm")
    start = applied(cylinder, working_mbar=working.to("mbar"), lift_mm=lift)
    found = chamber_holding(
        cylinder,
        InwardLeak(given["leak"].to("l/min")),
        working_mbar=working.to("mbar"),
        lift_mm=lift,
        drops_at_mbar=given["drops_at"].to("mbar"),
    )
    first = in_unit(start.differential_mbar, "mbar", working)
    return Answer(
        (
            ("Holds for", minutes(found.seconds)),
            ("Difference across the piston at the start", first),
            ("Pull of one cylinder", f"{figure(start.pull_kn)} kN"),
            ("Pull of all", f"{figure(start.pull_kn * given['cylinders'])} kN"),
        ),
        (
            "Rising, the piston squeezes the air left above it from "
            f"{figure(cylinder.upper_l(0))} l to {figure(cylinder.upper_l(lift))} l, so pull "
            "falls with lift.",
            f"The atmosphere counts as {STANDARD_ATMOSPHERE_MBAR:.0f} mbar.",
        ),
        (found.line.danger,),
    )


VACUUM_SUMS = (
    Sum(
        "train-pipe-fall",
        "Train pipe fall",
        f"The fall of a train pipe that is shut off, and the leak behind it. "
        f"{LeakLine.TRAIN_PIPE.danger}",
        TrainPipeForm,
        pipe_fall,
        (
            "Isothermal ideal gas; the leak is a short hole to the atmosphere.",
            "Ends closed, exhauster shut off, brakes off.",
        ),
        LEAK_ENDS,
        "Isentropic nozzle flow; common practice for the two lines",
        System.VACUUM,
        ("vacuum_drop", "local_instruction"),
    ),
    Sum(
        "chamber-holding",
        "Vacuum cylinder holding",
        f"How long an applied vacuum cylinder holds. {LeakLine.CHAMBER.danger}",
        HoldingForm,
        holding,
        (
            "Boyle for the lift; the piston stays where it is until the difference is gone.",
            "All the leak goes into chamber and upper side, the train pipe at atmosphere.",
            "Pull is before the weight of the piston, friction and the rigging.",
        ),
        LEAK_ENDS,
        "Boyle's law and isentropic nozzle flow",
        System.VACUUM,
        ("vacuum_drop", "stabling", "local_instruction"),
    ),
)

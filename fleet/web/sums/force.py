"""Sums of force and stopping: block force, stopping distance, hand brake on a gradient."""

from django import forms

from fleet.engineering.force import (
    GRAVITY_M_PER_S2,
    Rigging,
    block_force,
    braked_weight_percentage,
    braking_ratio_percent,
    hand_brake,
    hand_brakes_needed,
    piston_force_kn,
    whole_percentage,
)
from fleet.engineering.stopping import BrakePosition, build_up_s, stopping_distance
from fleet.web.sums.amounts import AmountField, PlainNumberField, SpeedField
from fleet.web.sums.fields import OPEN_AIR, count_field
from fleet.web.sums.parts import Answer, Given, Sum, SumForm, amount_or, figure

GRIP = 0.15  # of the braked axles' weight on dry rail: common practice


class BlockForceForm(SumForm):
    """Ask for cylinder pressure and gear."""

    pressure = AmountField("pressure", "bar", label="Cylinder pressure")
    cylinders = count_field("Brake cylinders")
    bore = AmountField("length", "mm", label="Bore of each")
    ratio = PlainNumberField(
        label="Rigging ratio", help_text="From the pistons to all blocks together."
    )
    efficiency = PlainNumberField(
        label="Efficiency", help_text="What friction leaves, above 0 and up to 1."
    )
    blocks = count_field("Brake blocks")
    spring = AmountField(
        "force",
        "N",
        label="Return spring, each cylinder",
        required=False,
        help_text=OPEN_AIR,
    )
    mass = AmountField("mass", "t", label="Mass of the vehicle")


def forces(given: Given) -> Answer:
    """Work out the force of the blocks and its share of the weight."""
    count: int = given["cylinders"]
    piston = piston_force_kn(given["pressure"].to("bar"), given["bore"].to("mm"))
    gear = Rigging(
        ratio=given["ratio"],
        efficiency=given["efficiency"],
        blocks=given["blocks"],
        return_kn=amount_or(given, "spring", "kN") * count,
    )
    found = block_force(piston * count, gear)
    share = braking_ratio_percent(found.total_kn, given["mass"].to("t"))
    return Answer(
        (
            ("Force of all blocks", f"{figure(found.total_kn)} kN"),
            ("Force of one block", f"{figure(found.per_block_kn)} kN"),
            ("Block force over weight", f"{figure(share)} %"),
        ),
        (
            f"Pressure times area gives {figure(piston)} kN at each piston, "
            f"{figure(found.piston_kn)} kN together.",
            f"Less the springs, times {gear.ratio:g}: {figure(found.lossless_kn)} kN without "
            f"losses, of which friction leaves {gear.efficiency:.0%}.",
        ),
        ("Block force over weight is not the braked weight percentage.",),
    )


class GradientForm(SumForm):
    """Ask for a gradient as railways write it."""

    gradient = PlainNumberField(
        label="Gradient, 1 in", required=False, help_text="Empty where it is level."
    )


def rise_over_run(given: Given) -> float:
    """Return the gradient as rise over run; raises ValueError for 1 in less than 1."""
    one_in: float | None = given.get("gradient")
    if one_in is None:
        return 0.0
    if one_in < 1:
        raise ValueError("Give the gradient as 1 in 77: a number of 1 or more.")
    return 1 / one_in


class StoppingForm(GradientForm):
    """Ask for what a train brakes with."""

    braked_weight = AmountField(
        "mass", "t", label="Braked weight", help_text="Only of brakes that work."
    )
    mass = AmountField("mass", "t", label="Mass of the train")
    speed = SpeedField(label="Speed")
    length_m = PlainNumberField(label="Length of the train (m)")
    position = forms.ChoiceField(
        label="Worked as", choices=[(one.name, str(one)) for one in BrakePosition]
    )
    falls = forms.ChoiceField(
        label="Which way", choices=[("falls", "The line falls"), ("rises", "It rises")]
    )
    field_order = (
        "go", "braked_weight", "mass", "speed", "length_m", "position", "gradient", "falls"
    )  # fmt: skip


def stopping(given: Given) -> Answer:
    """Work out λ and a stopping distance by the published conversion model."""
    share = braked_weight_percentage(
        given["braked_weight"].to("t"), given["mass"].to("t")
    )
    whole = whole_percentage(share)
    position = BrakePosition[given["position"]]
    free = build_up_s(position, given["length_m"])
    falls = rise_over_run(given) * (1 if given["falls"] == "falls" else -1)
    stop = stopping_distance(whole, given["speed"].to("km"), free_s=free, falls=falls)
    return Answer(
        (
            ("Braked weight percentage", f"{whole} %"),
            ("Stopping distance by the model", f"{stop.total_m:.0f} m"),
            ("Of that before the brake acts", f"{stop.free_m:.0f} m"),
        ),
        (
            f"{given['braked_weight']} over {given['mass']}: {share:.1f} %, rounded down.",
            f"Build-up {figure(free)} s at full speed, then {stop.braking_m:.0f} m of braking "
            "in bands of speed.",
        ),
        ("No stopping distance is promised by this figure.",),
    )


class HandBrakeForm(GradientForm):
    """Ask for a hand brake, a mass and a gradient."""

    hand_brake = AmountField(
        "force",
        "kN",
        label="Force of the blocks, wound on",
        help_text="All blocks together.",
    )
    friction = PlainNumberField(
        label="Friction, block on wheel at rest",
        help_text="The operator's figure for these blocks, above 0 and up to 1.",
    )
    mass = AmountField("mass", "t", label="Mass of the vehicle")
    margin = PlainNumberField(
        label="Times the pull it must hold",
        initial="1",
        help_text="1 is no margin at all.",
    )
    vehicles = count_field("Such vehicles coupled together")
    field_order = (
        "go",
        "hand_brake",
        "friction",
        "mass",
        "gradient",
        "margin",
        "vehicles",
    )


def holding_on_a_gradient(given: Given) -> Answer:
    """Work out whether a hand brake holds, and how many hold the vehicles coupled."""
    mass, margin = given["mass"].to("t"), given["margin"]
    force = given["hand_brake"].to("kN")
    found = hand_brake(
        force, given["friction"], mass, rise_over_run(given), margin=margin
    )
    results = [
        ("The gradient pulls", f"{figure(found.pulls_kn)} kN"),
        ("The blocks can hold", f"{figure(found.holding_kn)} kN"),
        ("By this sum it", "holds" if found.holds else "does not hold"),
    ]
    if found.steepest > 0:
        results.append(("Equal on a gradient of", f"1 in {figure(1 / found.steepest)}"))
    if given["vehicles"] > 1 and found.holding_kn > 0:
        pull = found.pulls_kn * given["vehicles"]
        needed = hand_brakes_needed(pull, found.holding_kn, margin=margin)
        results.append(("Hand brakes for all", _of(needed, given["vehicles"])))
    mind: tuple[str, ...] = ("A calculation is no leave to go without scotches.",)
    if found.holding_kn > GRIP * mass * GRAVITY_M_PER_S2:
        mind = (
            *mind,
            f"The blocks would hold more than about {GRIP:g} of the weight, which is what "
            "rail and wheel give: the wheels slide first.",
        )
    return Answer(
        tuple(results),
        (
            "Block force times friction against mass times g times the sine of the gradient, times "
            f"{margin:g}. No wind and no bearing friction.",
        ),
        mind,
    )


def _of(needed: int, there: int) -> str:
    return (
        f"{needed} of {there}" if needed <= there else f"{needed}: more than there are"
    )


FORCE_SUMS = (
    Sum(
        "block-force",
        "Block force",
        "The force of the blocks from cylinder pressure, bore and rigging.",
        BlockForceForm,
        forces,
        (
            "Pressure times area; one efficiency for the whole gear; static.",
            "Ratio, efficiency and losses are the type's figures.",
        ),
        ("A worn, dry or bent rigging has less. Only a measurement tells.",),
        "UIC 544-1, dynamic brake force of block brakes (from memory), with one efficiency",
        cautions=("drain_and_vent", "local_instruction"),
    ),
    Sum(
        "stopping-distance",
        "Braked weight and stopping distance",
        "The braked weight percentage of a train, and a stopping distance to compare with.",
        StoppingForm,
        stopping,
        (
            "A conversion model made for emergency brake curves, without its correction "
            "factors; dry rail.",
            "Braked weights from plate or papers, not from this sum.",
        ),
        (
            "30 to 250 %, up to 200 km/h, 900 m in passenger and 1 500 m in goods working.",
            "Vacuum brakes build up otherwise; the model is not made for them.",
            "Speed gained on a falling line before the brake acts is not counted.",
        ),
        "ERTMS/ETCS SUBSET-026-3, A.3.7 to A.3.9; UIC 544-1 for the percentage",
        None,
    ),
    Sum(
        "hand-brake",
        "Hand brake on a gradient",
        "Whether a hand brake holds standing vehicles, by block force and friction.",
        HandBrakeForm,
        holding_on_a_gradient,
        ("Friction as given; every wheel with a block grips alike.",),
        (
            "Wet, greasy or iced blocks hold far less; friction fades as blocks cool and set.",
            "More than about 0.15 of the weight on the braked axles cannot be held: the "
            "wheels slide (common practice).",
        ),
        "Statics; common practice for grip",
        None,
        ("stabling", "movement", "local_instruction"),
    ),
)

"""Sums of the air brake: equalisation, cylinder pressure by either model."""

from django import forms

from fleet.engineering.air import (
    TRADE_RATIO,
    Distributor,
    Model,
    direct_release,
    direct_release_linear,
    equalise,
    full_application,
    full_reduction_bar,
    graduated_release,
)
from fleet.web.sums.amounts import AmountField
from fleet.web.sums.fields import ReservoirForm, cylinder_of, reservoir_of
from fleet.web.sums.parts import (
    Answer,
    Given,
    Ledger,
    Sum,
    SumForm,
    amount_or,
    figure,
    in_unit,
)

BOYLE_ASSUMES = (
    "Isothermal ideal gas, absolute pressures, an atmosphere of 1.013 bar (Boyle).",
    "The reservoir is not fed meanwhile, nothing leaks, the release spring weighs nothing.",
)
BOYLE_ENDS = (
    "A fast application cools the reservoir and reads low at first; wait, then read.",
    "A weak reservoir that does not push the piston right out gives no pressure at all.",
)
STEPS = 8  # rows of the tables


class EqualisationForm(ReservoirForm):
    """Ask also for what the distributor is set to."""

    full = AmountField(
        "pressure",
        "bar",
        label="Full cylinder pressure of the distributor",
        required=False,
        help_text="Empty for a direct-release valve, which has no such setting.",
    )
    field_order = ("cylinders", "bore", "travel", "clearance", "reservoir", "charged")


def equalisation(given: Given) -> Answer:
    """Work out where reservoir and cylinders equalise, and what a full application gives."""
    cylinder, reservoir, charged = (
        cylinder_of(given),
        reservoir_of(given),
        given["charged"],
    )
    even = equalise(reservoir, cylinder).bar
    drop = full_reduction_bar(reservoir, cylinder)
    results = [
        ("Reservoir and cylinders equalise at", in_unit(even, "bar", charged)),
        ("Reduction beyond which nothing is gained", in_unit(drop, "bar", charged)),
    ]
    working = [
        f"The pistons sweep {figure(cylinder.swept_l)} l; clearance and pipe add "
        f"{figure(cylinder.dead_l)} l that hold air at atmospheric pressure.",
        f"({figure(reservoir.bar)} bar + 1.013) times {figure(reservoir.volume_l)} l, and that "
        f"air, shared among {figure(reservoir.volume_l + cylinder.filled_l)} l, less 1.013 "
        f"bar: {figure(even)} bar.",
    ]
    mind: tuple[str, ...] = ()
    if given.get("full") is not None:
        setting = given["full"].to("bar")
        # The drop plays no part in what a full application reaches.
        found = full_application(Distributor(setting, setting), reservoir, cylinder)
        results.append(("Full application", in_unit(found.bar, "bar", charged)))
        results.append(
            ("Left in the reservoir", in_unit(found.reservoir_bar, "bar", charged))
        )
        if found.limited_by_reservoir:
            mind = (
                "The reservoir gives out before the distributor's setting is reached: long "
                "travel or a small reservoir. Look for the cause.",
            )
    return Answer(tuple(results), tuple(working), mind)


class DirectForm(ReservoirForm):
    """Ask which of the two models is to be used."""

    model = forms.ChoiceField(
        label="Reckon by",
        choices=[(one.name, str(one)) for one in (Model.BOYLE, Model.LINEAR_RULE)],
        help_text="Two models that differ. A result of one is never held against the other.",
    )
    reduction = AmountField("pressure", "bar", label="Brake pipe reduction")


def direct(given: Given) -> Answer:
    """Work out the cylinder pressure of a direct-release valve, by the model chosen."""
    charged, drop = given["charged"], given["reduction"]
    model = Model[given["model"]]
    pipe = _pipe_bar(charged.to("bar"), drop.to("bar"))
    found = _direct_bar(given, model, pipe)
    words = f"After a reduction of {drop}"
    if model is Model.BOYLE:
        working = (
            "The valve feeds until the reservoir has fallen to the pipe: reduction times "
            "reservoir ÷ volume filled, less the atmosphere; never above equalisation.",
        )
    else:
        working = (
            f"{TRADE_RATIO:g} bar in the cylinder for each bar of reduction, up to "
            "equalisation by the same rule. It knows neither volumes nor travel.",
        )
    return Answer(
        ((words, in_unit(found, "bar", charged)),),
        working,
        (),
        _direct_ledger(given, model),
    )


def _direct_bar(given: Given, model: Model, pipe_bar: float) -> float:
    if model is Model.LINEAR_RULE:
        return direct_release_linear(given["charged"].to("bar"), pipe_bar).bar
    return direct_release(reservoir_of(given), pipe_bar, cylinder_of(given)).bar


def _direct_ledger(given: Given, model: Model) -> Ledger:
    charged = given["charged"]
    bar = charged.to("bar")
    drops = [bar * 0.4 * n / STEPS for n in range(1, STEPS + 1)]
    rows = tuple(
        (
            in_unit(drop, "bar", charged),
            in_unit(_direct_bar(given, model, bar - drop), "bar", charged),
        )
        for drop in drops
    )
    return Ledger(f"Model: {model}", ("Reduction", "Cylinder"), rows)


def _pipe_bar(charged_bar: float, drop_bar: float) -> float:
    if drop_bar > charged_bar:
        raise ValueError("The reduction is more than the pipe is charged to.")
    return charged_bar - drop_bar


class GraduatedForm(SumForm):
    """Ask for the settings of a distributor."""

    full = AmountField("pressure", "bar", label="Full cylinder pressure")
    drop = AmountField("pressure", "bar", label="Pipe drop of a full application")
    starts = AmountField(
        "pressure", "bar", label="Drop at which it starts", required=False
    )
    first = AmountField(
        "pressure", "bar", label="First step in the cylinder", required=False
    )
    reduction = AmountField("pressure", "bar", label="Brake pipe reduction")


def graduated(given: Given) -> Answer:
    """Work out the cylinder pressure of a graduated-release distributor."""
    set_to = Distributor(
        full_cylinder_bar=given["full"].to("bar"),
        full_drop_bar=given["drop"].to("bar"),
        starts_at_drop_bar=amount_or(given, "starts", "bar"),
        first_step_bar=amount_or(given, "first", "bar"),
    )
    drop, full = given["reduction"], given["full"]
    found = graduated_release(set_to, drop.to("bar"))
    steps = [set_to.full_drop_bar * n / STEPS for n in range(1, STEPS + 1)]
    rows = tuple(
        (
            in_unit(step, "bar", drop),
            in_unit(graduated_release(set_to, step).bar, "bar", full),
        )
        for step in steps
    )
    return Answer(
        (
            (f"After a reduction of {drop}", in_unit(found.bar, "bar", full)),
            ("Stage", str(found.stage)),
        ),
        (
            f"A straight line from 0 to {full} at a drop of {given['drop']}, the same on the "
            "way off; below the drop at which it starts, none.",
        ),
        (),
        Ledger(f"Model: {Model.GRADUATED}", ("Reduction", "Cylinder"), rows),
    )


AIR_SUMS = (
    Sum(
        "equalisation",
        "Equalisation and full application",
        "Where an auxiliary reservoir and its cylinders equalise, and what a full "
        "application can reach at a piston travel.",
        EqualisationForm,
        equalisation,
        BOYLE_ASSUMES,
        BOYLE_ENDS,
        "Boyle's law; anchored by US Army TM 55-203: 70 psi and 8 in of travel equalise "
        "at 50 psi",
    ),
    Sum(
        "direct-release",
        "Cylinder pressure, direct release",
        "What a triple valve gives for a reduction. It does not let a part off again.",
        DirectForm,
        direct,
        (*BOYLE_ASSUMES, "The linear rule: standard travel and pressures near 5 bar."),
        (
            *BOYLE_ENDS,
            "The linear rule reads high for small reductions; it is a rule of thumb.",
        ),
        "Boyle's law; linear rule: common practice, as in A. Krug, North American freight "
        "train brakes, and M. S. Shade, 1000 Air-Brake Questions (1913)",
    ),
    Sum(
        "graduated-release",
        "Cylinder pressure, graduated release",
        "What a distributor gives for a reduction, on the way on and on the way off.",
        GraduatedForm,
        graduated,
        (
            "A straight line between start and full application.",
            "The drop counts from the control reservoir's pressure.",
        ),
        (
            "Real distributors keep to the line within about 0.2 bar.",
            "An overcharged control reservoir means a drop at running pressure, and a brake "
            "that drags.",
        ),
        "Settings are the operator's; 3.8 bar at a drop of 1.5 bar is usual, the 1.5 bar "
        "from memory of UIC 540",
    ),
)

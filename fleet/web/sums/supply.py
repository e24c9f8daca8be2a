"""Sums of the air supply: what an application takes, recharging, a leak as free air."""

from django import forms

from fleet.engineering.charging import air_per_application, recharge
from fleet.engineering.flow import (
    SHARP_EDGED,
    STANDARD_ATMOSPHERE_BAR,
    WELL_ROUNDED,
    Choke,
)
from fleet.engineering.leakage import free_air_l_per_min, start_over_mean
from fleet.web.sums.amounts import Amount, AmountField
from fleet.web.sums.fields import CylinderForm, count_field, cylinder_of
from fleet.web.sums.parts import Answer, Given, Sum, SumForm, amount_or, figure, minutes

SMALL_DROP = 0.05  # of the absolute pressure, up to which a straight line holds


class AirUsedForm(CylinderForm):
    """Ask for cylinder pressure, brake pipe and the number of vehicles."""

    pressure = AmountField("pressure", "bar", label="Cylinder pressure reached")
    pipe = AmountField("volume", "l", label="Brake pipe of the vehicle", required=False)
    reduction = AmountField(
        "pressure", "bar", label="Brake pipe reduction", required=False
    )
    vehicles = count_field("Such vehicles in the train")
    delivery = AmountField(
        "air_flow",
        "l/min",
        label="Compressor, free air",
        required=False,
        help_text="For how long it takes to make the air up.",
    )


def air_used(given: Given) -> Answer:
    """Work out the free air of one application and release."""
    used = air_per_application(
        cylinder_of(given),
        given["pressure"].to("bar"),
        brake_pipe_l=amount_or(given, "pipe", "l"),
        pipe_drop_bar=amount_or(given, "reduction", "bar"),
    )
    total = used.total_l * given["vehicles"]
    results = [
        ("Free air, one vehicle", f"{figure(used.total_l)} l"),
        ("Free air, the train", f"{figure(total)} l"),
    ]
    if given.get("delivery") is not None:
        flow = given["delivery"].to("l/min")
        if flow <= 0:
            raise ValueError("The compressor must deliver more than 0 l/min.")
        results.append(("Time to make it up", minutes(60 * total / flow)))
    return Answer(
        tuple(results),
        (
            f"Cylinders: {figure(used.cylinder_l)} l, lost at release, with the air that "
            "only pushes the pistons out.",
            f"Brake pipe: {figure(used.brake_pipe_l)} l, lost when it is reduced.",
        ),
    )


class RechargeForm(SumForm):
    """Ask for vessel, choke and supply."""

    reservoir = AmountField("volume", "l", label="Volume to recharge")
    choke = AmountField("length", "mm", label="Choke, diameter")
    shape = forms.ChoiceField(
        label="Shape of the hole",
        choices=[
            (str(SHARP_EDGED), f"Sharp-edged, coefficient {SHARP_EDGED}"),
            (str(WELL_ROUNDED), f"Well rounded, coefficient {WELL_ROUNDED}"),
        ],
    )
    low = AmountField("pressure", "bar", label="From")
    high = AmountField("pressure", "bar", label="To")
    supply = AmountField("pressure", "bar", label="Supply pressure")
    celsius = AmountField(
        "temperature",
        "°C",
        label="Air temperature",
        initial=Amount(20, "°C"),  # type: ignore[arg-type]
    )


def recharging(given: Given) -> Answer:
    """Work out the time to recharge a reservoir through a choke."""
    choke = Choke(given["choke"].to("mm"), float(given["shape"]))
    found = recharge(
        given["reservoir"].to("l"),
        choke,
        from_bar=given["low"].to("bar"),
        to_bar=given["high"].to("bar"),
        supply_bar=given["supply"].to("bar"),
        celsius=given["celsius"].to("°C"),
    )
    return Answer(
        (
            ("Time to recharge", minutes(found.seconds)),
            ("Of that choked", minutes(found.choked_seconds)),
        ),
        (
            f"A hole of {figure(choke.area_mm2)} mm² with a coefficient of "
            f"{choke.coefficient:g}. While the vessel is below about half the absolute "
            "supply pressure the flow is choked and steady; above, it eases off.",
        ),
    )


class LeakForm(SumForm):
    """Ask for a volume and two readings of it."""

    pipe = AmountField("volume", "l", label="Volume that leaks")
    first = AmountField("pressure", "bar", label="First pressure")
    last = AmountField("pressure", "bar", label="Last pressure")
    time = AmountField("time", "min", label="Time between")


def leak(given: Given) -> Answer:
    """Work out the free air behind a fall of pressure."""
    first, last = given["first"].to("bar"), given["last"].to("bar")
    time = given["time"].to("min")
    if time <= 0:
        raise ValueError("The time between the readings must be more than 0 min.")
    rate = (first - last) / time
    flow = free_air_l_per_min(given["pipe"].to("l"), rate)
    start = start_over_mean(first, last)
    mind: tuple[str, ...] = ()
    if (first - last) > SMALL_DROP * (first + STANDARD_ATMOSPHERE_BAR):
        mind = (
            f"A large drop: at the start the leak was about {start:.2f} times the mean. "
            "Compare only falls from the same pressure.",
        )
    return Answer(
        (("Rate", f"{figure(rate)} bar/min"), ("Free air", f"{figure(flow)} l/min")),
        (
            f"{figure(first)} bar less {figure(last)} bar in {figure(time)} min.",
            "Volume times fall ÷ (1.013 bar times time).",
        ),
        mind,
    )


SUPPLY_SUMS = (
    Sum(
        "air-used",
        "Air for one application",
        "The free air that one application and release takes, to be made up afterwards.",
        AirUsedForm,
        air_used,
        ("Isothermal ideal gas.", "Every vehicle of the train alike."),
        ("Leakage, and what the compressor loses on the way, come on top.",),
        "Ideal gas",
    ),
    Sum(
        "recharge",
        "Time to recharge",
        "How long a reservoir takes to recharge through its choke.",
        RechargeForm,
        recharging,
        (
            "Isentropic flow through a short hole; the vessel stays at one temperature.",
            "The supply holds its pressure.",
        ),
        (
            "Up to 99 % of the absolute supply pressure; the last of the air takes for ever.",
            "Vessels filled within seconds warm up, and the time is some ten per cent out.",
            "At the end of a long train the supply does not hold: it takes longer.",
        ),
        "Isentropic nozzle flow; agrees with S. A. Moss (American Machinist, 1906) "
        "within 0.3 %",
    ),
    Sum(
        "leak-flow",
        "A leak as free air",
        "The flow of free air behind a fall of pressure in a closed volume.",
        LeakForm,
        leak,
        ("Ideal gas at one temperature; a closed volume, no feed.",),
        (
            "Cooling air falls without a leak: let it settle, or correct for temperature on "
            "the form of the test.",
            "Vacuum leaks inward by another law: see the train pipe's own sum.",
        ),
        "Ideal gas; 40 CFR 1065.644, Eq. 1, has the same structure",
        cautions=("pressure_joint", "local_instruction"),
    ),
)

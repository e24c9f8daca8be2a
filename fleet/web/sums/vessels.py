"""The sum of reservoirs: required wall, rated and proof pressure, telltale, bar litres."""

from typing import Any

from django import forms

from fleet.engineering.units import scaled
from fleet.engineering.vessels import (
    PROOF_FACTOR,
    Head,
    head_pressure,
    pressure_volume_bar_litre,
    proof_pressure,
    rated_pressure,
    shell_pressure,
    telltale_depth_in,
)
from fleet.engineering.walls import BAR_IN_A_MPA, WallFigures, required_wall
from fleet.register.vocabulary import DiameterAt, VesselEnd, head_of
from fleet.web.sums.amounts import AmountField, PlainNumberField
from fleet.web.sums.parts import Answer, Given, Sum, SumForm, figure, in_unit

INCH_MM = 25.4


class WallForm(SumForm):
    """Ask for what the formulas of a reservoir's wall need, and what was measured."""

    working_pressure = AmountField("pressure", "bar", label="Working pressure")
    diameter = AmountField("length", "mm", label="Diameter")
    measured = forms.ChoiceField(
        label="Diameter measured", choices=DiameterAt.choices()[1:]
    )
    stress = PlainNumberField(
        label="Allowable stress (MPa)",
        help_text="Of the material, as its drawing or standard gives it.",
    )
    joint = PlainNumberField(
        label="Joint efficiency", help_text="Of the worst joint: above 0, up to 1."
    )
    ends = forms.ChoiceField(label="Shape of the ends", choices=VesselEnd.choices()[1:])
    crown = AmountField(
        "length",
        "mm",
        label="Crown radius of the ends",
        required=False,
        help_text="Inside; of dished and flanged ends only.",
    )
    wall = AmountField(
        "length",
        "mm",
        label="Thinnest wall measured",
        required=False,
        help_text="For what pressure the vessel is good at that wall.",
    )
    contents = AmountField("volume", "l", label="Volume", required=False)


def wall(given: Given) -> Answer:
    """Work out what a reservoir of pressed or welded plate requires, and is good for."""
    figures = _figures(given)
    required = required_wall(None, figures)
    if required.thickness_mm is None:
        raise ValueError(f"{required.basis[:1].upper()}{required.basis[1:]}.")
    bar = given["working_pressure"].to("bar")
    like = given["diameter"]
    results = [
        ("Required wall", in_unit(required.thickness_mm, "mm", like)),
        ("Proof pressure", _pressure(proof_pressure(bar), given)),
        ("Telltale holes, depth", in_unit(_telltale_mm(figures), "mm", like)),
    ]
    mind: list[str] = []
    if given.get("wall") is not None:
        good_for = _good_for_bar(figures, given["wall"].to("mm"))
        results.append(("Good for, at the wall measured", _pressure(good_for, given)))
        if good_for < bar:
            mind.append(
                "The wall measured is below what the working pressure requires: isolate, "
                "drain and label it."
            )
    if given.get("contents") is not None:
        stored = pressure_volume_bar_litre(bar, given["contents"].to("l"))
        results.append(("Pressure times volume", f"{figure(stored)} bar·litre"))
    return Answer(tuple(results), _working(required.basis), tuple(mind))


def _working(basis: str) -> tuple[str, ...]:
    return (
        f"Required: {basis.partition(', as ')[0]}, the greater of the two.",
        f"Proof: {PROOF_FACTOR:g} times the working pressure (49 CFR 229.31(a)). Whether "
        "and how to prove, the written scheme says.",
        "Telltale holes, from outside: 0.6 times P·R ÷ (S - 0.6·P), at least 1/16 in "
        "(49 CFR 229.31(c)), by the stress given.",
    )


def _figures(given: Given) -> WallFigures:
    head = head_of(given["ends"])
    crown = given.get("crown")
    if head is Head.TORISPHERE and crown is None:
        raise ValueError("Give the crown radius of dished and flanged ends.")
    return WallFigures(
        pressure_bar=given["working_pressure"].to("bar"),
        diameter_mm=given["diameter"].to("mm"),
        outside=given["measured"] == DiameterAt.OUTSIDE,
        stress_mpa=given["stress"],
        efficiency=given["joint"],
        head=head,
        crown_mm=crown.to("mm") if crown else None,
    )


def _good_for_bar(figures: WallFigures, wall_mm: float) -> float:
    """Return what shell and ends are rated for at a wall, the weaker of the two."""
    head = figures.head
    stress, joint = figures.stress_mpa or 0.0, figures.efficiency or 0.0
    inside = (figures.diameter_mm or 0.0) - (2 * wall_mm if figures.outside else 0.0)
    sizes = {
        Head.ELLIPSE: inside,
        Head.HEMISPHERE: inside / 2,
        Head.TORISPHERE: figures.crown_mm or 0.0,
    }
    assert head is not None
    shell = shell_pressure(wall_mm, inside / 2, stress, joint)
    ends = head_pressure(head, wall_mm, sizes[head], stress, joint)
    return BAR_IN_A_MPA * rated_pressure(shell, ends)


def _telltale_mm(figures: WallFigures) -> float:
    psi = scaled(figures.pressure_bar or 0.0, "bar", "psi")
    stress = scaled((figures.stress_mpa or 0.0) * BAR_IN_A_MPA, "bar", "psi")
    radius = (figures.diameter_mm or 0.0) / 2 / INCH_MM
    return telltale_depth_in(psi, radius, stress) * INCH_MM


def _pressure(bar: float, given: Given) -> Any:
    return in_unit(bar, "bar", given["working_pressure"])


VESSEL_SUMS = (
    Sum(
        "reservoir-wall",
        "Wall of a reservoir",
        "The wall that shell and ends require, what a thinner one is good for, and the "
        "proof pressure.",
        WallForm,
        wall,
        (
            "A thin, round, sound steel wall under pressure from within, at the "
            "temperature of the air about it.",
            "No corrosion to come is allowed for, and no least plate of a code.",
        ),
        (
            "A minimum on drawing or plate goes before this sum.",
            "Dents, grooves, the edge of an opening, flat ends and a vacuum within are not "
            "covered.",
            "A wall thicker than half the radius, or an end thinner than a five-hundredth "
            "of its crown radius, is refused.",
        ),
        "ASME VIII-1 UG-27(c)(1), UG-32(d) and (e); from an outside diameter Appendix "
        "1-1(a)(1)",
        system=None,
        cautions=("pressure_test", "local_instruction"),
    ),
)

"""The demo's reservoirs whose walls were measured, and what came of it."""

from collections.abc import Mapping
from decimal import Decimal
from typing import Any

from fleet.config.demo.line import Line, make_test
from fleet.register.services.equipment import alter_equipment
from fleet.register.vocabulary import DiameterAt, VesselEnd

Ratings = Mapping[str, Any]
PLATED: Ratings = {"minimum_thickness_mm": Decimal(4)}
WITHIN_MM = Decimal("0.1")
Survey = tuple[int, str, str, str]  # days ago; belly, crown and end, mm


def thins_fast(line: Line) -> None:
    """Its belly thins so fast that it is due long before its five years are over."""
    _surveyed(line, "T 102", (1500, "6.3", "6.4", "6.6"), (330, "4.9", "6.2", "6.5"))


def half_its_life_over(line: Line) -> None:
    """It was to be measured again months ago."""
    _surveyed(line, "W 706", (1600, "5.5", "5.8", "6.0"), (500, "4.6", "5.6", "5.9"))


def too_thin(line: Line) -> None:
    """Water stood in it: the belly is below what the plate asks for."""
    _surveyed(line, "W 707", (20, "3.8", "5.4", "5.7"))


def judged_by_formula(line: Line) -> None:
    """Its plate is painted over: what its drawing says of the rest is enough."""
    figures = {
        "working_pressure_bar": Decimal(7),
        "diameter_mm": Decimal(400),
        "diameter_at": DiameterAt.INSIDE,
        "material": "Mild steel plate",
        "allowable_stress_mpa": Decimal(100),
        "joint_efficiency": Decimal("0.7"),
        "end_shape": VesselEnd.ELLIPSE,
    }
    _surveyed(line, "W 709", (400, "4.6", "4.8", "4.9"), ratings=figures)


def _surveyed(
    line: Line, number: str, *surveys: Survey, ratings: Ratings = PLATED
) -> None:
    item = line.fitting(number, "aux-res").equipment
    alter_equipment(
        by=line.by,
        equipment=item,
        since=line.ago(surveys[0][0], None),
        particulars=ratings,
    )
    for days, belly, crown, end in surveys:
        points = (("Belly", belly), ("Crown", crown), ("No. 1 end", end))
        make_test(
            line,
            "aux-reservoir-exam",
            line.ago(days, 10),
            equipment=item,
            thicknesses=[(point, Decimal(mm), WITHIN_MM) for point, mm in points],
        )

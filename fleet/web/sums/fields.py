"""Groups of fields several sums ask for, named alike so that figures fill them."""

from typing import Any

from django import forms

from fleet.engineering.air import Cylinder, Reservoir
from fleet.web.sums.amounts import Amount, AmountField
from fleet.web.sums.parts import Given, SumForm, amount_or

OPEN_AIR = "Leave it empty where it is not known; it then counts as none."


def count_field(label: str, **options: Any) -> forms.IntegerField:
    """Return a field for how many there are."""
    options.setdefault("initial", 1)
    return forms.IntegerField(label=label, min_value=1, max_value=999, **options)


class CylinderForm(SumForm):
    """Ask for the cylinders of a vehicle."""

    cylinders = count_field("Brake cylinders")
    bore = AmountField("length", "mm", label="Bore of each")
    travel = AmountField("length", "mm", label="Piston travel")
    clearance = AmountField(
        "volume",
        "l",
        label="Clearance and pipe, each",
        required=False,
        help_text=f"The room behind the released piston. {OPEN_AIR}",
    )


class ReservoirForm(CylinderForm):
    """Ask for the cylinders and the reservoir that fills them."""

    reservoir = AmountField("volume", "l", label="Auxiliary reservoir")
    charged = AmountField("pressure", "bar", label="Charged to")


def cylinder_of(given: Given) -> Cylinder:
    """Return all cylinders as one: the same bore, the travel times their number."""
    count: int = given["cylinders"]
    return Cylinder(
        bore_mm=given["bore"].to("mm"),
        travel_mm=given["travel"].to("mm") * count,
        clearance_l=amount_or(given, "clearance", "l") * count,
    )


def reservoir_of(given: Given) -> Reservoir:
    """Return the reservoir as charged."""
    charged: Amount = given["charged"]
    return Reservoir(charged.to("bar"), given["reservoir"].to("l"))

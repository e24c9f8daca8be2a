"""Numbers borne once whatever their capitals, and ratings of reservoirs that can be."""

import pytest
from django.core.exceptions import ValidationError

from fleet.records.deeds import deed
from fleet.records.refusing import codes_of
from fleet.records.versions import correct_version
from fleet.register.models import EquipmentVersion, VehicleVersion
from tests.register.factories import make_equipment, make_vehicle

pytestmark = pytest.mark.django_db


@pytest.mark.parametrize(
    ("kind", "given", "field", "code"),
    [
        ("auxiliary_reservoir", {"diameter_mm": 400}, "diameter_at", "half_a_diameter"),
        ("auxiliary_reservoir", {"diameter_at": "inside"}, "diameter_mm", None),
        ("auxiliary_reservoir", {"crown_radius_mm": 400}, "crown_radius_mm", None),
        ("auxiliary_reservoir", {"joint_efficiency": "1.2"}, "joint_efficiency", None),
        (
            "auxiliary_reservoir",
            {"minimum_thickness_mm": 0},
            "minimum_thickness_mm",
            None,
        ),
        ("vacuum_reservoir", {"joint_efficiency": "0.7"}, "joint_efficiency", None),
    ],
)
def test_figures_of_a_reservoir_that_cannot_be_are_refused_at_their_field(
    kind, given, field, code
):
    with pytest.raises(ValidationError) as refused:
        make_equipment(kind, particulars=given)

    assert list(refused.value.error_dict) == [field]
    assert code is None or codes_of(refused.value) == {code}


@pytest.mark.parametrize(
    ("borne", "asked"), [("T 1", "t 1"), ("t 1", " T  1 "), ("Dü 3", "dü 3")]
)
def test_numbers_that_differ_by_capitals_or_spaces_alone_are_one_number(borne, asked):
    make_vehicle(number=borne)

    with pytest.raises(ValidationError) as refusal:
        make_vehicle(number=asked)

    assert codes_of(refusal.value) == {"number_taken"}
    assert list(refusal.value.error_dict) == ["number"]


def test_the_database_itself_refuses_a_number_borne_in_other_capitals():
    make_vehicle(number="T 1")
    row = VehicleVersion.objects.get(vehicle=make_vehicle(number="T 2"))

    with (
        pytest.raises(ValidationError) as refusal,
        deed("test.write", by=None) as entry,
    ):
        correct_version(row, entry=entry, reason="misread", number="t 1")

    assert codes_of(refusal.value) == {"number_taken"}


def test_the_database_itself_refuses_a_serial_borne_in_other_capitals():
    make_equipment(serial="D 1")
    row = EquipmentVersion.objects.get(equipment=make_equipment(serial="D 2"))

    with (
        pytest.raises(ValidationError) as refusal,
        deed("test.write", by=None) as entry,
    ):
        correct_version(row, entry=entry, reason="misread", serial="d 1")

    assert codes_of(refusal.value) == {"serial_taken"}

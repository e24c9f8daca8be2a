"""The thinnest place of a vessel: entered once, in the survey, and judged on its line."""

from decimal import Decimal

import pytest
from django.core.exceptions import ValidationError
from django.urls import reverse

from fleet.examination.models import TestRecord
from fleet.examination.vocabulary import Answer, Found, LineKind, Result
from fleet.register.vocabulary import EquipmentKind
from tests.examination.factories import (
    TESTED,
    make_bench_test,
    make_person,
    make_test,
    measured,
    question,
)
from tests.register.factories import make_equipment

pytestmark = pytest.mark.django_db

KIND = EquipmentKind.AUXILIARY_RESERVOIR
POINTS = [
    ("Belly", Decimal("3.8"), Decimal("0.1")),
    ("Crown", Decimal("5.4"), Decimal("0.1")),
]


def examination():
    """A reservoir's thinnest place, 4 mm at least, and the survey it is taken from."""
    return make_bench_test(
        "reservoir",
        KIND,
        lines=[
            measured("Thinnest place", "length", "mm", "4", finds=Found.THINNEST),
            question("Thickness at named points")
            | {"kind": LineKind.SURVEY, "required": False},
        ],
    )


def examined(*readings):
    return make_test(
        procedure=examination(), equipment=make_equipment(KIND), readings=readings
    )


def test_the_thinnest_point_of_the_survey_is_judged_without_being_typed_again():
    record = examined({"line": 2, "thicknesses": POINTS})

    thinnest = record.readings.get(line__order=1)
    assert thinnest.given == "3.8 mm"
    assert thinnest.answer == Answer.NOT_MET
    assert thinnest.note == "From the survey: Belly"
    assert record.result is Result.FAILED


def test_without_a_survey_the_thinnest_place_is_typed():
    record = examined({"line": 1, "value": "4.2", "unit": "mm"})

    assert record.readings.get().given == "4.2 mm"


def test_a_typed_value_that_is_not_the_thinnest_point_is_refused_at_its_line():
    with pytest.raises(ValidationError) as refused:
        examined(
            {"line": 1, "value": "5.0", "unit": "mm"},
            {"line": 2, "thicknesses": POINTS},
        )

    assert "Belly, 3.8 mm: leave this empty" in str(
        refused.value.message_dict["line_1"]
    )


@pytest.mark.parametrize(("typed", "kept"), [("", True), ("3.80", True), ("5", False)])
def test_the_form_takes_the_thinnest_point_from_its_rows(client, fitter, typed, kept):
    client.force_login(fitter)
    procedure, item = examination(), make_equipment(KIND)
    address = reverse("examination:test-add")
    asked = f"{address}?equipment={item.pk}&procedure={procedure.code}"
    page = client.get(asked).context["form"]
    sent = {
        "submission": page["submission"].value(),
        "revision": page.of.pk,
        "on_day": TESTED.earliest.isoformat(),
        "done_by": make_person().pk,
        "line_1_value": typed,
        "line_1_unit": "mm",
        "line_2_survey-rows": 2,
        "line_2_survey-point_0": "Belly",
        "line_2_survey-mm_0": "3.8",
        "line_2_survey-point_1": "Crown",
        "line_2_survey-mm_1": "5.4",
        "line_2_survey-within": "0.1",
    }
    answer = client.post(asked, sent)

    assert TestRecord.objects.exists() is kept
    if kept:
        assert answer.status_code == 302
    else:
        assert "Belly, 3.8 mm: leave this empty" in answer.content.decode()


@pytest.mark.parametrize(
    ("least", "words"),
    [
        ("4", "Belly, 3.8 mm; BELOW the least allowed, 4 mm by drawing or plate."),
        ("3.8", "Belly, 3.8 mm; least allowed, 3.8 mm by drawing or plate."),
        (None, "Belly, 3.8 mm; no least thickness is known"),
    ],
    ids=["below the plate", "at it", "nothing to hold it against"],
)
def test_the_page_of_a_survey_holds_its_worst_point_against_the_required_wall(
    client, fitter, least, words
):
    client.force_login(fitter)
    item = make_equipment(KIND, particulars={"minimum_thickness_mm": least})
    record = make_test(
        procedure=examination(),
        equipment=item,
        readings=[{"line": 2, "thicknesses": POINTS}],
    )
    page = client.get(f"/tests/{record.test_id}/").content.decode()

    assert words in page
    assert page.count("BELOW the least allowed") == (2 if least == "4" else 0)
    assert 'class="vessel"' in page
    assert f"/equipment/{item.pk}/surveys/" in page

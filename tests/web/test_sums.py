"""Workshop sums: what they answer against printed figures, their forms, who may look."""

import datetime as dt
from urllib.parse import urlencode

import pytest
from django.urls import reverse

from fleet.fitness.rules import BOOK
from fleet.register.services.types import revise_type
from fleet.web.rule_pages import rule_rows
from fleet.web.sums.book import SUMS
from tests.register.factories import air_places, make_type, make_vehicle
from tests.web.reading import words
from tests.web.scenes import standing_at_today

pytestmark = pytest.mark.django_db

FIGURES = {
    "system": "air",
    "cylinders": 1,
    "bore_mm": 406,
    "travel_mm": 120,
    "reservoir_volume_l": 100,
    "full_cylinder_bar": "3.8",
    "ratio": "6.5",
    "efficiency": "0.8",
    "blocks": 8,
    "source": "Brake drawing 12",
}


@pytest.fixture(autouse=True)
def _clock():
    """Stop the clock on the day of the scenes."""
    with standing_at_today():
        yield


def amounts(**given):
    """What a form sends: "5 bar" as value and unit, anything else as it is."""
    sent = {"go": "1"}
    for name, value in given.items():
        number, space, unit = str(value).partition(" ")
        if space:
            sent |= {f"{name}_value": number, f"{name}_unit": unit}
        else:
            sent[name] = value
    return sent


def asked(client, name, **given):
    """The page of a sum, filled in."""
    return client.get(
        f"{reverse('web:sum', args=[name])}?{urlencode(amounts(**given))}"
    )


METRIC = {
    "cylinders": 1,
    "bore": "406 mm",
    "travel": "120 mm",
    "reservoir": "100 l",
    "charged": "5 bar",
}
ONE_PIPE = {
    "braked_weight": "135 t",
    "mass": "100 t",
    "length_m": "200",
    "position": "PASSENGER_P",
    "falls": "falls",
}

PRINTED = [
    pytest.param(
        "equalisation",
        METRIC | {"full": "3.8 bar"},
        ["equalise at 4.19 bar", "Full application 3.80 bar", "reservoir 4.25 bar"],
        id="406 mm by 120 mm from 100 l at 5 bar: Boyle by hand, 4.19 bar and a fall of 0.748",
    ),
    pytest.param(
        "direct-release",
        METRIC | {"charged": "90 psi", "reduction": "10 psi", "model": "LINEAR_RULE"},
        ["After a reduction of 10 psi 25.0 psi", "Model: linear rule of the trade"],
        id="10 psi from 90 gives 25: A. Krug, North American freight train brakes",
    ),
    pytest.param(
        "graduated-release",
        {"full": "3.8 bar", "drop": "1.5 bar", "reduction": "1.5 bar"},
        ["After a reduction of 1.5 bar 3.80 bar", "fully applied"],
        id="3.8 bar at a drop of 1.5 bar: from memory of UIC 540",
    ),
    pytest.param(
        "leak-flow",
        {"pipe": "25 l", "first": "5 kgf/cm2", "last": "4.8 kgf/cm2", "time": "1 min"},
        ["Free air 4.84 l/min"],
        id="25 l at 0.2 kgf/cm2 a minute: ICF coach manual ch. 4 item 1a, by hand 4.84 l/min",
    ),
    pytest.param(
        "train-pipe-fall",
        {"pipe": "45 l", "first": "21 inHg", "last": "18 inHg", "time": "1 min"},
        ["Fall 3.00 inHg a minute", "4.51 l/min", "tends to put the brakes on"],
        id="45 l losing 3 inHg a minute, choked: 45 times 101.6 mbar over 1013.25 by hand",
    ),
    pytest.param(
        "block-force",
        {
            "pressure": "50 psi",
            "cylinders": 1,
            "bore": "10 in",
            "ratio": "6.57",
            "efficiency": "1",
            "blocks": 8,
            "mass": "19.504 t",
        },
        ["Block force over weight 60.0 %"],
        id="43000 lb car, 10 in at 50 psi, leverage 6.57, 60 %: AAR Interchange Rule 3(b)(9)",
    ),
    pytest.param(
        "reservoir-wall",
        {
            "working_pressure": "75 psi",
            "diameter": "48 in",
            "measured": "inside",
            "stress": "93.0792",
            "joint": "0.85",
            "ends": "hemisphere",
        },
        ["Required wall 0.158 in"],
        id="75 psi, radius 24 in, 13500 psi, 0.85: 0.1575 in: API 510 worksheet, item 1",
    ),
    pytest.param(
        "reservoir-wall",
        {
            "working_pressure": "140 psi",
            "diameter": "22 in",
            "measured": "inside",
            "stress": "75.8424",
            "joint": "1",
            "ends": "ellipse",
            "wall": "0.1 in",
            "contents": "100 l",
        },
        ["Proof pressure 175.0 psi", "below what the working pressure requires"],
        id="140 psi, proof 175: 49 CFR 229.31(a)",
    ),
    pytest.param(
        "stopping-distance",
        ONE_PIPE | {"speed": "100 km/h"},
        ["Braked weight percentage 135 %"],
        id="135 t on 100 t is 135 %: UIC 544-1, definition",
    ),
]


@pytest.mark.parametrize(("name", "given", "said"), PRINTED)
def test_a_sum_says_what_is_printed_of_it(client, train_crew, name, given, said):
    client.force_login(train_crew)

    page = words(asked(client, name, **given))

    assert [one for one in said if one not in page] == []
    assert "A calculation, not a test." in page


def test_one_page_never_shows_both_models_of_a_triple_valve(client, fitter):
    client.force_login(fitter)

    boyle = words(
        asked(client, "direct-release", **METRIC, reduction="0.5 bar", model="BOYLE")
    )

    assert "Model: Boyle" in boyle
    assert "Model: linear rule" not in boyle


def test_the_two_vacuum_lines_state_opposite_dangers(client, fitter):
    client.force_login(fitter)
    pipe, chamber = (
        words(client.get(reverse("web:sum", args=[name])))
        for name in ("train-pipe-fall", "chamber-holding")
    )

    assert "put the brakes on" in pipe and "lets an applied brake off" not in pipe
    assert "lets an applied brake off" in chamber and "put the brakes on" not in chamber
    assert "The automatic brake does not hold a standing vehicle" in chamber


@pytest.mark.parametrize(
    ("name", "given", "said"),
    [
        pytest.param(
            "equalisation",
            METRIC | {"charged": "5 inHg"},
            "inHg is not a unit of pressure; use bar, psi, kPa or kgf/cm2.",
            id="a vacuum for a pressure",
        ),
        pytest.param(
            "equalisation",
            METRIC | {"bore": "4,06 mm"},
            "Write the number with a point",
            id="a comma",
        ),
        pytest.param(
            "train-pipe-fall",
            {"pipe": "45 l", "first": "300 inHg", "last": "18 inHg", "time": "1 min"},
            "300 inHg cannot be.",
            id="more vacuum than there is air",
        ),
        pytest.param(
            "train-pipe-fall",
            {"pipe": "45 l", "first": "18 inHg", "last": "21 inHg", "time": "1 min"},
            "A leak lets the vacuum fall; give a lower vacuum to reach.",
            id="a vacuum that rose",
        ),
        pytest.param(
            "stopping-distance",
            ONE_PIPE | {"speed": "250 km/h"},
            "The model is for up to 200 km/h, not 250.",
            id="faster than the model",
        ),
        pytest.param(
            "reservoir-wall",
            {
                "working_pressure": "7 bar",
                "diameter": "400 mm",
                "measured": "inside",
                "stress": "100",
                "joint": "0.7",
                "ends": "torisphere",
            },
            "Give the crown radius of dished and flanged ends.",
            id="a dished end without its crown radius",
        ),
        pytest.param(
            "reservoir-wall",
            {
                "working_pressure": "900 bar",
                "diameter": "400 mm",
                "measured": "inside",
                "stress": "100",
                "joint": "0.7",
                "ends": "ellipse",
            },
            "UG-27 does not hold",
            id="a wall too thick for the formula",
        ),
        pytest.param(
            "hand-brake",
            {
                "hand_brake": "85 kN",
                "friction": "0.2",
                "mass": "34.5 t",
                "gradient": "0.013",
                "margin": "1",
                "vehicles": 1,
            },
            "Give the gradient as 1 in 77: a number of 1 or more.",
            id="rise over run for one in",
        ),
    ],
)
def test_what_cannot_be_is_refused_in_a_sentence_and_what_was_typed_stays(
    client, fitter, name, given, said
):
    client.force_login(fitter)

    page = asked(client, name, **given)

    assert said in words(page)
    assert 'id="result"' not in page.content.decode()
    typed = next(str(value).split()[0] for value in given.values() if " " in str(value))
    assert f'value="{typed}"' in page.content.decode()


@pytest.mark.parametrize("name", list(SUMS))
def test_every_sum_left_empty_says_what_is_missing(client, fitter, name):
    client.force_login(fitter)

    page = words(client.get(reverse("web:sum", args=[name]), {"go": "1"}))

    assert "Enter a number." in page
    assert "What it assumes" in page and "Where it stops being valid" in page


def test_a_sum_is_filled_from_the_figures_of_the_vehicles_type(client, fitter):
    client.force_login(fitter)
    vehicle = _with_figures()

    page = client.get(
        reverse("web:sum", args=["equalisation"]), {"vehicle": vehicle.pk}
    )

    assert "Filled from the figures of Coach, revised: Brake drawing 12." in words(page)
    assert 'name="bore_value" value="406"' in page.content.decode()
    assert 'name="travel_value" value="120"' in page.content.decode()


def test_a_sum_for_a_type_without_figures_says_so(client, fitter):
    client.force_login(fitter)
    vehicle = make_vehicle(number="T 107")

    page = client.get(
        reverse("web:sum", args=["equalisation"]), {"vehicle": vehicle.pk}
    )

    assert "No brake figures" in words(page)


@pytest.mark.parametrize("asks", ["x", "999999", "9" * 30])
def test_a_vehicle_that_is_not_there_is_not_found(client, fitter, asks):
    client.force_login(fitter)

    found = client.get(reverse("web:sum", args=["equalisation"]), {"vehicle": asks})

    assert found.status_code == 404


def test_a_sum_that_is_not_there_is_not_found(client, fitter):
    client.force_login(fitter)

    assert client.get("/sums/perpetual-motion/").status_code == 404


def test_the_vehicle_page_and_the_rules_lead_to_the_sums(client, fitter):
    client.force_login(fitter)
    vehicle = make_vehicle(number="T 107")
    list_page = f"{reverse('web:sums')}?vehicle={vehicle.pk}"

    assert (
        f'href="{list_page}"' in client.get(vehicle.get_absolute_url()).content.decode()
    )
    assert f'href="{reverse("web:sums")}"' in client.get("/rules/").content.decode()
    assert "T 107" in words(client.get(list_page))


@pytest.mark.parametrize("vehicles", [1, 6])
def test_query_count_does_not_grow(client, fitter, django_assert_num_queries, vehicles):
    client.force_login(fitter)
    vehicle = _with_figures()
    for _ in range(vehicles):
        make_vehicle()

    # session, user; vehicle; its particulars; revision of its type; figures
    with django_assert_num_queries(6):
        client.get(reverse("web:sum", args=["equalisation"]), {"vehicle": vehicle.pk})


def _with_figures():
    type_ = make_type("coach-figures")
    revise_type(
        by=None,
        type=type_,
        name="Coach, revised",
        effective_from=dt.date(2020, 1, 1),
        positions=air_places(),
        figures=[FIGURES],
    )
    return make_vehicle(type=type_, tare_t="34.5")


def test_every_rule_of_the_book_has_a_subject_to_stand_under():
    assert sum(len(group.rules) for group in rule_rows(BOOK)) == len(BOOK.rules)

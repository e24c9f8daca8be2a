"""Leak rates worked out on the form of a test: the sum itself, and the fold-out."""

import re
from decimal import Decimal

import pytest

from fleet.engineering.units import convert
from fleet.examination.judging import Limits
from fleet.examination.leak_readings import (
    NOTE_LENGTH,
    GaugeReading,
    noted,
    read_series,
    work,
)
from fleet.examination.models import Reading, TestRecord
from fleet.register.vocabulary import Scope
from tests.examination.factories import make_procedure, measured
from tests.examination.test_test_pages import answers, sheet_address
from tests.register.factories import make_vehicle

AIR = Limits("pressure_rate", "bar/min", None, Decimal("0.2"))
VACUUM = Limits("vacuum_rate", "inHg/min", None, Decimal(3))
STEADY = "0 5.00\n1 4.90\n2 4.80\n3 4.70"
NOISY = "0 5.00\n1 4.60\n2 4.95\n3 4.45"


def pair(first, last, minutes, warm=(None, None)):
    """Two readings, the second some minutes after the first."""
    return [
        GaugeReading(Decimal(0), Decimal(first), warm[0] and Decimal(warm[0])),
        GaugeReading(Decimal(minutes), Decimal(last), warm[1] and Decimal(warm[1])),
    ]


def limit(high, unit):
    return Limits("pressure_rate", unit, None, Decimal(high))


@pytest.mark.parametrize(
    ("readings", "gauge", "limits", "value", "said"),
    [
        pytest.param(
            pair("70", "65", "1"), "psi", limit(5, "psi/min"), "5 psi/min", "within",
            id="5 psi in a minute, the limit itself: 49 CFR 232.207(b)(1)",
        ),
        pytest.param(
            pair("70", "64.9", "1"), "psi", limit(5, "psi/min"), "5.1 psi/min", "beyond",
            id="5.1 psi in a minute: 49 CFR 232.207(b)(1)",
        ),
        pytest.param(
            pair("5", "4.8", "1"), "kgf/cm2", limit("0.2", "kgf/cm2/min"),
            "0.2 kgf/cm2/min", "within",
            id="0.2 kgf/cm2 in a minute: ICF coach manual ch. 4 proforma item 1a",
        ),
        pytest.param(
            pair("21", "18", "1"), "inHg", VACUUM, "3 inHg/min", "within",
            id="3 inHg in a minute against 3: by division",
        ),
        pytest.param(
            read_series(STEADY), "bar", AIR, "0.1 bar/min", "within",
            id="a tenth of a bar each minute: a line without scatter",
        ),
    ],
)  # fmt: skip
def test_a_rate_is_what_the_readings_give(readings, gauge, limits, value, said):
    found = work(readings, gauge, limits)

    number, unit = value.split()
    assert (found.value, found.unit) == (Decimal(number), unit)
    assert said in " ".join(found.sentences)
    assert not found.doubtful


def test_a_rate_in_another_unit_is_judged_in_that_of_the_limit():
    """0.2 bar/min is 2.90 psi a minute, by the definition of the pound."""
    at_limit = convert(Decimal("0.2"), "bar/min", "psi/min")

    below = work(
        pair("70", str(70 - round(at_limit, 2) + Decimal("0.01")), "1"), "psi", AIR
    )
    above = work(
        pair("70", str(70 - round(at_limit, 2) - Decimal("0.01")), "1"), "psi", AIR
    )

    assert "within the limit" in " ".join(below.sentences)
    assert "beyond the limit" in " ".join(above.sentences)


def test_what_is_rounded_away_does_not_bring_a_rate_within_its_limit():
    found = work(pair("5", "4", "3"), "bar", limit("0.3333", "bar/min"))

    assert found.value == Decimal("0.3334")


def test_cooling_air_that_falls_without_a_leak_gives_no_rate():
    """5 bar at 20 °C is (6.01325 x 283.15/293.15 - 1.01325) = 4.7949 bar at 10 °C."""
    found = work(pair("5", "4.7949", "10", ("20", "10")), "bar", AIR)

    assert abs(found.value) <= Decimal("0.0001")
    assert "temperature of the first" in " ".join(found.sentences)


def test_readings_that_scatter_are_too_noisy_to_judge():
    found = work(read_series(NOISY), "bar", AIR)

    assert found.doubtful
    assert "too noisy to judge" in " ".join(found.sentences)
    assert "take them again" in " ".join(found.sentences)


def test_a_coarse_gauge_read_twice_within_a_minute_is_too_short_to_judge():
    """With u = 0.1/√3 each way; 1.96 x √2 x u = 0.16 bar/min about 0.1, with a limit of 0.2."""
    found = work(pair("5", "4.9", "1"), "bar", AIR, within=Decimal("0.1"))

    assert "too short to judge" in " ".join(found.sentences)
    assert "± 0.16 bar/min" in " ".join(found.sentences)


def test_ten_times_the_time_makes_the_same_gauge_sure():
    found = work(pair("5", "4", "10"), "bar", AIR, within=Decimal("0.1"))

    assert not found.doubtful


def test_a_rise_is_not_taken_for_a_tight_pipe():
    found = work(pair("5", "5.05", "1"), "bar", AIR)

    assert found.value < 0
    assert "does not show that nothing leaks" in " ".join(found.sentences)


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("0 5\n1 4.9", "A series needs 3 readings or more"),
        ("0 5\n1 4.9\n2", "Reading 3: write the minute, the reading"),
        ("0 5\n1 4,9\n2 4.8", "Reading 2: Write the number with a point"),
        ("0 5\n2 4.9\n2 4.8", "later than the one before"),
        ("0 5 18\n1 4.9 18\n2 4.8", "temperature of every reading, or of none"),
    ],
)
def test_a_series_that_cannot_be_read_says_which_reading(text, said):
    with pytest.raises(ValueError, match=re.escape(said)):
        work(read_series(text), "bar", AIR)


def test_a_vacuum_that_deepens_because_its_air_cools_gives_no_rate():
    """
    21 inHg is 711.142 mbar, so 302.108 mbar absolute at a barometer of 1013.25 mbar.

    Cooled from 20 to 10 °C: 302.108 x 283.15/293.15 = 291.803 mbar, 21.3043 inHg.
    """
    found = work(pair("21", "21.3043", "10", ("20", "10")), "inHg", VACUUM)

    assert abs(found.value) <= Decimal("0.0001")
    assert "at a barometer of 1013 mbar" in " ".join(found.sentences)


def test_a_vacuum_that_is_lost_has_a_rate_above_zero_whatever_the_temperature():
    plain = work(pair("21", "20", "1"), "inHg", VACUUM)
    warm = work(pair("21", "20", "1", ("15", "15")), "inHg", VACUUM)

    assert plain.value == warm.value == Decimal(1)


def test_the_note_keeps_what_was_written_and_is_worked_out_anew():
    first = noted("Gauge G 14.", work(pair("5", "4.9", "1"), "bar", AIR))
    again = noted(first, work(read_series(STEADY), "bar", AIR))

    assert first == "Gauge G 14. Worked out from 5 to 4.9 bar in 1 min"
    assert again.startswith(
        "Gauge G 14. Worked out from min:bar 0:5.00 1:4.90 2:4.80 3:4.70"
    )


def test_a_series_too_long_for_the_note_is_refused():
    long = "\n".join(f"{n} {5 - n / 100:.2f}" for n in range(60))

    with pytest.raises(ValueError, match=f"letters of {NOTE_LENGTH}"):
        noted("", work(read_series(long), "bar", AIR))


@pytest.mark.django_db
class TestTheFoldOut:
    """Without a script: a button sends the sheet, and it comes back with the rate."""

    @pytest.fixture
    def page(self, client, fitter):
        client.force_login(fitter)
        return client

    @pytest.fixture
    def sheet(self):
        return sheet_address(make_vehicle(number="T 107"), make_procedure())

    def sent(self, **more):
        """The whole sheet, the leakage line left empty, with what the fold-out holds."""
        return answers(make_procedure(), line_1_value="") | more

    def test_it_stands_beside_leakage_lines_only(self, page, sheet):
        text = page.get(sheet).content.decode()

        assert text.count("Work it out from readings") == 1
        assert 'name="work_out" value="line_1"' in text

    def test_the_button_fills_the_rate_in_and_records_nothing(self, page, sheet):
        typed = {
            "work_out": "line_1",
            "line_1_leak-first": "5.0",
            "line_1_leak-last": "4.85",
            "line_1_leak-gauge": "bar",
            "line_1_leak-minutes": "1",
            "line_2_value": "17.5",
            "remarks": "Cold morning",
        }

        text = page.post(sheet, self.sent(**typed)).content.decode()

        assert not TestRecord.objects.exists()
        assert 'name="line_1_value" value="0.15"' in text
        assert "From 5.0 to 4.85 bar in 1 min: the fall by the time." in text
        assert 'value="Worked out from 5.0 to 4.85 bar in 1 min"' in text
        assert 'name="line_2_value" value="17.5"' in text and "Cold morning" in text
        assert 'name="line_1_leak-first" value="5.0"' in text
        assert 'id="mistakes"' not in text

    def test_sent_on_the_reading_keeps_what_it_was_worked_from(self, page, sheet):
        said = "Worked out from 70 to 68 psi in 1 min"
        sent = self.sent(line_1_value="2", line_1_unit="psi/min", line_1_note=said)

        page.post(sheet, sent)

        reading = Reading.objects.get(line__order=1)
        assert (reading.given, reading.note) == ("2 psi/min", said)
        assert TestRecord.objects.get().passed

    def test_two_times_of_day_stand_for_the_minutes(self, page, sheet):
        typed = {
            "work_out": "line_1",
            "line_1_leak-first": "5",
            "line_1_leak-last": "4.7",
            "line_1_leak-gauge": "bar",
            "line_1_leak-began": "10:05:30",
            "line_1_leak-ended": "10:08:30",
        }

        text = page.post(sheet, self.sent(**typed)).content.decode()

        assert 'name="line_1_value" value="0.1"' in text

    @pytest.mark.parametrize(
        ("typed", "said"),
        [
            ({"first": "5"}, "Give the first and the last reading, or a series."),
            ({"first": "5", "last": "4"}, "Give the minutes between the readings"),
            ({"first": "5", "last": "4", "minutes": "0"}, "must be more than 0 min"),
            ({"first": "five"}, "is not a number"),
            ({"first": "5", "series": STEADY}, "clear the other"),
            ({"first": "5", "last": "4", "minutes": "1", "first_c": "9"}, "both temperatures"),
            ({"first": "-5", "last": "4", "minutes": "1"}, "Gauge pressure is not below zero"),
        ],
    )  # fmt: skip
    def test_what_cannot_be_worked_out_says_why_and_stays(
        self, page, sheet, typed, said
    ):
        typed = {f"line_1_leak-{name}": value for name, value in typed.items()}
        typed |= {"work_out": "line_1", "line_1_leak-gauge": "bar"}

        text = page.post(sheet, self.sent(**typed)).content.decode()

        assert said in text
        assert 'name="line_1_value" value="' not in text
        assert "line_1_leak-first" in text

    def test_a_button_of_no_line_records_nothing(self, page, sheet):
        page.post(sheet, self.sent(work_out="line_99"))

        assert not TestRecord.objects.exists()

    def test_a_vacuum_line_asks_temperatures_too(self, page):
        procedure = make_procedure(
            "vac",
            lines=[
                measured(
                    "Train pipe fall",
                    "vacuum_rate",
                    "inHg/min",
                    high="3",
                    scope=Scope.VACUUM_TRAIN_PIPE,
                )
            ],
        )

        text = page.get(sheet_address(make_vehicle(), procedure)).content.decode()

        assert "line_1_leak-first_c" in text
        assert "Such as 2 20.5 18." in text

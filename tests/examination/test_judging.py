"""Judging a reading against its limits, and a test by its readings."""

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fleet.engineering.units import QUANTITIES, convert
from fleet.examination.judging import Limits, judge, outcome, read_number
from fleet.examination.vocabulary import Answer

MET, NOT_MET = Answer.MET, Answer.NOT_MET
RELEASE_TIME = Limits("time", "s", Decimal(15), Decimal(20))


def measured(value, unit, limits):
    """What a reading written down as `value` `unit` comes to."""
    return judge(Decimal(value), unit, limits)


@pytest.mark.parametrize(
    ("value", "answer"),
    [
        pytest.param("14.9999", NOT_MET, id="just below the lower limit"),
        pytest.param("15", MET, id="on the lower limit"),
        pytest.param("20", MET, id="on the upper limit"),
        pytest.param("20.0001", NOT_MET, id="just above the upper limit"),
    ],
)
def test_limits_are_inclusive(value, answer):
    assert measured(value, "s", RELEASE_TIME).answer == answer


@pytest.mark.parametrize(
    ("limits", "value", "words"),
    [
        (RELEASE_TIME, "28", "28 s, limit 15 to 20 s"),
        (
            Limits("pressure_rate", "bar/min", high=Decimal("0.20")),
            "0.1",
            "0.1 bar/min, limit at most 0.2 bar/min",
        ),
        (
            Limits("length", "mm", low=Decimal("10.0000")),
            "9.50",
            "9.50 mm, limit at least 10 mm",
        ),
        (
            Limits("pressure", "bar", Decimal(5), Decimal(5)),
            "5",
            "5 bar, limit 5 bar",
        ),
        (Limits("count", "count", low=Decimal(2)), "2", "2, limit at least 2"),
        (Limits("length", "mm"), "87", "87 mm, no limit set"),
    ],
)
def test_words_give_the_reading_as_written_and_the_limit(limits, value, words):
    assert measured(value, limits.unit, limits).words == words


def test_a_reading_in_another_unit_is_converted_and_both_are_shown():
    # 1 in = 25.4 mm exactly (yard and pound agreement 1959).
    stroke = Limits("length", "mm", Decimal(85), Decimal("101.6"))

    judged = measured("4", "in", stroke)

    assert judged.answer == MET
    assert judged.words == "4 in (101.6 mm), limit 85 to 101.6 mm"


def test_the_exact_value_is_judged_and_the_shown_one_never_says_otherwise():
    limit = Limits("pressure", "bar", high=Decimal(5))

    # 72.5190 psi is 5.0000090... bar: over by less than three decimals can show.
    judged = measured("72.519", "psi", limit)

    assert judged.answer == NOT_MET
    assert judged.words == "72.519 psi (5.00001 bar), limit at most 5 bar"


def test_without_a_limit_a_reading_is_recorded_and_not_judged():
    assert measured("87", "mm", Limits("length", "mm")).answer == Answer.RECORDED


def test_an_impossible_unit_is_refused_with_those_to_use():
    with pytest.raises(ValueError, match="bar is not a unit of time; use s or min"):
        measured("3", "bar", RELEASE_TIME)


def test_a_vacuum_deeper_than_the_air_is_heavy_is_refused():
    with pytest.raises(ValueError, match="210 inHg cannot be"):
        measured("210", "inHg", Limits("vacuum", "inHg", low=Decimal(21)))


@given(
    st.sampled_from([q for q in QUANTITIES.values() if len(q.units) > 1]),
    st.data(),
)
def test_the_unit_a_reading_is_written_in_does_not_change_the_answer(quantity, data):
    units = st.sampled_from(quantity.units)
    numbers = st.decimals("1", "25", places=2)
    unit, other, limit_unit = data.draw(units), data.draw(units), data.draw(units)
    value, low = data.draw(numbers), data.draw(numbers)
    limits = Limits(quantity.name, limit_unit, low=low)

    same = convert(value, unit, other)

    # Where the converted value is not exact the comparison may fall on its last digit.
    apart = abs(convert(value, unit, limit_unit) - low) > Decimal("1e-9")
    if apart:
        assert judge(value, unit, limits).answer == judge(same, other, limits).answer


REQUIRED, OPTIONAL = True, False


@pytest.mark.parametrize(
    ("answers", "expected"),
    [
        pytest.param([(REQUIRED, MET)], (True, 0, 0), id="all met"),
        pytest.param(
            [(REQUIRED, MET), (REQUIRED, NOT_MET)], (False, 0, 1), id="one not met"
        ),
        pytest.param(
            [(REQUIRED, MET), (REQUIRED, None)], (False, 1, 0), id="one left blank"
        ),
        pytest.param(
            [(REQUIRED, MET), (REQUIRED, Answer.NOT_DONE)],
            (False, 1, 0),
            id="one not done, whatever the reason",
        ),
        pytest.param(
            [(REQUIRED, MET), (REQUIRED, Answer.NOT_APPLICABLE)],
            (True, 0, 0),
            id="one not applicable",
        ),
        pytest.param(
            [(REQUIRED, Answer.RECORDED)], (True, 0, 0), id="recorded without a limit"
        ),
        pytest.param(
            [(REQUIRED, MET), (OPTIONAL, None)], (True, 0, 0), id="optional left out"
        ),
        pytest.param(
            [(REQUIRED, MET), (OPTIONAL, NOT_MET)],
            (False, 0, 1),
            id="optional but found bad",
        ),
    ],
)
def test_a_test_passes_only_if_every_required_line_is_settled(answers, expected):
    result = outcome(answers)

    assert (result.passed, result.unanswered, result.failed) == expected


@given(st.lists(st.tuples(st.booleans(), st.sampled_from([None, *Answer]))))
def test_one_more_line_not_met_never_makes_a_test_pass(answers):
    assert not outcome([*answers, (True, NOT_MET)]).passed


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        pytest.param("3,8", "with a point", id="comma"),
        pytest.param("about 4", "is not a number", id="words"),
        pytest.param("1.23456", "4 decimals at most", id="more than is kept"),
        pytest.param("123456789", "too large", id="no gauge reads that"),
        pytest.param("Infinity", "is not a number", id="endless"),
        pytest.param("NaN", "is not a number", id="no number by name"),
        pytest.param("1e400", "too large", id="huge"),
    ],
)
def test_what_is_no_reading_is_refused_with_what_to_write(typed, said):
    with pytest.raises(ValueError, match=said):
        read_number(typed)


@pytest.mark.parametrize(
    ("typed", "value"),
    [("3.80", "3.80"), (" 15 ", "15"), ("\N{MINUS SIGN}5", "-5"), (".5", "0.5")],
)
def test_numbers_are_read_as_people_write_them(typed, value):
    assert read_number(typed) == Decimal(value)

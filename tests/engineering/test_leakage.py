"""The laws leak rates obey, and what noisy or short readings allow to be said."""

import random
from decimal import Decimal
from math import log

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fleet.engineering.leakage import (
    Judgement,
    PressureReading,
    VehicleLeak,
    equivalent_volume_l,
    free_air_l_per_min,
    judge,
    leak_rate,
    start_over_mean,
    typed_rate,
    whole_train,
)
from fleet.engineering.units import convert

ATMOSPHERE = 1.01325


def _minute(first, last, unit="psi", minutes="1"):
    return typed_rate(Decimal(first), Decimal(last), unit, Decimal(minutes))


def _series(bars, every=10.0, celsius=None):
    return [
        PressureReading(i * every, bar, celsius[i] if celsius else None)
        for i, bar in enumerate(bars)
    ]


def _falling(rate, points=31, noise=0.0, every=10.0):
    chance = random.Random(11)
    return _series(
        [5 - rate * i * every / 60 + chance.gauss(0, noise) for i in range(points)],
        every,
    )


BARS = st.lists(st.floats(0.5, 10), min_size=2, max_size=20)


@given(BARS, st.floats(-30, 50))
def test_one_temperature_throughout_changes_nothing(bars, celsius):
    plain = leak_rate(_series(bars))
    corrected = leak_rate(_series(bars, celsius=[celsius] * len(bars)))

    assert corrected.bar_per_min == pytest.approx(plain.bar_per_min, abs=1e-9)
    assert corrected.temperature_corrected
    assert not plain.temperature_corrected


@given(st.floats(1, 9), st.lists(st.floats(-20, 50), min_size=2, max_size=12))
def test_air_that_only_cools_or_warms_does_not_leak(bar, celsius):
    start = celsius[0] + 273.15
    bars = [(bar + ATMOSPHERE) * (t + 273.15) / start - ATMOSPHERE for t in celsius]

    found = leak_rate(_series(bars, celsius=celsius))

    assert found.bar_per_min == pytest.approx(0, abs=1e-9)


@given(BARS, st.permutations(range(20)))
def test_the_order_in_which_readings_are_typed_does_not_matter(bars, order):
    readings = _series(bars)
    shuffled = [readings[i] for i in order if i < len(readings)]

    assert leak_rate(shuffled).bar_per_min == pytest.approx(
        leak_rate(readings).bar_per_min, abs=1e-9
    )


@given(BARS, st.floats(0.001, 1), st.floats(0, 1), st.floats(0.001, 0.1))
def test_a_wider_limit_never_turns_within_into_beyond(bars, limit, more, error):
    rate = leak_rate(_series(bars), reading_u_bar=error)
    tight, wide = judge(rate, limit).judgement, judge(rate, limit + more).judgement

    assert not (tight is Judgement.WITHIN and wide is Judgement.BEYOND)


@given(BARS, st.floats(0, 0.2), st.floats(0, 0.2))
def test_a_coarser_gauge_never_makes_the_rate_surer(bars, one, other):
    fine, coarse = sorted((one, other))

    assert (
        leak_rate(_series(bars), reading_u_bar=fine).uncertainty_bar_per_min
        <= leak_rate(_series(bars), reading_u_bar=coarse).uncertainty_bar_per_min
    )


VEHICLES = st.lists(
    st.builds(VehicleLeak, st.floats(5, 200), st.floats(0, 1)), min_size=1, max_size=20
)


@given(VEHICLES)
def test_a_train_leaks_the_air_of_its_vehicles_at_a_rate_between_theirs(vehicles):
    train = whole_train(vehicles)
    rates = [vehicle.bar_per_min for vehicle in vehicles]

    assert min(rates) - 1e-9 <= train.bar_per_min <= max(rates) + 1e-9
    assert train.free_air_l_per_min == pytest.approx(
        sum(free_air_l_per_min(one.volume_l, one.bar_per_min) for one in vehicles)
    )
    assert sum(train.shares) == pytest.approx(1 if any(rates) else 0)


@given(st.floats(1, 500), st.floats(0.001, 2))
def test_flow_and_volume_answer_one_another(volume, rate):
    flow = free_air_l_per_min(volume, rate)

    assert equivalent_volume_l(flow, rate) == pytest.approx(volume)


@given(st.floats(0, 10), st.floats(0, 10))
def test_a_leak_is_never_slower_at_the_start_than_on_the_whole(one, other):
    low, high = sorted((one, other))

    assert start_over_mean(high, low) >= 1 - 1e-9


@given(
    st.decimals("0", "10", places=2),
    st.decimals("0", "10", places=2),
    st.sampled_from([("psi", "bar"), ("kgf/cm2", "kPa"), ("inHg", "mbar")]),
)
def test_a_rate_as_typed_is_the_rate_of_the_converted_readings(first, last, pair):
    unit, other = pair
    typed = typed_rate(first, last, unit, Decimal(2))
    converted = [convert(one, unit, other) for one in (first, last)]

    there = typed_rate(*converted, other, Decimal(2))

    assert abs(convert(typed.value, typed.unit, there.unit) - there.value) < Decimal(
        "1e-18"
    )


def test_a_choked_leak_is_found_at_its_rate_from_the_mean_of_a_large_drop():
    """Over 1 bar from 5 the mean hides a tenth of the rate at the start."""
    decay_per_min = 0.05
    minutes = log((5 + ATMOSPHERE) / (4 + ATMOSPHERE)) / decay_per_min
    mean = leak_rate([PressureReading(0, 5), PressureReading(minutes * 60, 4)])

    start = mean.bar_per_min * start_over_mean(5, 4)

    assert start == pytest.approx(decay_per_min * (5 + ATMOSPHERE))
    assert mean.bar_per_min < 0.93 * start


@pytest.mark.parametrize(
    ("rate", "judgement"),
    [
        pytest.param(0.15, Judgement.WITHIN, id="well within"),
        pytest.param(0.25, Judgement.BEYOND, id="well beyond"),
        pytest.param(0.2, Judgement.TOO_NOISY, id="at the limit itself"),
        pytest.param(-0.05, Judgement.WITHIN, id="rising"),
    ],
)
def test_a_quiet_series_is_judged(rate, judgement):
    found = leak_rate(_falling(rate, noise=0.005))

    assert found.bar_per_min == pytest.approx(rate, abs=0.01)
    assert judge(found, 0.2).judgement is judgement


def test_readings_that_jump_about_are_too_noisy_and_say_what_to_do():
    found = judge(leak_rate(_falling(0.15, noise=0.2)), 0.2)

    assert found.judgement is Judgement.TOO_NOISY
    assert "scatter too much" in found.sentence
    assert "take them again" in found.sentence


def test_scatter_beyond_the_error_of_a_good_gauge_is_noise_not_haste():
    found = judge(leak_rate(_falling(0.15, noise=0.2), reading_u_bar=0.001), 0.2)

    assert found.judgement is Judgement.TOO_NOISY


def test_two_readings_close_together_on_a_coarse_gauge_are_too_short():
    readings = [PressureReading(0, 5.0), PressureReading(20, 4.95)]

    found = judge(leak_rate(readings, reading_u_bar=0.05), 0.2)

    assert found.judgement is Judgement.TOO_SHORT
    assert "Wait longer" in found.sentence


def test_the_same_gauge_judges_after_a_longer_wait():
    readings = [PressureReading(0, 5.0), PressureReading(1200, 4.0)]

    found = judge(leak_rate(readings, reading_u_bar=0.05), 0.2)

    assert found.judgement is Judgement.WITHIN


def test_a_span_below_the_shortest_allowed_is_not_judged_however_clear():
    found = judge(leak_rate(_falling(0.01)), 0.2, shortest_seconds=600)

    assert found.judgement is Judgement.TOO_SHORT
    assert found.sentence == "The readings span 300 s; at least 600 s are needed."


def test_a_gauge_that_sticks_is_not_taken_for_certainty():
    """Rounded to 0.1 bar a slow fall shows no scatter at all."""
    stuck = _series([5.0] * 10)

    assert leak_rate(stuck).uncertainty_bar_per_min == 0
    assert leak_rate(stuck, reading_u_bar=0.03).uncertainty_bar_per_min > 0.03


def test_two_readings_without_a_stated_error_say_so():
    rate = leak_rate([PressureReading(0, 5.0), PressureReading(60, 4.9)])

    found = judge(rate, 0.2)

    assert rate.uncertainty_bar_per_min is None
    assert found.judgement is Judgement.WITHIN
    assert "error unknown" in found.sentence


def test_a_vehicle_that_leaks_badly_hides_in_a_long_train():
    sound = [VehicleLeak(25, 0.05)] * 9

    train = whole_train([*sound, VehicleLeak(25, 1.0)])

    assert train.bar_per_min == pytest.approx(0.145)
    assert train.shares[-1] == pytest.approx(1.0 / 1.45)


@pytest.mark.parametrize(
    ("wrong", "sentence"),
    [
        pytest.param(
            lambda: leak_rate([PressureReading(0, 5)]), "at least two", id="one reading"
        ),
        pytest.param(
            lambda: leak_rate([PressureReading(5, 5), PressureReading(5, 4)]),
            "of the same moment",
            id="no time between",
        ),
        pytest.param(
            lambda: leak_rate([PressureReading(0, 5, 20), PressureReading(60, 5)]),
            "of every reading, or of none",
            id="a temperature missing",
        ),
        pytest.param(
            lambda: judge(leak_rate(_falling(0.1)), 0),
            "The limit must be more",
            id="no limit",
        ),
        pytest.param(lambda: whole_train([]), "at least one vehicle", id="no train"),
        pytest.param(
            lambda: VehicleLeak(0, 0.1), "volume of a vehicle", id="no volume"
        ),
        pytest.param(
            lambda: start_over_mean(4, 5), "not be below the last", id="rising"
        ),
        pytest.param(
            lambda: free_air_l_per_min(25, 0.2, celsius=20),
            "Give both temperatures",
            id="one temperature",
        ),
        pytest.param(
            lambda: _minute("5", "4", "mm"), "no unit of pressure", id="a length"
        ),
        pytest.param(
            lambda: _minute("5", "4", minutes="0"), "more than 0 min", id="at once"
        ),
    ],
)
def test_leakage_refuses_what_cannot_be_with_a_sentence(wrong, sentence):
    with pytest.raises(ValueError, match=sentence):
        wrong()

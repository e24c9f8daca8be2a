"""The laws that cylinder pressure, air used and recharging obey, and what they refuse."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fleet.engineering.air import (
    Cylinder,
    Distributor,
    Model,
    Reservoir,
    Stage,
    direct_release,
    direct_release_linear,
    equalise,
    full_application,
    full_reduction_bar,
    graduated_release,
    reservoir_after_bar,
)
from fleet.engineering.charging import air_per_application, recharge
from fleet.engineering.flow import SHARP_EDGED, Choke, free_air_l_per_min

ATMOSPHERE = 1.01325
METRIC = Cylinder(406, 120)
HUNDRED = Reservoir(5.0, 100.0)
USUAL = Distributor(3.8, 1.5, starts_at_drop_bar=0.4, first_step_bar=0.6)

RESERVOIRS = st.builds(Reservoir, st.floats(1, 10), st.floats(20, 200))
CYLINDERS = st.builds(
    Cylinder,
    st.floats(150, 420),
    st.floats(40, 300),
    st.floats(0, 3),
    st.floats(0, 3),
)
DISTRIBUTORS = st.builds(
    Distributor,
    st.floats(2, 5),
    st.floats(1, 2),
    st.floats(0, 0.5),
    st.floats(0, 0.7),
)


def _air(bar, litres):
    return (bar + ATMOSPHERE) * litres


@given(RESERVOIRS, CYLINDERS)
def test_equalisation_makes_and_loses_no_air(reservoir, cylinder):
    found = equalise(reservoir, cylinder).bar
    before = _air(reservoir.bar, reservoir.volume_l) + _air(0, cylinder.dead_l)

    after = _air(found, reservoir.volume_l + cylinder.filled_l)

    # Too little air leaves the piston short of its travel, and the pressure at nothing.
    assert after == pytest.approx(before) or (found == 0 and after > before)


@given(RESERVOIRS, CYLINDERS)
def test_equalisation_lies_between_nothing_and_the_reservoir(reservoir, cylinder):
    assert 0 <= equalise(reservoir, cylinder).bar < reservoir.bar


@given(RESERVOIRS, CYLINDERS, st.floats(1, 100))
def test_longer_piston_travel_never_gives_more_pressure(reservoir, cylinder, more):
    longer = Cylinder(
        cylinder.bore_mm,
        cylinder.travel_mm + more,
        cylinder.clearance_l,
        cylinder.pipe_l,
    )

    assert equalise(reservoir, longer).bar <= equalise(reservoir, cylinder).bar


@given(RESERVOIRS, CYLINDERS, st.floats(0, 1), st.floats(0, 1))
def test_a_deeper_reduction_never_gives_less_pressure(reservoir, cylinder, one, other):
    deep, shallow = sorted((one, other))
    at = [
        direct_release(reservoir, share * reservoir.bar, cylinder)
        for share in (deep, shallow)
    ]

    assert at[0].bar >= at[1].bar - 1e-9
    assert at[0].bar <= equalise(reservoir, cylinder).bar + 1e-9


@given(RESERVOIRS, CYLINDERS)
def test_a_reduction_makes_and_loses_no_air(reservoir, cylinder):
    full = full_reduction_bar(reservoir, cylinder)
    found = direct_release(reservoir, reservoir.bar - 0.9 * full, cylinder)
    before = _air(reservoir.bar, reservoir.volume_l) + _air(0, cylinder.dead_l)

    after = _air(found.reservoir_bar, reservoir.volume_l)
    after += _air(found.bar, cylinder.filled_l)

    assert after == pytest.approx(before) or found.bar == 0


@given(RESERVOIRS, CYLINDERS, st.floats(0, 1))
def test_filling_a_cylinder_takes_its_air_from_the_reservoir(
    reservoir, cylinder, share
):
    bar = share * equalise(reservoir, cylinder).bar

    fall = reservoir.bar - reservoir_after_bar(reservoir, cylinder, bar)

    used = air_per_application(cylinder, bar).cylinder_l
    assert fall * reservoir.volume_l == pytest.approx(used * ATMOSPHERE)


@given(DISTRIBUTORS, st.floats(0, 5), st.floats(0, 5))
def test_a_distributor_follows_the_pipe_and_keeps_to_its_maximum(
    distributor, one, other
):
    less, more = sorted((one, other))

    low = graduated_release(distributor, less).bar
    high = graduated_release(distributor, more).bar

    assert 0 <= low <= high <= distributor.full_cylinder_bar


@given(st.floats(1, 10), st.floats(0, 10))
def test_the_linear_rule_keeps_to_its_own_equalisation(reservoir, pipe):
    found = direct_release_linear(reservoir, pipe)

    assert 0 <= found.bar <= reservoir * 2.5 / 3.5 + 1e-9
    assert found.model is Model.LINEAR_RULE


@given(
    st.floats(20, 200),
    st.floats(0, 3),
    st.floats(0.1, 1),
    st.floats(0.1, 1),
    st.floats(1, 8),
)
def test_recharging_in_two_goes_takes_as_long_as_in_one(
    volume, start, first, second, bore
):
    def seconds(low, high):
        choke = Choke(bore, SHARP_EDGED)
        found = recharge(volume, choke, from_bar=low, to_bar=high, supply_bar=7)
        assert 0 <= found.choked_seconds <= found.seconds * (1 + 1e-9)
        return found.seconds

    half = start + first
    parts = seconds(start, half) + seconds(half, half + second)

    assert parts == pytest.approx(seconds(start, half + second), rel=1e-5)


@given(st.floats(1, 8), st.floats(0.2, 4))
def test_recharge_time_goes_with_the_square_of_the_bore(bore, wider):
    def seconds(diameter):
        choke = Choke(diameter, SHARP_EDGED)
        return recharge(100, choke, from_bar=3.5, to_bar=4.9, supply_bar=5.5).seconds

    assert seconds(bore + wider) == pytest.approx(
        seconds(bore) * (bore / (bore + wider)) ** 2
    )


def test_a_choked_recharge_is_the_air_over_the_flow():
    choke = Choke(2.0, SHARP_EDGED)
    flow = free_air_l_per_min(
        choke, upstream_bar_abs=7 + ATMOSPHERE, downstream_bar_abs=0, celsius=20
    )

    found = recharge(100, choke, from_bar=0, to_bar=3, supply_bar=7)

    assert found.seconds == pytest.approx(100 * 3 / ATMOSPHERE / flow * 60)
    assert found.choked_seconds == pytest.approx(found.seconds)


def test_each_pressure_names_the_model_it_rests_on():
    boyle = direct_release(HUNDRED, 4.5, METRIC)
    rule = direct_release_linear(5.0, 4.0)
    graduated = graduated_release(USUAL, 1.0)

    assert [boyle.model, rule.model, graduated.model] == list(Model)
    assert {one.stage for one in (boyle, rule, graduated)} == {Stage.PARTIAL}


def test_a_small_reservoir_and_long_travel_cut_a_full_application_short():
    setting = Distributor(3.8, 1.5)

    short = full_application(setting, Reservoir(5.0, 40.0), Cylinder(406, 180))

    assert short.limited_by_reservoir
    assert short.bar < 3.8
    assert not full_application(setting, HUNDRED, METRIC).limited_by_reservoir


def test_the_first_step_comes_at_once():
    setting = Distributor(3.8, 1.5, starts_at_drop_bar=0.1, first_step_bar=0.6)

    assert graduated_release(setting, 0.09).bar == 0
    assert graduated_release(setting, 0.1).bar == 0.6


@pytest.mark.parametrize(
    ("wrong", "sentence"),
    [
        pytest.param(lambda: Cylinder(0, 120), "The bore must be more", id="no bore"),
        pytest.param(
            lambda: Cylinder(406, float("nan")), "piston travel", id="no number"
        ),
        pytest.param(
            lambda: Cylinder(406, 120, clearance_l=-1), "clearance", id="less than none"
        ),
        pytest.param(lambda: Reservoir(-1, 100), "reservoir pressure", id="vacuum"),
        pytest.param(lambda: Reservoir(5, 0), "reservoir volume", id="no reservoir"),
        pytest.param(
            lambda: Distributor(3.8, 1.5, starts_at_drop_bar=2),
            "starts before",
            id="starts after it ends",
        ),
        pytest.param(
            lambda: Distributor(3.8, 1.5, first_step_bar=4),
            "first step",
            id="first step above the last",
        ),
        pytest.param(
            lambda: reservoir_after_bar(HUNDRED, METRIC, 4.5),
            r"equalise at 4\.19 bar",
            id="more than there is",
        ),
        pytest.param(
            lambda: recharge(
                100, Choke(2, 0.65), from_bar=3, to_bar=5.5, supply_bar=5.5
            ),
            r"up to 5\.43 bar",
            id="to the supply itself",
        ),
        pytest.param(
            lambda: recharge(100, Choke(2, 0.65), from_bar=4, to_bar=3, supply_bar=5),
            "fills from a lower",
            id="downwards",
        ),
        pytest.param(
            lambda: graduated_release(USUAL, -0.1), "brake pipe drop", id="overcharged"
        ),
    ],
)
def test_air_refuses_what_cannot_be_with_a_sentence(wrong, sentence):
    with pytest.raises(ValueError, match=sentence):
        wrong()

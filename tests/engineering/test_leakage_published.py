"""Leak rates against printed figures."""

from decimal import Decimal
from functools import partial

import pytest

from fleet.engineering.leakage import (
    Judgement,
    PressureReading,
    equivalent_volume_l,
    free_air_l_per_min,
    judge,
    leak_rate,
    start_over_mean,
    typed_rate,
)
from fleet.engineering.units import convert, scaled
from tests.engineering.published import Published, Status, check, rows

ATMOSPHERE = 1.01325
R = 8.314472  # J/(mol K), as 40 CFR 1065 has it
EPA = "40 CFR 1065.644, Eq. 1065.644-1"
BLEED = (
    "Compressed-air bleed-down guidance, notes 5 and 6: Q = V · ΔP · 60/(T · Patm) · C"
)
CHOKED = "ln(p0/p1)/(1 - p1/p0) from 100 psi and 14.7 psi by hand"
PROFORMA = (
    "Indian maintenance manual for BG coaches (air brake), ch. 4, single-car test, "
)


def _psi(value):
    return scaled(value, "psi", "bar")


def _epa(free_celsius):
    """Return the leak into 2 litres, from 25.3 to 50.6 kPa absolute within 70 s."""
    rate = (0.506 - 0.253) * 60 / 70
    return free_air_l_per_min(2.0, rate, celsius=20.0, free_celsius=free_celsius)


def _bleed(cubic_feet, drop_psi, seconds):
    flow = free_air_l_per_min(
        scaled(cubic_feet, "ft3", "l"),
        _psi(drop_psi) * 60 / seconds,
        atmosphere_bar=_psi(14.7),
    )
    return scaled(flow, "l/min", "ft3/min")


def _start(drop_psi):
    return start_over_mean(_psi(100), _psi(100 - drop_psi), atmosphere_bar=_psi(14.7))


def _minute(first, last, unit="psi", minutes="1"):
    return typed_rate(Decimal(first), Decimal(last), unit, Decimal(minutes))


def _judged(first, last, limit, unit="psi", minutes="1"):
    """Judge two readings of a gauge against a limit in its own unit a minute."""
    bars = [float(convert(Decimal(one), unit, "bar")) for one in (first, last)]
    rate = leak_rate(
        [
            PressureReading(0, bars[0]),
            PressureReading(float(minutes) * 60, bars[1]),
        ]
    )
    return judge(
        rate, float(convert(Decimal(limit), f"{unit}/min", "bar/min"))
    ).judgement


TABLE = [
    Published(
        "leak into a volume, mol/s",
        lambda: _epa(20.0) / 60_000 * 101_325 / (R * 293.15),
        2.9657e-4,
        2.9657e-7,
        f"{EPA}: inputs and formula read, answer worked out again",
        Status.READ,
    ),
    Published(
        "the same as free air at 0 °C",
        partial(_epa, 0.0),
        0.3988,
        4e-4,
        f"{EPA}: inputs and formula read, answer worked out again",
        Status.READ,
    ),
    Published(
        "the same as free air at 20 °C",
        partial(_epa, 20.0),
        0.4280,
        4e-4,
        f"{EPA}: inputs and formula read, answer worked out again",
        Status.READ,
    ),
    Published(
        "bleed-down of 10 cubic feet by 10 psi in 30 s",
        partial(_bleed, 10, 10, 30),
        10 * 10 * 60 / (30 * 14.7),
        1e-4,
        f"{BLEED}, C = 1",
        Status.READ,
    ),
    Published(
        "factor of the guidance, 20 psi",
        partial(_start, 20),
        1.12,
        0.025,
        f"{BLEED}, C = 1.12, rounded and for no stated pressure",
        Status.READ,
    ),
    Published(
        "factor of the guidance, 50 psi",
        partial(_start, 50),
        1.25,
        0.07,
        f"{BLEED}, C = 1.25, rounded and for no stated pressure",
        Status.READ,
    ),
    Published(
        "start over mean, 10 psi",
        partial(_start, 10),
        1.046,
        1e-3,
        CHOKED,
        Status.DERIVED,
    ),
    Published(
        "start over mean, 20 psi",
        partial(_start, 20),
        1.099,
        1e-3,
        CHOKED,
        Status.DERIVED,
    ),
    Published(
        "start over mean, 50 psi",
        partial(_start, 50),
        1.313,
        1e-3,
        CHOKED,
        Status.DERIVED,
    ),
    Published(
        "pump-up of 80 + 20 gallons to 100 psi in 2 min",
        lambda: scaled(
            free_air_l_per_min(
                scaled(100 * 231, "in3", "l"), _psi(100) / 2, atmosphere_bar=_psi(14.7)
            ),
            "l/min",
            "ft3/min",
        ),
        100 * 0.13368 * (100 / 14.7) / 2,
        1e-3,
        "Compressor pump-up guidance: Q = (VR + VP) · 0.13368 · (Pmax/Patm) / t",
        Status.READ,
    ),
    Published(
        "pipe of 25 l at 0.2 kg/cm2 a minute",
        lambda: free_air_l_per_min(25, scaled(0.2, "kgf/cm2/min", "bar/min")),
        4.84,
        0.01,
        f"{PROFORMA}item 1a; 25 l is the most EN 15355:2019 has in its scope",
        Status.DERIVED,
    ),
    Published(
        "60 cubic feet a minute against 5 psi a minute",
        lambda: scaled(
            equivalent_volume_l(
                scaled(60, "ft3/min", "l/min"), _psi(5), atmosphere_bar=_psi(14.7)
            ),
            "l",
            "ft3",
        ),
        176.4,
        0.1,
        "FRA report L17979; 49 CFR 232.207(b)(1): 5 psi/min or 60 CFM; 60 · 14.7 / 5",
        Status.DERIVED,
    ),
    Published(
        "5 psi in a minute, the limit itself",
        partial(_judged, "70", "65", "5"),
        Judgement.WITHIN,
        None,
        "49 CFR 232.207(b)(1), 1 October 2004: leakage not to exceed 5 psi per minute",
        Status.READ,
    ),
    Published(
        "5.1 psi in a minute",
        partial(_judged, "70", "64.9", "5"),
        Judgement.BEYOND,
        None,
        "49 CFR 232.207(b)(1), 1 October 2004: leakage not to exceed 5 psi per minute",
        Status.READ,
    ),
    Published(
        "brake pipe, 0.2 kg/cm2 in a minute",
        partial(_judged, "5.0", "4.8", "0.2", "kgf/cm2"),
        Judgement.WITHIN,
        None,
        PROFORMA + "items 1a and 1b: at most 0.2 kg/cm2 in a minute",
        Status.READ,
    ),
    Published(
        "cylinder, 0.1 kg/cm2 in 5 min",
        lambda: _minute("3.8", "3.7", "kgf/cm2", "5").value,
        Decimal("0.02"),
        None,
        PROFORMA + "item 6b: at most 0.1 kg/cm2 in 5 min",
        Status.READ,
    ),
    Published(
        "cylinder, 0.15 kg/cm2 in 5 min",
        partial(_judged, "3.8", "3.65", "0.02", "kgf/cm2", "5"),
        Judgement.BEYOND,
        None,
        PROFORMA + "item 6b: at most 0.1 kg/cm2 in 5 min",
        Status.READ,
    ),
    Published(
        "equalising reservoir, no drop in a minute",
        lambda: _minute("70", "70").value,
        Decimal(0),
        None,
        "US Army TM 55-2210-224-34, 2-9: no drop allowed in 1 min",
        Status.READ,
    ),
    Published(
        "two readings of ± 0.1, 3 apart",
        lambda: (
            leak_rate(
                [PressureReading(0, 5), PressureReading(180, 5)], reading_u_bar=0.10
            ).uncertainty_bar_per_min
        ),
        1.96 * 0.0471,
        1e-3,
        "GUM, √2 · 0.10 / 3 = 0.0471, at 95 %",
        Status.DERIVED,
    ),
]


@pytest.mark.parametrize("row", rows(TABLE))
def test_leakage_agrees_with_what_is_printed_of_it(row):
    check(row)

"""What the demo's pressure logger writes of a cylinder: filled, held, released."""

import math
from random import Random

STEP_S, LAST_S = 0.1, 150.0
APPLIED_S, RELEASED_S = 6.0, 90.0
MAXIMUM_BAR, RELEASED_TO_BAR = 3.8, 0.4
NOISE_BAR, RESOLUTION_BAR = 0.004, 0.005


def logged_csv(*, release_s: float, fill_s: float = 4.0) -> bytes:
    """
    Return a logger's file of one application and its release, as bytes.

    The cylinder rises to 95 % of its maximum in `fill_s` and comes down to 0.4 bar in
    `release_s`, both exponentially; noise and resolution are those of a common logger.
    """
    dice = Random(302)  # a demo that looks alike each time, no secret
    rows = ["Time (s);Cylinder (bar)"]
    for at in range(int(LAST_S / STEP_S)):
        seconds = at * STEP_S
        bar = _pressure(seconds, fill_s, release_s) + dice.gauss(0, NOISE_BAR)
        steps = round(bar / RESOLUTION_BAR)
        rows.append(f"{seconds:.1f};{steps * RESOLUTION_BAR:.3f}")
    return "\n".join([*rows, ""]).encode()


def _pressure(at_s: float, fill_s: float, release_s: float) -> float:
    if at_s < APPLIED_S:
        return 0.0
    if at_s < RELEASED_S:
        return MAXIMUM_BAR * (1 - math.exp(-(at_s - APPLIED_S) * math.log(20) / fill_s))
    fall = math.log(MAXIMUM_BAR / RELEASED_TO_BAR) / release_s
    return MAXIMUM_BAR * math.exp(-(at_s - RELEASED_S) * fall)

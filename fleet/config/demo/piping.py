"""A train pipe of the demo by the logger: vacuum destroyed, and created again."""

import math
from io import BytesIO
from random import Random

from fleet.config.demo.line import Line, make_test
from fleet.engineering.trace_heads import Columns
from fleet.examination.models import ProcedureLine
from fleet.examination.traces import read_file

STEP_S, LAST_S = 0.1, 150.0
DESTROYED_S, CREATED_S = 10.0, 60.0
WORKING_INHG, NOISE_INHG = 21.0, 0.02
FALL_S, RISE_S = 1.4, 12.0  # time constants


def logged_train_pipe(line: Line) -> None:
    """The logger was on the train pipe: it falls and comes back within its times."""
    lines = ProcedureLine.objects.filter(revision__procedure__code="vac-pipe-trace")
    trace = read_file(BytesIO(_logged_csv()), "W802-pipe.csv", Columns(), lines)
    vehicle = line.vehicles["W 802"]
    make_test(line, "vac-pipe-trace", line.ago(9, 11), vehicle=vehicle, trace=trace)


def _logged_csv() -> bytes:
    dice = Random(802)  # a demo that looks alike each time, no secret
    rows = ["Time (s);Train pipe (inHg)"]
    for at in range(int(LAST_S / STEP_S)):
        seconds = at * STEP_S
        rows.append(f"{seconds:.1f};{_vacuum(seconds) + dice.gauss(0, NOISE_INHG):.2f}")
    return "\n".join([*rows, ""]).encode()


def _vacuum(at_s: float) -> float:
    if at_s < DESTROYED_S:
        return WORKING_INHG
    if at_s < CREATED_S:
        return WORKING_INHG * math.exp(-(at_s - DESTROYED_S) / FALL_S)
    return WORKING_INHG * (1 - math.exp(-(at_s - CREATED_S) / RISE_S))

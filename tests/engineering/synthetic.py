"""Traces whose true times are known: a cylinder that fills, holds, leaks and releases."""

import math
import random
from dataclasses import dataclass

from fleet.engineering.traces import trace_of

# 95 % of an exponential rise after exactly 4 s: tau = 4 / ln 20.
TAU_S = 4 / math.log(20)


@dataclass(frozen=True)
class Test:
    """One application and release; `ramp` fills and releases along straight lines."""

    __test__ = False
    start_s: float = 5.0037
    release_s: float = 65.002
    maximum: float = 3.8
    ramp: bool = False
    leak_per_min: float = 0.0

    @property
    def filled_s(self):
        """When 95 % of the maximum is reached."""
        return self.start_s + (3.8 if self.ramp else 4.0)

    def released_s(self, level):
        """When the release comes down to a level."""
        held = self.held(self.release_s)
        if self.ramp:
            return self.release_s + (held - level) / 0.22
        return self.release_s + 8 * math.log(held / level)

    def held(self, at_s):
        """The pressure of the hold, leaking once the cylinder has long been full."""
        return self.maximum - self.leak_per_min / 60 * max(0, at_s - self.start_s - 10)

    def pressure(self, at_s):
        """The true pressure, bar."""
        if at_s < self.start_s:
            return 0.0
        since = at_s - self.start_s
        if at_s < self.release_s:
            rise = since / 4 if self.ramp else 1 - math.exp(-since / TAU_S)
            return self.maximum * min(rise, 1) - self.maximum + self.held(at_s)
        gone, held = at_s - self.release_s, self.held(self.release_s)
        if self.ramp:
            return max(held - 0.22 * gone, 0)
        return held * math.exp(-gone / 8)


def logged(
    test,
    *,
    step_s=0.1,
    last_s=100.0,
    noise=0.0,
    rounding=0.0,
    drift_per_s=0.0,
    offset=0.0,
    lost=0.0,
    jitter=0.0,
    spikes=0,
    seed=1,
):
    """A logger's trace of a test, with what loggers do to one."""
    dice = random.Random(seed)
    times = [i * step_s for i in range(int(last_s / step_s))]
    times = [t + dice.uniform(-jitter, jitter) * step_s for t in times]
    times = [t for t in times if dice.random() >= lost]
    values = [
        test.pressure(t) + offset + drift_per_s * t + dice.gauss(0, noise)
        for t in times
    ]
    for at in range(0, len(values), len(values) // spikes if spikes else len(values)):
        values[at] += 2.0 if spikes else 0.0
    if rounding:
        values = [round(v / rounding) * rounding for v in values]
    return trace_of(times, values, "bar")


def stepped(levels, *, each_s=10.0, step_s=0.05, noise=0.0, seed=1):
    """A trace of a graduated application: from level to level, `each_s` apart."""
    dice = random.Random(seed)
    times = [i * step_s for i in range(int(each_s * (len(levels) + 1) / step_s))]
    values, value = [], 0.0
    for t in times:
        at = int(t / each_s) - 1
        target = levels[at] if at >= 0 else 0.0
        values.append(value + dice.gauss(0, noise))
        value += (target - value) * (1 - math.exp(-step_s / 0.5))
    return trace_of(times, values, "bar")

"""Prices of hours, places and units, as the desk adds them to what a week costs."""

from collections.abc import Mapping

import numpy as np
import numpy.typing as npt

from fleet.workshop.engine.work import LATE, Numbers, Work

Reals = npt.NDArray[np.float64]
Key = tuple[str, str | int]  # hours of a skill, places of a rank, units of a group
Price = Mapping[Key, Reals]  # late days that one is worth, by week


def price_of_turn(price: Price, away: Mapping[str, int], work: Work) -> Reals:
    """Hours and units of one turn, by the week in which it begins."""
    weeks = len(work.first)
    total = np.zeros(weeks)
    for skill, each in work.hours:
        of_week = price.get(("hours", skill))
        if of_week is not None:
            for n, hours in enumerate(each):
                total += hours * of_week[n : n + weeks]
    group = work.job.group or ""
    of_week = price.get(("units", group))
    if of_week is not None:
        sums = np.concatenate(([0], np.cumsum(of_week)))
        until = np.minimum(np.arange(weeks) + away[group], len(of_week))
        total += work.job.units * (sums[until] - sums[:weeks])
    return total


class Guide:
    """A part of the full prices: the whole at first, nothing in the end."""

    def __init__(self, price: Price, part: float, away: Mapping[str, int]) -> None:
        self.price = {key: part * each for key, each in price.items()}
        self._away = away
        self._turns: dict[tuple[object, ...], Numbers] = {}
        self._places = {
            key[1]: _whole(each)
            for key, each in self.price.items()
            if key[0] == "place"
        }

    def turn(self, work: Work) -> Numbers:
        """Of one turn besides its place."""
        job = work.job
        key = (job.weeks, work.hours, job.group, job.units)
        if key not in self._turns:
            self._turns[key] = _whole(price_of_turn(self.price, self._away, work))
        return self._turns[key]

    def place(self, work: Work, rank: Numbers) -> Numbers | int:
        """Of its place, where the vehicle does not stand on one that does."""
        place = self._places.get(work.rank)
        if place is None:
            return 0
        weeks = len(work.first)
        total = np.where(rank[:weeks] >= work.rank, 0, place[:weeks])
        for n in range(1, work.job.weeks):
            here = slice(n, n + weeks)
            total += np.where(rank[here] >= work.rank, 0, place[here])
        return total

    def worth(self, left: Mapping[Key, Numbers]) -> float:
        """What is left of the shop, in late days."""
        return sum(float(each @ left[key]) for key, each in self.price.items())


def _whole(price: Reals) -> Numbers:
    return (price * LATE).astype(np.int64)

"""
What vouches for tests: how instruments were calibrated, what persons were assessed for.

Shared by many files and changed seldom, so it is kept beside the operator's practice.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from functools import lru_cache
from typing import Any

from fleet.engineering.calendar import Moment
from fleet.examination.calibration import Record, doubt
from fleet.examination.citing import records_of
from fleet.examination.models import Calibration, InstrumentVersion
from fleet.fitness.facts import Doubt
from fleet.fitness.intervals import Interval, sure
from fleet.people.models import CompetenceVersion, Skill


@dataclass(frozen=True, slots=True)
class Vouching:
    """
    Instruments by their id, and each competence by the id of any version of it.

    A record names the version of the competence it was done under; what counts is
    whether the competence, as it is known now, held that day.
    """

    instruments: Mapping[int, Record] = field(default_factory=dict)
    names: Mapping[int, str] = field(default_factory=dict)
    competences: Mapping[int, tuple[Interval, ...]] = field(default_factory=dict)

    def doubts(self, instruments: Iterable[int], at: Moment) -> tuple[Doubt, ...]:
        """Return which of a test's instruments were in doubt at its moment."""
        found = []
        for instrument in sorted(instruments):
            words = _doubt(self.instruments.get(instrument, _NOTHING), at)
            if words:
                name = self.names.get(instrument, "an instrument of no record")
                found.append(Doubt(instrument, f"{name} {words}"))
        return tuple(found)

    def competent(self, version: int | None, at: Moment) -> bool:
        """Say whether the competence of a version surely held at a moment."""
        if version is None or at.earliest is None or at.latest is None:
            return False
        return any(
            since <= at.earliest and at.latest < until
            for since, until in self.competences.get(version, ())
        )

    def lacking(self, skill: str, version: int | None, at: Moment) -> str:
        """Return what whoever did something lacked that day, in words; "" if nothing."""
        if not skill or self.competent(version, at):
            return ""
        return Skill(skill).label.lower()


_NOTHING = Record()
_doubt = lru_cache(maxsize=65_536)(doubt)


def read_vouching(known_at: int | None) -> Vouching:
    """Return what was held at an entry, None for now: four queries."""
    versions = list(
        InstrumentVersion.objects.known_at(known_at).order_by("since_key", "pk")
    )
    calibrations = Calibration.objects.known_at(known_at).order_by("pk")
    return Vouching(
        records_of(calibrations, versions),
        {
            v.instrument_id: f"{v.number} ({v.what[:1].lower()}{v.what[1:]})"
            for v in versions
        },
        _competences(known_at),
    )


def _competences(known_at: int | None) -> dict[int, tuple[Interval, ...]]:
    held: dict[int, list[Interval]] = {}
    for row in CompetenceVersion.objects.known_at(known_at):
        held.setdefault(row.competence_id, []).append(sure(row.since, row.until))
    every: Any = CompetenceVersion.objects.order_by()
    return {
        version: tuple(held.get(competence, ()))
        for version, competence in every.values_list("pk", "competence")
    }

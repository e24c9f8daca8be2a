"""What vouches for the demo's tests: competences of its people, its calibrated gauges."""

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from decimal import Decimal
from typing import Any

from fleet.engineering.calendar import Moment, add_months
from fleet.examination.instruments import add_instrument, record_calibration
from fleet.examination.models import Instrument, Reading, TestRecord
from fleet.people.models import CompetenceVersion, Person
from fleet.people.services import grant_competence

CITED_FROM_MONTHS = 15  # before that the gauges stand on the sheets in words only
ASSESSOR = "E. Tanfield, brake inspector"


@dataclass(frozen=True, slots=True)
class Grant:
    """A competence and the days it holds, the last included."""

    person: Person
    version: CompetenceVersion
    since: dt.date
    last_day: dt.date

    def holds_on(self, day: dt.date) -> bool:
        """Say whether it holds on a day."""
        return self.since <= day <= self.last_day


@dataclass(frozen=True, slots=True)
class Vouchers:
    """Competences by skill, and the instrument used for each quantity."""

    today: dt.date
    grants: Mapping[str, Sequence[Grant]] = field(default_factory=dict)
    instruments: Mapping[str, Instrument] = field(default_factory=dict)

    def doer(
        self, skill: str, day: dt.date, wished: Person
    ) -> tuple[Person, CompetenceVersion | None]:
        """Return who does a test: the one wished for, if competent, or one who is."""
        held = [grant for grant in self.grants.get(skill, ()) if grant.holds_on(day)]
        for grant in held:
            if grant.person == wished:
                return wished, grant.version
        return (held[0].person, held[0].version) if held else (wished, None)

    def cite(self, record: TestRecord, readings: Sequence[Reading]) -> None:
        """Let the values of a recent test cite what they were measured with."""
        assert record.on.latest is not None
        if record.on.latest < add_months(self.today, -CITED_FROM_MONTHS):
            return
        for reading in readings:
            if reading.value is not None:
                reading.instrument = self.instruments.get(reading.line.quantity)


def vouchers(
    book: Mapping[str, Any], people: Mapping[str, Person], *, today: dt.date
) -> Vouchers:
    """Record the competences and instruments the demo's file names, and return them."""
    grants: dict[str, list[Grant]] = {}
    for name, skill, years, days in book["competences"]:
        grant = _grant(people[name], skill, years, days, today)
        grants.setdefault(skill, []).append(grant)
    instruments: dict[str, Instrument] = {}
    for raw in book["instrument"]:
        made = _instrument(raw, today)
        for quantity in raw["used_for"]:
            instruments[quantity] = made
    return Vouchers(today, grants, instruments)


def _grant(person: Person, skill: str, years: int, days: int, today: dt.date) -> Grant:
    since = add_months(today, -12 * years)
    last_day = today + dt.timedelta(days=days)
    version = grant_competence(
        by=None,
        person=person,
        skill=skill,
        since=Moment.on(since),
        last_day=last_day,
        assessed_by=ASSESSOR,
        grounds="Supervised work and a test by word of mouth",
    )
    return Grant(person, version, since, last_day)


def _instrument(raw: Mapping[str, Any], today: dt.date) -> Instrument:
    low, high, accuracy_class = (Decimal(str(number)) for number in raw["range"])
    instrument = add_instrument(
        by=None,
        number=raw["number"],
        what=raw["what"],
        since=Moment.on(today - dt.timedelta(days=raw["calibrated"][0])),
        quantity=raw["quantity"],
        unit=raw["unit"],
        range_low=low,
        range_high=high,
        accuracy_class=accuracy_class,
    )
    error = accuracy_class * (high - low) / 400  # a quarter of what is allowed
    for number, days in enumerate(raw["calibrated"], start=1):
        record_calibration(
            by=None,
            instrument=instrument,
            on=Moment.on(today - dt.timedelta(days=days)),
            as_found_error=error,
            as_left_error=error,
            certificate=f"{raw['number']}/{number}",
            laboratory="Marrowby master gauge room",
        )
    return instrument

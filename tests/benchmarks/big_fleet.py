"""A big fleet of two-pipe coaches, written by the one bulk writer; always the same."""

import datetime as dt
from itertools import islice
from pathlib import Path

from django.conf import settings

from fleet.defects.models import Defect, DefectStep
from fleet.defects.vocabulary import Step
from fleet.engineering.calendar import Moment, add_months
from fleet.examination.models import ProcedureRevision, Reading, Test, TestRecord
from fleet.examination.vocabulary import Answer
from fleet.people.models import Person, Skill
from fleet.people.services import grant_competence
from fleet.records.deeds import deed
from fleet.records.versions import write_many
from fleet.register.models import (
    Equipment,
    EquipmentVersion,
    Fitting,
    Usage,
    Vehicle,
    VehicleVersion,
)
from fleet.register.services.types import define_type
from fleet.register.vocabulary import (
    CockPosition,
    Effect,
    EquipmentKind,
    Scope,
    VehicleStatus,
)
from fleet.upkeep.practice import load_practice

PRACTICE = Path(settings.BASE_DIR) / "fixtures" / "practice"
FIRST = dt.date(2020, 11, 1)  # the day everything was fitted, then tested
FITTED_AT, TESTED_AT = dt.time(8), dt.time(16)
LAST = dt.date(2026, 11, 1)
MONTHS = 72
CHUNK = 250  # vehicles written in one transaction

ENDS = (
    ("bp-hose", EquipmentKind.BP_HOSE, Scope.BRAKE_PIPE, CockPosition.NONE),
    ("bp-cock", EquipmentKind.BP_END_COCK, Scope.BRAKE_PIPE, CockPosition.CLOSED),
    ("mr-hose", EquipmentKind.MR_HOSE, Scope.MAIN_RESERVOIR_PIPE, CockPosition.NONE),
    (
        "mr-cock",
        EquipmentKind.MR_END_COCK,
        Scope.MAIN_RESERVOIR_PIPE,
        CockPosition.CLOSED,
    ),
    ("cylinder", EquipmentKind.BRAKE_CYLINDER, Scope.AIR_BRAKE, CockPosition.NONE),
    ("slack", EquipmentKind.SLACK_ADJUSTER, Scope.SHARED_GEAR, CockPosition.NONE),
    ("blocks", EquipmentKind.BRAKE_BLOCKS, Scope.SHARED_GEAR, CockPosition.NONE),
    ("collector", EquipmentKind.DIRT_COLLECTOR, Scope.BRAKE_PIPE, CockPosition.NONE),
)
MIDDLE = (
    ("distributor", EquipmentKind.DISTRIBUTOR),
    ("dv-cock", EquipmentKind.DISTRIBUTOR_ISOLATING_COCK),
    ("mr-isolating", EquipmentKind.MR_ISOLATING_COCK),
    ("aux-reservoir", EquipmentKind.AUXILIARY_RESERVOIR),
    ("control-reservoir", EquipmentKind.CONTROL_RESERVOIR),
    ("check-valve", EquipmentKind.CHECK_VALVE),
    ("release-valve", EquipmentKind.RELEASE_VALVE),
    ("alarm", EquipmentKind.PASSENGER_ALARM),
    ("handbrake", EquipmentKind.HANDBRAKE),
)
# Procedure, years between, and the position of the item it is done on.
TESTED = (
    ("svt-air", 8, ""),
    ("annual-air", 1, ""),
    ("rigging", 1, ""),
    ("handbrake", 2, ""),
    ("air-pipe", 2, ""),
    ("distributor-bench", 8, "distributor"),
    ("aux-reservoir-exam", 3, "aux-reservoir"),
    ("control-reservoir-exam", 3, "control-reservoir"),
    ("cylinder-overhaul", 6, "cylinder-1"),
    ("cylinder-overhaul", 6, "cylinder-2"),
)


def positions():
    """Twenty-five places, as `define_type` takes them."""
    places = [
        {
            "code": f"{code}-{end}",
            "label": f"{kind.label}, No. {end} end",
            "kind": kind,
            "scope": scope,
            "end": end,
            "normal": normal,
            "effect_missing": Effect.STOP if scope.through_pipe else Effect.ISOLATE,
        }
        for end in (1, 2)
        for code, kind, scope, normal in ENDS
    ]
    cocks = {"dv-cock", "mr-isolating"}
    return places + [
        {
            "code": code,
            "label": kind.label,
            "kind": kind,
            "scope": Scope.HAND_BRAKE if code == "handbrake" else Scope.AIR_BRAKE,
            "normal": CockPosition.OPEN if code in cocks else CockPosition.NONE,
        }
        for code, kind in MIDDLE
    ]


class BigFleet:
    """The practice, the type, and vehicles as many as are asked for."""

    def __init__(self):
        with deed("benchmark.practice", by=None):
            load_practice(PRACTICE, by=None)
            self.type = define_type(
                by=None,
                code="bench-coach",
                name="Coach",
                effective_from=dt.date(2000, 1, 1),
                positions=positions(),
                source="operator's own",
            )
        self.person = Person.objects.create(name="Robin Hollis")
        self.competences = {skill: self._competent(skill) for skill in Skill}
        self.places = positions()
        self.revisions = {
            revision.procedure.code: revision
            for revision in ProcedureRevision.objects.select_related("procedure")
        }

    def _competent(self, skill):
        """Assess the one person for a skill; return the version its records name."""
        return grant_competence(
            by=None,
            person=self.person,
            skill=skill,
            since=Moment.on(dt.date(2015, 1, 1)),
            assessed_by="the line's assessor",
        )

    def add(self, number):
        """Write that many vehicles, a chunk in each transaction."""
        plans = iter(range(number))
        while chunk := list(islice(plans, CHUNK)):
            with deed("benchmark.vehicles", by=None) as entry:
                self._write(chunk, entry)

    def _write(self, plans, entry):
        vehicles = [Vehicle(created_by=entry) for _ in plans]
        save(vehicles)
        pairs = list(zip(plans, vehicles, strict=True))
        save([self._particulars(n, vehicle, entry) for n, vehicle in pairs])
        save(row for n, vehicle in pairs for row in usage(n, vehicle, entry))
        lives = [Life(self, n, vehicle, entry) for n, vehicle in pairs]
        for model in (
            Equipment,
            EquipmentVersion,
            Fitting,
            Test,
            TestRecord,
            Reading,
            Defect,
            DefectStep,
        ):
            save(row for life in lives for row in life.rows[model])

    def _particulars(self, n, vehicle, entry):
        row = VehicleVersion(
            opened_by=entry,
            vehicle=vehicle,
            number=f"B {n}",
            type=self.type,
            air="braked",
            main_reservoir_pipe="feeding",
            status=VehicleStatus.IN_TRAFFIC,
        )
        row.since = Moment.on(FIRST)
        return row


def save(rows):
    """Write rows of one model, or of none."""
    for _ in write_many(rows):
        pass


def usage(n, vehicle, entry):
    """Miles and days of every month."""
    for month in range(MONTHS):
        yield Usage(
            opened_by=entry,
            vehicle=vehicle,
            first=add_months(FIRST, month),
            last=add_months(FIRST, month + 1) - dt.timedelta(days=1),
            miles=200 + (n * 7 + month * 13) % 150,
            days=8 + (n + month) % 9,
        )


class Life:
    """What was fitted, tested and wrong on one vehicle, as unsaved rows by model."""

    def __init__(self, fleet, n, vehicle, entry):
        self.fleet, self.n, self.vehicle, self.entry = fleet, n, vehicle, entry
        self.rows = {
            model: []
            for model in (
                Equipment,
                EquipmentVersion,
                Fitting,
                Test,
                TestRecord,
                Reading,
                Defect,
                DefectStep,
            )
        }
        items = {place["code"]: self._fit(place) for place in fleet.places}
        if n % 4 == 0:  # an exchange two years ago, with the test after it
            self._exchange(items)
        for at, (code, years, position) in enumerate(TESTED):
            self._test_regularly(code, years, items.get(position), at)
        if n % 5 == 0:
            self._defect(cleared=n % 50 != 0)

    def _fit(self, place, since=FIRST, until=None):
        item = Equipment(created_by=self.entry, kind=place["kind"])
        made = dt.date(since.year - self.n % 3, 1 + self.n % 10, 1)
        version = EquipmentVersion(
            opened_by=self.entry,
            equipment=item,
            kind=place["kind"],
            serial=f"{place['code']}-{self.n}-{since.year}",
            made_earliest=made,
            made_latest=made,
        )
        version.since = Moment.on(made)
        fitting = Fitting(
            opened_by=self.entry,
            equipment=item,
            vehicle=self.vehicle,
            position=place["code"],
        )
        fitting.since = Moment.on(since, FITTED_AT)
        fitting.until = Moment.on(until) if until else None
        for row in (item, version, fitting):
            self.rows[type(row)].append(row)
        return item

    def _exchange(self, items):
        place = next(p for p in self.fleet.places if p["code"] == "distributor")
        day = dt.date(2024, 5, 1 + self.n % 28)
        old = self.rows[Fitting][self.fleet.places.index(place)]
        old.until = Moment.on(day, FITTED_AT)
        items["distributor"] = self._fit(place, since=day)
        self._test("svt-air", day + dt.timedelta(days=1), None)

    def _test_regularly(self, code, years, item, at):
        """Once when everything was fitted, then in time, on a day of the vehicle's own."""
        self._test(code, FIRST, item, TESTED_AT)
        day = FIRST + dt.timedelta(days=30 + (self.n * 11 + at * 17) % 300)
        while day < LAST:
            self._test(code, day, item)
            day += dt.timedelta(days=365 * years - 20)

    def _test(self, code, day, item, at=None):
        test = Test(created_by=self.entry)
        failed = self.n % 40 == 7 and day.year == 2023 and item is None
        record = TestRecord(
            opened_by=self.entry,
            test=test,
            procedure_revision=self.fleet.revisions[code],
            vehicle=None if item else self.vehicle,
            equipment=item,
            done_by=self.fleet.person,
            competence=self.fleet.competences.get(self.fleet.revisions[code].skill),
            passed=not failed,
            failed=int(failed),
        )
        record.on = Moment.on(day, at)
        self.rows[Test].append(test)
        self.rows[TestRecord].append(record)
        if failed:
            line = record.procedure_revision.lines.first()
            reading = Reading(record=record, line=line, answer=Answer.NOT_MET)
            self.rows[Reading].append(reading)

    def _defect(self, *, cleared):
        defect = Defect(
            created_by=self.entry, vehicle=self.vehicle, title="Slow to release"
        )
        self.rows[Defect].append(defect)
        steps = [Step.RAISED, Step.ASSESSED]
        if cleared:
            steps += [Step.IN_HAND, Step.DONE, Step.RELEASED]
        for number, step in enumerate(steps, 1):
            row = DefectStep(
                opened_by=self.entry,
                defect=defect,
                number=number,
                step=step,
                by=self.fleet.person,
                scope=Scope.AIR_BRAKE,
                effect=Effect.ISOLATE,
            )
            row.on = Moment.on(dt.date(2025, 6, 1 + number))
            self.rows[DefectStep].append(row)

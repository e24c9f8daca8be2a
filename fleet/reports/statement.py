"""What a vehicle's fitness statement says, decided from its file and verdict. Pure."""

import datetime as dt
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field

from fleet.defects.vocabulary import Brake
from fleet.engineering.calendar import add_months
from fleet.fitness.case import Case
from fleet.fitness.facts import Particulars, Policy, VehicleFile
from fleet.fitness.findings import Finding, Verdict
from fleet.fitness.intervals import held
from fleet.register.vocabulary import (
    Effect,
    Fitment,
    MainReservoirPipe,
    System,
)
from fleet.reports.recorded import (
    DefectLine,
    DueLine,
    TestLine,
    due_lines,
    isolations_on,
    last_tests,
    open_defects,
)
from fleet.reports.sheet import (
    DASH,
    NONE,
    NOT_FITTED,
    UNKNOWN,
    Head,
    Mark,
    Printed,
    head,
    mark_of,
    outlook,
    standing_cautions,
    strip,
)
from fleet.ui.drawing import Drawing
from fleet.upkeep.due import later, written

TITLE = "Vehicle fitness statement"
STRIP_WIDTH = 700.0
MONTHS_AHEAD = 12


@dataclass(frozen=True, slots=True)
class Plate:
    """What the file does not hold: words that stand on the vehicle's plate."""

    type_name: str = ""
    tare: str = ""
    depot: str = ""
    signed: Mapping[int, str] = field(default_factory=dict)  # test id -> who did it
    moves: tuple[str, ...] = ()  # authorities to move in force, a sentence each


@dataclass(frozen=True, slots=True)
class SystemLine:
    """The brake status of one system."""

    name: str
    mark: Mark
    since: str
    until: str
    first: str


@dataclass(frozen=True, slots=True)
class FindingLine:
    """A finding as the paper tells it."""

    number: str
    day: str
    text: str
    effect: str
    clears: str
    evidence: str


@dataclass(frozen=True, slots=True)
class StatementSheet:
    """Everything a statement says, in order."""

    head: Head
    particulars: tuple[tuple[str, str], ...]
    stopped: str  # why the vehicle itself may not run; "" where it may
    systems: tuple[SystemLine, ...]
    strip: Drawing | None
    conditions: tuple[str, ...]
    outstanding: tuple[FindingLine, ...]
    nothing: str  # what to say where nothing is outstanding
    coming: tuple[FindingLine, ...]
    defects: tuple[DefectLine, ...]
    isolations: tuple[str, ...]
    tests: tuple[TestLine, ...]
    due: tuple[DueLine, ...]
    due_beyond: str
    cautions: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Issued:
    """What an issued statement bears beside what it says."""

    number: str
    signed: str  # by whom, with what competence, when
    digest: str
    facts: str  # seal of the newest entry it rests on
    address: str  # of the page that vouches for it
    remark: str = ""  # withdrawn or superseded, and why


def statement_sheet(
    file: VehicleFile,
    verdict: Verdict,
    policy: Policy,
    *,
    on: dt.date,
    printed: Printed,
    plate: Plate = Plate(),
) -> StatementSheet:
    """Return what the statement of one vehicle says about the close of a day."""
    case = Case(file, policy)
    now = particulars_on(case, on)
    due, beyond = due_lines(case, verdict, on)
    return StatementSheet(
        head=head(TITLE, now.number if now else "No number", on=on, printed=printed),
        particulars=tuple(_particulars(now, plate, hand_brake_words(case, now, on))),
        stopped=_stopped(verdict, on),
        systems=tuple(_system(verdict, now, system, on) for system in System),
        strip=strip(
            verdict.spans, systems_of(verdict), on=on, width=STRIP_WIDTH, labels=True
        ),
        conditions=tuple(_conditions(verdict, on)),
        outstanding=tuple(_outstanding(verdict, on)),
        nothing=_nothing(verdict, on),
        coming=tuple(_coming(verdict, on)),
        defects=tuple(open_defects(case, on)),
        isolations=(*isolations_on(case, on), *plate.moves),
        tests=tuple(last_tests(case, on, plate.signed)),
        due=due,
        due_beyond=beyond,
        cautions=standing_cautions(),
    )


def particulars_on(case: Case, on: dt.date) -> Particulars | None:
    """Return the particulars that hold at the close of a day; None before the first."""
    for phase in case.phases:
        if phase.since <= on < phase.until:
            return phase.particulars
    return None


def _particulars(
    now: Particulars | None, plate: Plate, hand_brake: str
) -> Iterator[tuple[str, str]]:
    if now is None:
        yield "Particulars", "None are recorded for this day"
        return
    yield "Type", plate.type_name or now.type_code
    yield "Arrangement", arrangement(now)
    yield "Depot", plate.depot or now.depot or "Not stated"
    yield "Tare", plate.tare or "Not stated"
    yield "Handbrake", hand_brake
    yield "Standing", now.status.label


def hand_brake_words(case: Case, now: Particulars | None, on: dt.date) -> str:
    """Return what there is of a handbrake; one out of use is not merely fitted."""
    if now is None or not now.hand_brake:
        return NOT_FITTED
    out = (
        held(isolation.since, isolation.until)
        for isolation in case.file.isolations
        if isolation.brake is Brake.HAND
    )
    return "Fitted, OUT OF USE" if any(a <= on < b for a, b in out) else "Fitted"


def arrangement(now: Particulars) -> str:
    """Return the brake arrangement in words: "two-pipe air brake, vacuum piped only"."""
    parts = []
    if now.air is not Fitment.NONE:
        two = now.main_reservoir_pipe is not MainReservoirPipe.NONE
        pipes = "two-pipe" if two else "one-pipe"
        braked = now.air is Fitment.BRAKED
        parts.append(f"{pipes} air brake" if braked else f"air piped only, {pipes}")
        if now.main_reservoir_pipe is MainReservoirPipe.THROUGH and braked:
            parts.append("main reservoir pipe through only")
    if now.vacuum is not Fitment.NONE:
        braked = now.vacuum is Fitment.BRAKED
        parts.append("vacuum brake" if braked else "vacuum piped only")
    return ", ".join(parts).capitalize() or "No continuous brake"


def systems_of(verdict: Verdict) -> list[System]:
    """Return the brake systems a verdict speaks of, in order."""
    known = {span.system for span in verdict.spans}
    return [system for system in System if system in known]


def _stopped(verdict: Verdict, on: dt.date) -> str:
    for system in System:
        span = verdict.span_on(system, on)
        if span is not None and span.whole_vehicle:
            return span.headline or "The records stop the vehicle."
    return ""


def _system(
    verdict: Verdict, now: Particulars | None, system: System, on: dt.date
) -> SystemLine:
    span = verdict.span_on(system, on)
    name = f"{system.label} brake"
    if span is None:
        fitted = now is None or now.fitment(system) is not Fitment.NONE
        mark = UNKNOWN if fitted else NONE
        return SystemLine(name, mark, DASH, DASH, "")
    ahead = outlook([s for s in verdict.spans if s.system is system], on)
    return SystemLine(
        name, mark_of(span), written(span.since), ahead.until or DASH, ahead.first
    )


def _conditions(verdict: Verdict, on: dt.date) -> Iterator[str]:
    """Yield each condition once, naming the train it holds in if not in every one."""
    spans = [s for system in System if (s := verdict.span_on(system, on))]
    heard: list[str] = []
    for span in spans:
        for words in span.conditions:
            if words in heard:
                continue
            heard.append(words)
            everywhere = all(words in other.conditions for other in spans)
            train = "an air" if span.system is System.AIR else "a vacuum"
            yield (
                words if everywhere and len(spans) > 1 else f"In {train} train: {words}"
            )


def _outstanding(verdict: Verdict, on: dt.date) -> Iterator[FindingLine]:
    held = [f for f in verdict.findings if f.holds_on(on)]
    held.sort(key=lambda f: (-f.effect.weight, f.since, f.code, f.text))
    for number, finding in enumerate(held, start=1):
        until = finding.until
        day = f"since {written(finding.since)}"
        day += f", until {written(later(until, -1))}" if until else ""
        yield _line(finding, str(number), day)


def _nothing(verdict: Verdict, on: dt.date) -> str:
    if any(verdict.span_on(system, on) for system in System):
        return "Nothing is recorded as outstanding."
    return "The records do not tell the brake status of this day. Unknown is not fit."


def _coming(verdict: Verdict, on: dt.date) -> Iterator[FindingLine]:
    end = add_months(on, MONTHS_AHEAD)
    ahead = [f for f in verdict.findings if on < f.since <= end]
    ahead.sort(key=lambda f: (f.since, -f.effect.weight, f.code, f.text))
    for finding in ahead:
        forecast = " (forecast)" if finding.forecast else ""
        yield _line(finding, "", f"from {written(finding.since)}{forecast}")


def _line(finding: Finding, number: str, day: str) -> FindingLine:
    parts = [f"Rule {finding.code}", finding.source]
    parts += [_evidence(e.kind, e.label) for e in finding.evidence]
    missing = "A fact is missing: " if finding.missing else ""
    return FindingLine(
        number,
        day,
        missing + finding.text,
        _effect(finding),
        finding.clears,
        " · ".join(part for part in parts if part),
    )


_RECORDS = {
    "equipment": "item",
    "fitting": "fitting of",
    "matrix": "test matrix line",
    "requirement": "requirement",
    "type": "vehicle type",
}


def _evidence(kind: str, label: str) -> str:
    word = _RECORDS.get(kind, "")
    return label if label.lower().startswith(word) else f"{word} {label}"


def _effect(finding: Finding) -> str:
    scope = finding.scope.label.lower()
    words = f"{finding.effect.label} ({scope})"
    if finding.effect is Effect.CONDITION and finding.condition:
        return f"{words}: {finding.condition.rstrip('.')}"
    return words

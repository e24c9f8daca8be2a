"""The lines of a test record as papers print them, one row for each place. Pure."""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal

from fleet.examination.asking import Asked, Places, key_of, spread
from fleet.examination.judging import judge, plain
from fleet.examination.models import ProcedureLine, Reading, TestRecord
from fleet.examination.vocabulary import ATTACHED, Answer, Stage
from fleet.register.vocabulary import Effect, Scope
from fleet.reports.sheet import DASH

RECORDED = "Recorded"
NOT_MET = "NOT MET"
NOT_ANSWERED = "NOT ANSWERED"
NOT_DONE = "Not done"
NOT_FITTED = "None on this vehicle's type"
ALTERED = "Altered"
_VERDICTS: Mapping[str, str] = {
    Answer.MET: "Met",
    Answer.NOT_MET: NOT_MET,
    Answer.RECORDED: "Recorded, no limit set",
    Answer.NOT_DONE: NOT_DONE,
    Answer.NOT_APPLICABLE: "Not applicable",
}
_GRAVE = frozenset({NOT_MET, NOT_ANSWERED, NOT_DONE})


@dataclass(frozen=True, slots=True)
class Answered:
    """
    One row: what was asked, where, within what, what was found and what that makes.

    A line asked at several places has a row that only asks, then one for each place.
    """

    number: str
    asked: str
    limit: str = ""
    place: str = ""
    found: str = ""
    verdict: str = ""
    remark: str = ""

    @property
    def grave(self) -> bool:
        """Say whether it is to stand out."""
        return self.verdict in _GRAVE

    @property
    def asks_only(self) -> bool:
        """Say whether it heads the rows of its places."""
        return bool(self.asked) and not self.verdict


def asked_words(line: ProcedureLine) -> str:
    """Return what a line asks, as found or as left said before it."""
    stage = f"{Stage(line.stage).label}: " if line.stage else ""
    optional = "" if line.required else " (may be left out)"
    return f"{stage}{line.text}{optional}"


def limit_words(line: ProcedureLine) -> str:
    """Return what is good enough, in words that are never empty."""
    return line.criterion_words or "No criterion set"


def answered(record: TestRecord, places: Places | None) -> tuple[Answered, ...]:
    """
    Return the rows of a record whose readings, traces and thicknesses are loaded.

    `places` is what each repeat stands for on the vehicle; a reading of any other
    position is shown under its code.
    """
    readings = {
        key_of(reading.line.order, reading.position): reading
        for reading in record.readings.all()
    }
    lines = list(record.procedure_revision.lines.all())
    asked = by_line(_with_strays(spread(lines, places), readings))
    attached = _attached(record)
    rows: list[Answered] = []
    for line in lines:
        rows += _line(line, asked.get(line.pk, ()), readings, attached.get(line.pk, ""))
    return tuple(rows)


def by_line(asked: Iterable[Asked]) -> Mapping[int, Sequence[Asked]]:
    """Return what is asked, by the key of its line."""
    found: dict[int, list[Asked]] = {}
    for one in asked:
        found.setdefault(one.line.pk, []).append(one)
    return found


def compared(rows: Iterable[Answered], now: Iterable[Answered]) -> tuple[Answered, ...]:
    """Return the rows of a superseded record, marking those that read otherwise now."""
    holds = {(row.number, row.place): (row.found, row.verdict) for row in now}
    marked = []
    for row in rows:
        then = row.found, row.verdict
        same = row.asks_only or holds.get((row.number, row.place)) == then
        words = _joined("" if same else ALTERED, row.remark)
        marked.append(replace(row, remark=words))
    return tuple(marked)


def _with_strays(
    asked: Sequence[Asked], readings: Mapping[str, Reading]
) -> Iterator[Asked]:
    """Yield what is asked, and what was read where nothing is asked now."""
    yield from asked
    known = {one.key for one in asked}
    for key, reading in readings.items():
        if key not in known:
            place = reading.position or "Place not named"
            yield Asked(reading.line, reading.position, place)


def _line(
    line: ProcedureLine,
    asked: Sequence[Asked],
    readings: Mapping[str, Reading],
    attached: str,
) -> Iterator[Answered]:
    number, words, limit = str(line.order), asked_words(line), limit_words(line)
    if not asked:
        yield Answered(number, words, limit, "", DASH, NOT_FITTED)
    repeated = any(one.place for one in asked)
    if repeated:
        yield Answered(number, words, limit)
    for one in asked:
        told = _told(line, readings.get(one.key), attached)
        if repeated:
            yield Answered(number, "", "", one.place or DASH, *told)
        else:
            yield Answered(number, words, limit, "", *told)


def _told(
    line: ProcedureLine, reading: Reading | None, attached: str
) -> tuple[str, str, str]:
    """Return what was found, what it makes, and what there is to say to it."""
    if reading is None:
        if attached:
            return attached, RECORDED, ""
        return DASH, _blank(line), ""
    found = _joined(_found(reading), attached) or DASH
    remark = _joined(reading.note, reading.worn, _consequence(reading))
    return found, _verdict(reading), remark


def _blank(line: ProcedureLine) -> str:
    if line.stage == Stage.AS_LEFT:
        return "Left as found"
    return NOT_ANSWERED if line.required else "Left out"


def _found(reading: Reading) -> str:
    """Return a reading as typed, and in the unit of the limit where that is another."""
    if reading.value is None:
        return reading.choice
    number = Decimal(reading.typed or plain(reading.value))
    limits = reading.line.limits
    bounds = f", limit {limits.words}" if limits.stated else ", no limit set"
    return judge(number, reading.unit, limits).words.removesuffix(bounds)


def _verdict(reading: Reading) -> str:
    line = reading.line
    if reading.answer != Answer.RECORDED:
        return _VERDICTS[reading.answer]
    if line.kind in ATTACHED:
        return RECORDED
    judged = line.limits.stated or not line.measured
    return "Not met, put right" if judged else _VERDICTS[Answer.RECORDED]


def _consequence(reading: Reading) -> str:
    if reading.answer != Answer.NOT_MET:
        return ""
    effect = Effect(reading.line.effect_failed).label.lower()
    return f"{Scope(reading.line.scope).label}: {effect}"


def _attached(record: TestRecord) -> Mapping[int, str]:
    """Return, by line, what is shown further down."""
    found: dict[int, str] = {}
    for number, trace in enumerate(record.traces.all(), start=1):
        found[trace.line_id] = f"Trace {number}, below"
    points: dict[int, int] = {}
    for thickness in record.thicknesses.all():
        points[thickness.line_id] = points.get(thickness.line_id, 0) + 1
    for line, count in points.items():
        found[line] = f"{count} {'point' if count == 1 else 'points'}, below"
    return found


def _joined(*parts: str) -> str:
    return "; ".join(part for part in parts if part)

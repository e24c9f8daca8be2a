"""What stands against relying on tests: instruments in doubt, competence lacking."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from fleet.engineering.calendar import Moment
from fleet.examination.calibration import Record, doubt
from fleet.examination.citing import records_of
from fleet.examination.models import (
    Calibration,
    CounterSignature,
    InstrumentVersion,
    Reading,
    TestRecord,
)
from fleet.people.competence import covers
from fleet.people.models import CompetenceVersion, Skill


@dataclass(frozen=True, slots=True)
class Cited:
    """An instrument a test cites, and why it is in doubt; "" where it is not."""

    instrument: int
    number: str
    what: str
    doubt: str


@dataclass(frozen=True, slots=True)
class Flags:
    """
    What a list or a page says beside the result of a test.

    `lacking` names the competence that whoever did it had not that day, in words;
    `signed` is the counter-signature to the record as it stands.
    """

    cited: tuple[Cited, ...] = ()
    lacking: str = ""
    signed: CounterSignature | None = None
    passed: bool = True  # a failed test counts as failed whatever it was measured with

    @property
    def doubted(self) -> list[Cited]:
        """Return the instruments in doubt."""
        return [one for one in self.cited if one.doubt]

    @property
    def unsigned(self) -> bool:
        """Say whether it wants a counter-signature."""
        return bool(self.lacking) and self.signed is None

    @property
    def words(self) -> list[str]:
        """Return each flag in a few words, for a list."""
        said = []
        if self.doubted:
            numbers = ", ".join(one.number for one in self.doubted)
            lead = "does not count: " if self.passed else ""
            said.append(f"{lead}{numbers} in doubt")
        if self.unsigned:
            said.append("to be counter-signed")
        return said


NONE = Flags()


def flags_of(records: Iterable[TestRecord]) -> dict[int, Flags]:
    """
    Return the flags of test records by their keys; those read by `for_list`.

    At most five queries, however many records.
    """
    rows = list(records)
    cited = _cited(rows)
    lacking = _lacking(rows)
    signed = _signed([row for row in rows if lacking.get(row.pk)])
    return {
        row.pk: Flags(
            cited.get(row.pk, ()),
            lacking.get(row.pk, ""),
            signed.get(row.pk),
            row.passed,
        )
        for row in rows
    }


def _cited(rows: Sequence[TestRecord]) -> dict[int, tuple[Cited, ...]]:
    used = Reading.objects.filter(record__in=rows, instrument__isnull=False)
    pairs = sorted(set(used.order_by().values_list("record", "instrument")))
    instruments = {instrument for _, instrument in pairs}
    if not instruments:
        return {}
    versions = list(
        InstrumentVersion.objects.current()
        .filter(instrument__in=instruments)
        .order_by("since_key")
    )
    calibrations = Calibration.objects.current().filter(instrument__in=instruments)
    records = records_of(calibrations, versions)
    newest = {version.instrument_id: version for version in versions}
    moments = {row.pk: row.on for row in rows}
    found: dict[int, tuple[Cited, ...]] = {}
    for record, instrument in pairs:
        one = _one(newest[instrument], records[instrument], moments[record])
        found[record] = (*found.get(record, ()), one)
    return found


def _one(version: InstrumentVersion, record: Record, at: Moment) -> Cited:
    return Cited(version.instrument_id, version.number, version.what, doubt(record, at))


def _lacking(rows: Sequence[TestRecord]) -> dict[int, str]:
    """Return, by record, the competence that was lacking, in words."""
    asked = [row for row in rows if row.procedure_revision.skill]
    named = {row.competence_id for row in asked if row.competence_id is not None}
    held: dict[int, list[CompetenceVersion]] = {}
    identity: dict[int, int] = {}
    if named:
        kin = CompetenceVersion.objects.filter(competence__versions__in=named)
        for version in kin.distinct():
            identity[version.pk] = version.competence_id
            if version.is_current:
                held.setdefault(version.competence_id, []).append(version)
    return {
        row.pk: Skill(row.procedure_revision.skill).label.lower()
        for row in asked
        if not any(
            covers(version, row.on)
            for version in held.get(identity.get(row.competence_id or 0, 0), ())
        )
    }


def _signed(rows: Sequence[TestRecord]) -> dict[int, CounterSignature]:
    """Return the counter-signatures to records as they stand, not as they once stood."""
    if not rows:
        return {}
    by_test = {row.test_id: row for row in rows}
    signatures = CounterSignature.objects.current().filter(test__in=by_test)
    return {
        by_test[signature.test_id].pk: signature
        for signature in signatures.select_related("by").order_by("-on_latest", "-pk")
        if signature.opened_by_id > by_test[signature.test_id].opened_by_id
    }

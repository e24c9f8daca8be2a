"""The change and test matrix: define, revise, withdraw its lines."""

import datetime as dt
from collections.abc import Sequence
from typing import Any

from fleet.examination.models import Procedure
from fleet.people.models import Person, User
from fleet.records.deeds import announce, deed
from fleet.records.models import Entry
from fleet.records.refusing import refusing
from fleet.records.revisions import (
    carried_values,
    from_tomorrow,
    need_reason,
    next_number,
)
from fleet.records.versions import (
    open_version,
    write_many,
)
from fleet.upkeep.models import (
    MatrixLine,
    MatrixRevision,
    MatrixTest,
)
from fleet.upkeep.services.revising import (
    identified,
    newest_of,
    withdrawn_version,
)

MATRIX_FIELDS = ("change_kind", "kind", "effect", "scope", "condition", "source")


def define_matrix_line(
    *,
    by: User | None,
    code: str,
    change_kind: str,
    procedures: Sequence[Procedure],
    effect: str,
    source: str,
    effective_from: dt.date,
    kind: str = "",
    scope: str = "",
    condition: str = "",
    **hands: Person,
) -> MatrixLine:
    """Say which tests must follow a change, from a day on; no scope: that of the change."""
    with deed("upkeep.define_matrix_line", by=by, policy=True) as entry:
        line = identified(MatrixLine, code, entry)
        values: dict[str, Any] = {
            "change_kind": change_kind,
            "kind": kind,
            "effect": effect,
            "scope": scope,
            "condition": condition,
            "source": source,
        }
        values |= hands
        _open(line, entry, 1, effective_from, procedures, values)
        announce(line)
    return line


def revise_matrix_line(
    *,
    by: User | None,
    line: MatrixLine,
    effective_from: dt.date,
    reason: str,
    procedures: Sequence[Procedure] | None = None,
    drafted_by: Person | None = None,
    approved_by: Person | None = None,
    **values: Any,
) -> MatrixRevision:
    """Change what must follow a change, from a day not before tomorrow."""
    with deed("upkeep.revise_matrix_line", by=by, policy=True) as entry:
        need_reason(reason)
        old = newest_of(MatrixRevision, line=line)
        revision = _open(
            line,
            entry,
            next_number(MatrixRevision, line=line),
            from_tomorrow(effective_from, old),
            _asked(old) if procedures is None else procedures,
            carried_values(old, MATRIX_FIELDS, values)
            | {"drafted_by": drafted_by, "approved_by": approved_by},
            reason=reason,
        )
        announce(line)
    return revision


def withdraw_matrix_line(
    *,
    by: User | None,
    line: MatrixLine,
    withdrawn_from: dt.date,
    reason: str,
    **hands: Person,
) -> MatrixRevision:
    """End a line of the change → test matrix from a day not before tomorrow."""
    with deed("upkeep.withdraw_matrix_line", by=by, policy=True) as entry:
        old = newest_of(MatrixRevision, line=line)
        revision: MatrixRevision = withdrawn_version(
            old, withdrawn_from, reason, entry, **hands
        )
        _ask_for(revision, _asked(old))
        announce(line)
    return revision


def _open(
    line: MatrixLine,
    entry: Entry,
    number: int,
    effective_from: dt.date,
    procedures: Sequence[Procedure],
    values: dict[str, Any],
    *,
    reason: str = "",
) -> MatrixRevision:
    if not procedures:
        raise refusing(
            "Name the tests that must follow.", code="no_tests", field="procedures"
        )
    revision: MatrixRevision = open_version(
        MatrixRevision,
        entry=entry,
        reason=reason,
        line=line,
        number=number,
        effective_from=effective_from,
        **values,
    )
    _ask_for(revision, procedures)
    return revision


def _asked(revision: MatrixRevision) -> list[Procedure]:
    tests = revision.tests.select_related("procedure").order_by("pk")
    return [test.procedure for test in tests]


def _ask_for(revision: MatrixRevision, procedures: Sequence[Procedure]) -> None:
    asked = [MatrixTest(revision=revision, procedure=p) for p in procedures]
    list(write_many(asked))

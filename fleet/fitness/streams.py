"""
The questions gather puts to the database: SQL text, one stream of rows for each.

Every stream is led by the id of the vehicle whose file the row belongs in and sorted by
it, so that all of them can be read side by side, however long. In the text,

- `KNOWN(x)` keeps the versions of table `x` held true at the entry asked for;
- `AMONG(x)` keeps the vehicles asked for, all of them where none are named;
- `DAY(x)` stands for a plain day as the four columns of a moment;
- `MOMENT(x)` stands for the four columns of a moment, read as text: the driver's own
  conversion of dates costs more than all the rest of reading a row;
- words in capitals that are not SQL stand for a piece two questions share.

CROSS JOIN tells SQLite to read the tables as they stand, the vehicle's own first: only
so do the rows come in order from an index, instead of being sorted in memory. What came
aboard a vehicle twice comes twice; whoever puts the rows together takes each once.
"""

import json
import re
from collections.abc import Callable, Sequence
from typing import Any

PARTICULARS = """
SELECT v.vehicle_id, MOMENT(v.since), MOMENT(v.until), v.number, t.code, v.air, v.vacuum,
  v.main_reservoir_pipe, CAST(v.hand_brake AS integer), v.status, COALESCE(d.name, '')
FROM register_vehicleversion v
JOIN register_vehicletype t ON t.id = v.type_id
LEFT JOIN register_depot d ON d.id = v.depot_id
WHERE KNOWN(v) AND AMONG(v.vehicle_id)
ORDER BY v.vehicle_id, v.since_key
"""

FITTED = """
SELECT f.vehicle_id, f.id, f.position, f.equipment_id, MOMENT(f.since), MOMENT(f.until),
  e.id, e.kind, e.serial, CAST(e.made_earliest AS text), CAST(e.made_latest AS text),
  e.since_key, MOMENT(e.since), MOMENT(e.until), e.state, e.designation, e."group",
  e.bore_mm, CAST(e.pressure_bar AS double precision)
FROM register_fitting f
LEFT JOIN register_equipmentversion e ON e.equipment_id = f.equipment_id AND KNOWN(e)
WHERE f.vehicle_id IS NOT NULL AND KNOWN(f) AND AMONG(f.vehicle_id)
ORDER BY f.vehicle_id
"""

TESTS = """
SELECT t.vehicle_id, NULL, TEST_COLUMNS FROM examination_testrecord t
WHERE t.vehicle_id IS NOT NULL AND KNOWN(t) AND AMONG(t.vehicle_id)
UNION ALL
SELECT f.vehicle_id, t.equipment_id, TEST_COLUMNS FROM register_fitting f
CROSS JOIN examination_testrecord t
WHERE ABOARD AND t.equipment_id = f.equipment_id AND KNOWN(t)
ORDER BY 1
"""

FAILED = """
SELECT t.vehicle_id, FAILED_COLUMNS, l."order" FROM examination_testrecord t WITH_READINGS
AND t.vehicle_id IS NOT NULL AND KNOWN(t) AND AMONG(t.vehicle_id)
UNION ALL
SELECT f.vehicle_id, FAILED_COLUMNS, l."order" FROM register_fitting f
CROSS JOIN examination_testrecord t WITH_READINGS
AND ABOARD AND t.equipment_id = f.equipment_id AND KNOWN(t)
ORDER BY 1, 2, 14
"""

# What vouches for tests: an instrument cited, or a counter-signature to the record.
VOUCHED = """
SELECT t.vehicle_id, t.id, CITED FROM examination_testrecord t WITH_INSTRUMENTS
AND t.vehicle_id IS NOT NULL AND KNOWN(t) AND AMONG(t.vehicle_id)
UNION ALL
SELECT f.vehicle_id, t.id, CITED FROM register_fitting f
CROSS JOIN examination_testrecord t WITH_INSTRUMENTS
AND ABOARD AND t.equipment_id = f.equipment_id AND KNOWN(t)
UNION ALL
SELECT t.vehicle_id, t.id, SIGNED_ON FROM examination_testrecord t WITH_SIGNED
AND t.vehicle_id IS NOT NULL AND KNOWN(t) AND AMONG(t.vehicle_id)
UNION ALL
SELECT f.vehicle_id, t.id, SIGNED_ON FROM register_fitting f
CROSS JOIN examination_testrecord t WITH_SIGNED
AND ABOARD AND t.equipment_id = f.equipment_id AND KNOWN(t)
ORDER BY 1
"""

DEFECTS = """
SELECT d.vehicle_id, STEP_COLUMNS FROM defects_defect d CROSS JOIN STEPS_SIGNED
WHERE d.vehicle_id IS NOT NULL AND +d.equipment_id IS NULL AND AMONG(d.vehicle_id)
  AND s.defect_id = d.id AND KNOWN(s)
UNION ALL
SELECT f.vehicle_id, STEP_COLUMNS FROM register_fitting f
CROSS JOIN defects_defect d CROSS JOIN STEPS_SIGNED
WHERE ABOARD AND d.equipment_id = f.equipment_id AND s.defect_id = d.id AND KNOWN(s)
ORDER BY 1, 2, 3
"""

STANDING = """
SELECT v.vehicle_id, 'isolation', v.isolation_id, MOMENT(v.since), MOMENT(v.until),
  i.system, v.condition, v.extent, CAST(v.complete AS integer), v.restored_by_id,
  v.since_key, v.id, v.secured, CAST(NULL AS text), CAST(NULL AS text),
  CAST(NULL AS integer)
FROM defects_isolationversion v JOIN defects_isolation i ON i.id = v.isolation_id
WHERE KNOWN(v) AND AMONG(v.vehicle_id)
UNION ALL
SELECT w.vehicle_id, 'work', w.id, MOMENT(w.since), MOMENT(w.until),
  w.what, w.skill, '', COALESCE(w.competence_id, 0), w.released_by_id, w.since_key, w.id,
  MOMENT(g.on)
FROM defects_workinhand w
LEFT JOIN defects_countersignature g ON g.work_id = w.id AND KNOWN(g) WHERE KNOWN(w) AND AMONG(w.vehicle_id)
UNION ALL
SELECT s.vehicle_id, 'storage', s.id, MOMENT(s.since), MOMENT(s.until),
  '', '', '', 0, NULL, s.since_key, s.id, NO_SIGNATURE
FROM register_storageperiod s WHERE KNOWN(s) AND AMONG(s.vehicle_id)
UNION ALL
SELECT a.vehicle_id, 'visit', a.id, DAY(a.since), DAY(a.last_day),
  a.owner, a.condition, '', 0, NULL, 0, a.id,
  (SELECT CAST(MIN(e.valid_until) AS text) FROM upkeep_visitevidence e
   WHERE e.version_id = a.id),
  CAST(NULL AS text), CAST(NULL AS text), CAST(NULL AS integer)
FROM upkeep_visitacceptanceversion a WHERE KNOWN(a) AND AMONG(a.vehicle_id)
UNION ALL
SELECT c.vehicle_id, 'cock', c.cock_id, MOMENT(c.on), MOMENT(t.on),
  c.label, c.scope, c.found, c.earlier, NULL, 0, c.id, DAY(c.closed_on)
FROM defects_wrongcockversion c
LEFT JOIN examination_testrecord t ON t.test_id = c.proved_by_id AND KNOWN(t)
  AND t.passed
WHERE KNOWN(c) AND AMONG(c.vehicle_id)
ORDER BY 1
"""

# What is known of the walls of vessels: each point of each survey, and the figures of the
# required wall by drawing, plate or formula, whose rows have no test.
SURVEYED = """
SELECT f.vehicle_id, t.equipment_id, t.test_id, t.procedure_revision_id, MOMENT(t.on),
  y.point, CAST(y.thickness_mm AS double precision),
  CAST(y.uncertainty_mm AS double precision), y.id, CAST(NULL AS double precision),
  CAST(NULL AS double precision), NULL, CAST(NULL AS double precision),
  CAST(NULL AS double precision), NULL, CAST(NULL AS double precision)
FROM register_fitting f CROSS JOIN examination_testrecord t
CROSS JOIN examination_thicknessreading y
WHERE ABOARD AND t.equipment_id = f.equipment_id AND KNOWN(t) AND y.record_id = t.id
UNION ALL
SELECT f.vehicle_id, p.equipment_id, NULL, NULL, NULL, NULL, NULL, NULL, '',
  CAST(p.minimum_thickness_mm AS double precision), 0, p.since_key,
  CAST(p.working_pressure_bar AS double precision),
  CAST(p.diameter_mm AS double precision), p.diameter_at,
  CAST(p.allowable_stress_mpa AS double precision),
  CAST(p.joint_efficiency AS double precision), p.end_shape,
  CAST(p.crown_radius_mm AS double precision)
FROM register_fitting f CROSS JOIN register_reservoirparticulars p
WHERE ABOARD AND p.equipment_id = f.equipment_id AND KNOWN(p)
ORDER BY 1
"""

# What was granted, each grant beside each re-check of its concession.
CONCESSIONS = """
SELECT c.vehicle_id, GRANT_COLUMNS FROM upkeep_concession c CROSS JOIN GRANTS
WHERE c.vehicle_id IS NOT NULL AND AMONG(c.vehicle_id) AND v.concession_id = c.id
  AND v.ceiling_days IS NOT NULL AND KNOWN(v)
UNION ALL
SELECT f.vehicle_id, GRANT_COLUMNS FROM register_fitting f
CROSS JOIN upkeep_concession c CROSS JOIN GRANTS
WHERE ABOARD AND c.equipment_id = f.equipment_id AND v.concession_id = c.id
  AND v.ceiling_days IS NOT NULL AND KNOWN(v)
ORDER BY 1
"""

# Fleet notices about items aboard, with the word that they were dealt with.
NOTICES = """
SELECT f.vehicle_id, n.code, v.title, v.action, i.equipment_id, COALESCE(p.code, ''),
  v.effect, v.scope, CAST(v.issued_on AS text), CAST(v.effective_from AS text),
  CAST(v.closed_on AS text), CAST(d."on" AS text), v.source
FROM register_fitting f CROSS JOIN upkeep_noticeitem i
JOIN upkeep_fleetnotice n ON n.id = i.notice_id
JOIN upkeep_fleetnoticeversion v ON v.notice_id = n.id AND KNOWN(v)
LEFT JOIN examination_procedure p ON p.id = v.procedure_id
LEFT JOIN upkeep_noticedone d ON d.notice_id = n.id AND d.equipment_id = i.equipment_id
  AND KNOWN(d)
WHERE ABOARD AND i.equipment_id = f.equipment_id
ORDER BY f.vehicle_id
"""

USAGE = """
SELECT u.vehicle_id, CAST(u.first AS text), CAST(u.last AS text),
  CAST(u.miles AS double precision), u.days
FROM register_usage u WHERE KNOWN(u) AND AMONG(u.vehicle_id)
ORDER BY u.vehicle_id
"""

# Usage of other vehicles while they carried an item of the kinds KINDS.
ITEM_USAGE = """
SELECT f.vehicle_id, o.equipment_id, o.id, MOMENT(o.since), MOMENT(o.until),
  CAST(u.first AS text), CAST(u.last AS text), CAST(u.miles AS double precision), u.days
FROM register_fitting f CROSS JOIN register_equipment e
CROSS JOIN register_fitting o CROSS JOIN register_usage u
WHERE ABOARD AND e.id = f.equipment_id AND e.kind IN (KINDS)
  AND o.equipment_id = f.equipment_id AND o.vehicle_id <> f.vehicle_id AND KNOWN(o)
  AND u.vehicle_id = o.vehicle_id AND KNOWN(u)
ORDER BY f.vehicle_id
"""

# Readings of vehicles' tests that brake force follows from, of the lines LINES.
MEASURED = """
SELECT t.vehicle_id, t.test_id, r.line_id, r.position, CAST(r.value AS text), r.unit
FROM examination_testrecord t
CROSS JOIN examination_reading r
WHERE t.vehicle_id IS NOT NULL AND KNOWN(t) AND AMONG(t.vehicle_id)
  AND r.record_id = t.id AND +r.line_id IN (LINES) AND r.value IS NOT NULL
ORDER BY t.vehicle_id
"""

_PIECES = {
    "ABOARD": "f.vehicle_id IS NOT NULL AND KNOWN(f) AND AMONG(f.vehicle_id)",
    "TEST_COLUMNS": """
      t.id, t.test_id, t.procedure_revision_id, MOMENT(t.on), CAST(t.passed AS integer),
      t.unanswered, t.competence_id
    """,
    "FAILED_COLUMNS": """
      t.id, CASE r.position WHEN '' THEN l.text ELSE l.text || ', ' || r.position END,
      l.scope, l.effect_failed, l.quantity, l.unit, CAST(l.low AS text),
      CAST(l.high AS text), r.typed, CAST(r.value AS text), r.unit,
      CASE r.choice WHEN '' THEN r.note ELSE r.choice END
    """,
    "WITH_READINGS": """
      CROSS JOIN examination_reading r CROSS JOIN examination_procedureline l
      WHERE NOT t.passed AND r.record_id = t.id AND r.answer = 'not_met'
        AND l.id = r.line_id
    """,
    "CITED": """
      r.instrument_id, NO_SIGNATURE
    """,
    "WITH_INSTRUMENTS": """
      CROSS JOIN examination_reading r
      WHERE r.record_id = t.id AND +r.instrument_id IS NOT NULL
    """,
    "SIGNED_ON": "CAST(NULL AS bigint), MOMENT(s.on)",
    # A signature is to the record as it stood; a correction wants another.
    "WITH_SIGNED": """
      CROSS JOIN examination_countersignature s
      WHERE s.test_id = t.test_id AND s.opened_by_id > t.opened_by_id AND KNOWN(s)
    """,
    "GRANT_COLUMNS": """
      c.id, v.renewal, COALESCE(q.code, ''), c.defect_id, c.equipment_id,
      CAST(v.since AS text), CAST(v.last_day AS text), CAST(v.withdrawn_from AS text),
      v.ceiling_days, v.condition, v.recheck_days, CAST(k.checked_on AS text),
      CAST(k.holds AS integer)
    """,
    "GRANTS": """upkeep_concessionversion v
      LEFT JOIN upkeep_requirement q ON q.id = c.requirement_id
      LEFT JOIN upkeep_recheck k ON k.concession_id = c.id AND KNOWN(k)
    """,
    "STEP_COLUMNS": """
      d.id, s.number, d.title, d.equipment_id, d.position, MOMENT(s.on), s.step, s.scope,
      s.effect, s.condition, s.skill, s.competence_id, MOMENT(g.on)
    """,
    "STEPS_SIGNED": """
      defects_defectstep s
      LEFT JOIN defects_countersignature g ON g.step_id = s.id AND KNOWN(g)
    """,
    "NO_SIGNATURE": """
      CAST(NULL AS text), CAST(NULL AS text), CAST(NULL AS text), CAST(NULL AS integer)
    """,
}
_NOT_RETRACTED = "{0}.change <> 'retracted'"
# The plus keeps SQLite from the index of open rows: it would take that before the one
# of the vehicle, and read the whole fleet for one.
_NOW = "+{0}.closed_by_id IS NULL AND " + _NOT_RETRACTED
_NUMBER = "(SELECT n.number FROM records_entry n WHERE n.id = {0}.%s_by_id)"
_THEN = (
    f"{_NUMBER % 'opened'} <= %d"
    # Closed by the deed that is still running: it has no number, and was held at K.
    f" AND ({{0}}.closed_by_id IS NULL OR COALESCE({_NUMBER % 'closed'}, %d + 1) > %d)"
    f" AND {_NOT_RETRACTED}"
)
_MOMENT = ", ".join(
    (
        "CAST({0}_earliest AS text)",
        "CAST({0}_latest AS text)",
        "CAST({0}_at AS text)",
        "{0}_order",
    )
)
_DAY = "CAST({0} AS text), CAST({0} AS text), CAST(NULL AS text), CAST(NULL AS integer)"
_AMONG = {
    "sqlite": "{0} IN (SELECT value FROM json_each(%s))",
    "postgresql": "{0} = ANY(%s)",
}


def question(
    text: str,
    vendor: str,
    *,
    known_at: int | None,
    ids: Sequence[int] | None,
    kinds: Sequence[str] = (),
) -> tuple[str, list[Any]]:
    """Return a stream's SQL for one database, and its parameters."""
    for name, piece in _PIECES.items():
        text = text.replace(name, piece)
    known = _NOW if known_at is None else _THEN % ((known_at,) * 3)
    text = _expand(text, "KNOWN", known.format)
    text = _expand(text, "MOMENT", _MOMENT.format)
    text = _expand(text, "DAY", _DAY.format)
    named = 0 if ids is None else text.count("AMONG(")
    text = _expand(text, "AMONG", (_AMONG[vendor] if named else "1 = 1").format)
    params: list[Any] = []
    if ids is not None:
        value = list(ids) if vendor == "postgresql" else json.dumps(list(ids))
        params = [value] * named
    if "KINDS" in text:
        text = text.replace("KINDS", ", ".join(["%s"] * len(kinds)))
        params += kinds
    return text, params


def _expand(text: str, macro: str, into: Callable[[str], str]) -> str:
    return re.sub(rf"{macro}\(([\w.]+)\)", lambda found: into(found[1]), text)

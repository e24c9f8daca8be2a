"""Loading an operator's practice from files: procedures, requirements, matrix, conditions."""

import datetime as dt
import tomllib
from pathlib import Path
from typing import Any

from fleet.defects.services.policy import set_clearing_policy
from fleet.examination.models import Procedure
from fleet.examination.services import define_procedure
from fleet.people.models import User
from fleet.records.deeds import deed
from fleet.upkeep.services import (
    define_matrix_line,
    define_requirement,
    set_concession_policy,
    set_conditions,
)

IN_FORCE_FROM = dt.date(2010, 1, 1)  # a practice loaded whole is taken as of old


def load_practice(
    folder: Path, *, by: User | None, effective_from: dt.date = IN_FORCE_FROM
) -> None:
    """
    Load a folder of practice files into an empty policy, all or nothing.

    Raises OSError or tomllib.TOMLDecodeError for files, ValidationError for content.
    """
    with deed("upkeep.load_practice", by=by, policy=True):
        for raw in _read(folder, "procedures")["procedure"]:
            define_procedure(by=by, **raw)
        procedures = {p.code: p for p in Procedure.objects.all()}
        for raw in _read(folder, "requirements")["requirement"]:
            named = procedures.get(raw.pop("procedure", ""))
            define_requirement(
                by=by, procedure=named, effective_from=effective_from, **raw
            )
        for raw in _read(folder, "matrix")["line"]:
            _load_line(raw, procedures, by=by, effective_from=effective_from)
        general = _read(folder, "conditions")
        set_conditions(by=by, effective_from=effective_from, **general["conditions"])
        set_clearing_policy(by=by, effective_from=effective_from, **general["clearing"])
        set_concession_policy(
            by=by, effective_from=effective_from, **general["concessions"]
        )


def _load_line(
    raw: dict[str, Any],
    procedures: dict[str, Procedure],
    *,
    by: User | None,
    effective_from: dt.date,
) -> None:
    """Define a line of the matrix, once for each kind of equipment it names."""
    kinds = raw.get("kinds", [""])
    for number, kind in enumerate(kinds):
        letter = f"-{chr(97 + number)}" if len(kinds) > 1 else ""
        define_matrix_line(
            by=by,
            code=f"{raw['code']}{letter}",
            change_kind=raw["change"],
            kind=kind,
            procedures=[procedures[code] for code in raw["procedures"]],
            scope=raw["scope"],
            effect=raw["effect"],
            condition=raw.get("condition", ""),
            source=raw["source"],
            effective_from=effective_from,
        )


def _read(folder: Path, name: str) -> dict[str, Any]:
    with (folder / f"{name}.toml").open("rb") as file:
        return tomllib.load(file)

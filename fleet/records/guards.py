"""
Guards: what the database itself refuses, whatever the application does.

Declared on models (`guard`, `overlaps`), installed after every migration, on PostgreSQL
as triggers and exclusion constraints, on SQLite as triggers. Each has a name that maps
to a sentence for the user.
"""

from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from typing import Any

from django.apps import AppConfig, apps
from django.core.exceptions import ValidationError
from django.db import IntegrityError, connections, models
from django.db.backends.base.base import BaseDatabaseWrapper

from fleet.records.refusing import refusing

# The one column of a guarded row that may still be written, once, from null.
WRITABLE = {"frozen": None, "version": "closed_by_id", "entry": "number"}


@dataclass(frozen=True, slots=True)
class NoOverlap:
    """
    No two rows held true may share `columns` while their intervals overlap.

    Needs the columns of `Lasting` and `Version`. Rows with a null or empty key column
    are outside it. `caseless` columns are compared as `iexact` does: give such a column
    an index of its Upper.
    """

    name: str
    columns: tuple[str, ...]
    message: str
    code: str
    field: str = ""
    caseless: tuple[str, ...] = ()

    def key(self, column: str, row: str = "") -> str:
        """Return what is compared of a column, in SQL; `row` names NEW or an alias."""
        named = f'{row}."{column}"' if row else f'"{column}"'
        return f"upper({named})" if column in self.caseless else named


def guarded(models_: Iterable[type[models.Model]]) -> Iterator[type[models.Model]]:
    """Yield the models that declare a guard and have a table."""
    for model in models_:
        if getattr(model, "guard", "") and model._meta.managed:
            yield model


def overlaps_of(model: type[models.Model]) -> tuple[NoOverlap, ...]:
    """Return the overlap guards a model declares."""
    found: tuple[NoOverlap, ...] = getattr(model, "overlaps", ())
    return found


def install_after_migrate(*, app_config: AppConfig, using: str, **_kwargs: Any) -> None:
    """Put the guards of one slice in place; safe to repeat."""
    connection = connections[using]
    tables = set(connection.introspection.table_names())
    present = [
        model
        for model in guarded(app_config.get_models())
        if model._meta.db_table in tables
    ]
    if present:
        _run(connection, list(_install(connection.vendor, present)))


def lift(using: str = "default") -> None:
    """Take every guard away; only for emptying a test database."""
    connection = connections[using]
    tables = set(connection.introspection.table_names())
    present = [m for m in guarded(apps.get_models()) if m._meta.db_table in tables]
    _run(connection, list(_drops(connection.vendor, present)))


def restore(using: str = "default") -> None:
    """Put every guard back."""
    for config in apps.get_app_configs():
        install_after_migrate(app_config=config, using=using)


def _run(connection: BaseDatabaseWrapper, statements: list[str]) -> None:
    with connection.cursor() as cursor:
        for statement in statements:
            cursor.execute(statement)


def _drops(vendor: str, present: Iterable[type[models.Model]]) -> Iterator[str]:
    for model in present:
        table = model._meta.db_table
        for verb in ("delete", "update", "truncate"):
            if vendor == "sqlite":
                yield f'DROP TRIGGER IF EXISTS "{table}_no_{verb}"'
            else:
                yield f'DROP TRIGGER IF EXISTS "{table}_no_{verb}" ON "{table}"'
        for guard in overlaps_of(model):
            if vendor == "sqlite":
                yield f'DROP TRIGGER IF EXISTS "{guard.name}"'
            else:
                yield f'ALTER TABLE "{table}" DROP CONSTRAINT IF EXISTS "{guard.name}"'


def _install(vendor: str, present: list[type[models.Model]]) -> Iterator[str]:
    if vendor == "postgresql":
        # Replaced or left in place: making an exclusion constraint anew would read the
        # whole table, and none can be dropped while its checks are pending.
        yield from _POSTGRES_FUNCTIONS
    else:
        yield from _drops(vendor, present)
    build = _sqlite if vendor == "sqlite" else _postgres
    for model in present:
        yield from build(model)


_POSTGRES_FUNCTIONS = (
    "CREATE EXTENSION IF NOT EXISTS btree_gist",
    """
    CREATE OR REPLACE FUNCTION records_refuse() RETURNS trigger AS $$
    DECLARE open_column text := TG_ARGV[0];
    BEGIN
      IF TG_OP = 'UPDATE' AND open_column <> '' THEN
        IF (to_jsonb(OLD) ->> open_column) IS NULL
           AND (to_jsonb(OLD) - open_column) = (to_jsonb(NEW) - open_column) THEN
          RETURN NEW;
        END IF;
      END IF;
      RAISE EXCEPTION '%', TG_NAME
        USING ERRCODE = 'integrity_constraint_violation', CONSTRAINT = TG_NAME;
    END $$ LANGUAGE plpgsql
    """,
)


def _postgres(model: type[models.Model]) -> Iterator[str]:
    table = model._meta.db_table
    open_column = WRITABLE[model.guard] or ""  # type: ignore[attr-defined]  # guarded() saw it
    for verb in ("delete", "update"):
        yield (
            f'CREATE OR REPLACE TRIGGER "{table}_no_{verb}" BEFORE {verb} ON "{table}" '
            f"FOR EACH ROW EXECUTE FUNCTION records_refuse('{open_column}')"
        )
    yield (
        f'CREATE OR REPLACE TRIGGER "{table}_no_truncate" BEFORE TRUNCATE ON "{table}" '
        "FOR EACH STATEMENT EXECUTE FUNCTION records_refuse('')"
    )
    for guard in overlaps_of(model):
        keys = ", ".join(f"{guard.key(column)} WITH =" for column in guard.columns)
        yield (
            "DO $$ BEGIN IF NOT EXISTS (SELECT 1 FROM pg_constraint "  # noqa: S608 - our names
            f"WHERE conname = '{guard.name}') THEN "
            f'ALTER TABLE "{table}" ADD CONSTRAINT "{guard.name}" EXCLUDE USING gist '
            f"({keys}, int8range(since_key, until_key) WITH &&) "
            f"WHERE ({_held(guard)}); END IF; END $$"
        )


def _held(guard: NoOverlap, row: str = "") -> str:
    dot = f"{row}." if row else ""
    text = "".join(
        f" AND {dot}{column} <> ''"
        for column in guard.columns
        if not column.endswith("_id")
    )
    return f"{dot}closed_by_id IS NULL AND {dot}change <> 'retracted'{text}"


def _sqlite(model: type[models.Model]) -> Iterator[str]:
    table = model._meta.db_table
    open_column = WRITABLE[model.guard]  # type: ignore[attr-defined]  # guarded() saw it
    same = " AND ".join(
        f'NEW."{f.column}" IS OLD."{f.column}"'
        for f in model._meta.concrete_fields
        if f.column != open_column
    )
    allowed = f'OLD."{open_column}" IS NULL AND {same}' if open_column else "0"
    yield (
        f'CREATE TRIGGER "{table}_no_delete" BEFORE DELETE ON "{table}" '
        f"BEGIN SELECT RAISE(ABORT, '{table}_no_delete'); END"
    )
    yield (
        f'CREATE TRIGGER "{table}_no_update" BEFORE UPDATE ON "{table}" '
        f"WHEN NOT ({allowed}) BEGIN SELECT RAISE(ABORT, '{table}_no_update'); END"
    )
    for guard in overlaps_of(model):
        keys = " AND ".join(
            f"{guard.key(c, 'r')} = {guard.key(c, 'NEW')}" for c in guard.columns
        )
        yield (
            f'CREATE TRIGGER "{guard.name}" BEFORE INSERT ON "{table}" '  # noqa: S608  # names of models
            f"WHEN {_held(guard, 'NEW')} AND "
            "(NEW.until_key IS NULL OR NEW.since_key < NEW.until_key) AND "
            f'EXISTS (SELECT 1 FROM "{table}" r WHERE {keys} AND {_held(guard, "r")} '
            "AND (r.until_key IS NULL OR r.since_key < r.until_key) "
            "AND (NEW.until_key IS NULL OR r.since_key < NEW.until_key) "
            "AND (r.until_key IS NULL OR NEW.since_key < r.until_key)) "
            f"BEGIN SELECT RAISE(ABORT, '{guard.name}'); END"
        )


def refusal(error: IntegrityError) -> ValidationError | None:
    """Turn what a guard refused into an error for the user; None if no guard did."""
    cause = error.__cause__
    named = getattr(getattr(cause, "diag", None), "constraint_name", None) or str(cause)
    for model in guarded(apps.get_models()):
        for guard in overlaps_of(model):
            if guard.name == named:
                return refusing(guard.message, code=guard.code, field=guard.field)
        if named.startswith(f"{model._meta.db_table}_no_"):
            return refusing(
                "A record is never changed or deleted; record a correction instead.",
                code="record_is_final",
            )
    return None


@contextmanager
def refusals() -> Iterator[None]:
    """Raise what the database refuses as ValidationError with the guard's sentence."""
    try:
        yield
    except IntegrityError as error:
        translated = refusal(error)
        if translated is None:
            raise
        raise translated from error

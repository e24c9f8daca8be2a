"""What the database itself refuses, asked in plain SQL on the engine in use."""

import pytest
from django.core.management import call_command
from django.db import IntegrityError, connection, transaction

from fleet.records.guards import guarded, lift, overlaps_of, restore
from fleet.records.models import Entry
from fleet.register.models import Fitting
from tests.register.factories import make_fitting, make_vehicle

GUARDED = [
    "records_entry",
    "records_mention",
    "register_vehicle",
    "register_vehicleversion",
    "register_fitting",
    "register_position",
]


def run(statement):
    """Run SQL in a savepoint of its own."""
    with transaction.atomic(), connection.cursor() as cursor:
        cursor.execute(statement)


@pytest.fixture
def fitting(db):
    made = make_fitting(vehicle=make_vehicle(), position="distributor")
    # Foreign keys still to be checked would stop TRUNCATE and ALTER before a guard does.
    connection.check_constraints()
    return made


@pytest.mark.parametrize("table", GUARDED)
def test_a_row_cannot_be_deleted(fitting, table):
    with pytest.raises(IntegrityError, match=f"{table}_no_delete"):
        run(f'DELETE FROM "{table}"')


@pytest.mark.parametrize(
    ("table", "change"),
    [
        ("register_vehicleversion", "number = 'T 1'"),
        ("register_fitting", "since_key = 0"),
        ("register_fitting", "reason = 'tidied up'"),
        ("register_position", "mandatory = (1 = 0)"),
        ("records_entry", "deed = 'nothing'"),
        ("records_entry", "number = 99"),
        ("records_mention", "key = 1"),
    ],
)
def test_a_row_cannot_be_changed(fitting, table, change):
    with pytest.raises(IntegrityError, match=f"{table}_no_update"):
        run(f'UPDATE "{table}" SET {change}')


def test_a_version_is_closed_once_and_not_again(fitting):
    entry = fitting.opened_by_id
    close = (
        f'UPDATE "register_fitting" SET closed_by_id = {entry} WHERE id = {fitting.pk}'
    )
    run(close)

    with pytest.raises(IntegrityError, match="register_fitting_no_update"):
        run(close)


def test_closing_a_version_cannot_change_anything_else_with_it(fitting):
    entry = fitting.opened_by_id

    with pytest.raises(IntegrityError, match="register_fitting_no_update"):
        run(
            f"UPDATE register_fitting SET closed_by_id = {entry}, remark = 'x' "
            f"WHERE id = {fitting.pk}"
        )


@pytest.mark.postgresql
@pytest.mark.skipif(
    connection.vendor != "postgresql", reason="SQLite has no TRUNCATE to refuse"
)
@pytest.mark.parametrize("table", GUARDED)
def test_a_table_cannot_be_truncated(fitting, table):
    with pytest.raises(IntegrityError, match=f"{table}_no_truncate"):
        run(f'TRUNCATE "{table}" CASCADE')


def test_every_guard_has_a_name_of_its_own_and_a_sentence():
    from django.apps import apps

    every = [g for model in guarded(apps.get_models()) for g in overlaps_of(model)]

    assert len({guard.name for guard in every}) == len(every)
    assert all(guard.message.endswith(".") and guard.code for guard in every)


@pytest.mark.django_db(transaction=True)
def test_flushing_a_test_database_empties_it_and_leaves_the_guards_in_place():
    make_fitting(vehicle=make_vehicle(), position="distributor")

    call_command("flush", interactive=False, verbosity=0)
    assert not Entry.objects.exists()

    make_fitting(vehicle=make_vehicle(), position="distributor")
    with pytest.raises(IntegrityError, match="register_fitting_no_delete"):
        run("DELETE FROM register_fitting")


def test_guards_come_back_after_they_were_lifted(fitting):
    lift()
    run("UPDATE register_fitting SET remark = 'while lifted'")
    connection.check_constraints()
    restore()

    with pytest.raises(IntegrityError, match="register_fitting_no_update"):
        run("UPDATE register_fitting SET remark = 'afterwards'")
    assert set(Fitting.objects.values_list("remark", flat=True)) == {"while lifted"}

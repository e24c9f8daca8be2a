"""Commands on a database that is not ready: a sentence that says what to do, and exit 1."""

import os
import subprocess
import sys
from pathlib import Path

import pytest
from django.core.management import CommandError, call_command
from django.db.migrations.executor import MigrationExecutor

ROOT = Path(__file__).parents[2]


def on(database, *arguments):
    """Run a command as a stranger does, on a database of its own."""
    told = {**os.environ, "DATABASE_URL": database}
    return subprocess.run(
        [sys.executable, ROOT / "manage.py", *arguments],
        env=told,
        capture_output=True,
        text=True,
        check=False,
    )


@pytest.mark.parametrize("command", ["brake_status", "rebuild_status"])
def test_without_tables_a_command_says_how_to_make_them(tmp_path, command):
    answer = on(f"sqlite:///{tmp_path / 'new.sqlite3'}", command)

    assert answer.returncode == 1
    assert "manage.py migrate" in answer.stderr
    assert "manage.py demo" in answer.stderr
    assert "Traceback" not in answer.stderr


def test_a_database_that_cannot_be_reached_is_said_in_a_sentence(tmp_path):
    answer = on(f"sqlite:///{tmp_path / 'nowhere' / 'new.sqlite3'}", "brake_status")

    assert answer.returncode == 1
    assert "The database cannot be reached" in answer.stderr
    assert "Traceback" not in answer.stderr


@pytest.mark.django_db
def test_tables_older_than_the_program_are_to_be_migrated_first(monkeypatch):
    monkeypatch.setattr(MigrationExecutor, "migration_plan", lambda *_: ["one more"])

    with pytest.raises(CommandError, match=r"older than the program.*migrate"):
        call_command("rebuild_status")

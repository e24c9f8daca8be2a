"""`manage.py verify`: runs everything, names what failed, says what is missing."""

import sys

import pytest
from django.core.management import CommandError, call_command

from fleet.config.checks import Check, every_check
from fleet.config.management.commands import verify


def toy(name, code):
    """A check that ends with this exit code."""
    return Check(name, (sys.executable, "-c", f"raise SystemExit({code})"))


@pytest.fixture
def run(monkeypatch, capsys):
    """Run verify over toy checks; return its exit code and what it printed."""

    def run(*checks, **options):
        monkeypatch.setattr(verify, "every_check", lambda: checks)
        try:
            call_command("verify", **options)
            code = 0
        except SystemExit as end:
            code = end.code
        printed = capsys.readouterr()
        return code, printed.out + printed.err

    return run


def test_every_failure_is_named_and_the_rest_still_runs(run):
    code, printed = run(toy("format", 1), toy("lint", 0), toy("types", 2))

    assert code == 1
    assert "Failed: format, types." in printed
    assert "== lint" in printed


def test_all_passed_is_said_and_ends_well(run):
    code, printed = run(toy("format", 0), toy("lint", 0))

    assert code == 0
    assert "All 2 checks passed." in printed


def test_one_check_can_be_run_alone(run):
    code, printed = run(toy("format", 1), toy("lint", 0), only=["lint"])

    assert code == 0
    assert "== format" not in printed


def test_a_tool_that_is_not_installed_is_named_with_what_to_do(run):
    absent = Check("lint", ("/nowhere/linter",))

    with pytest.raises(
        CommandError, match=r"Not installed: linter\. Install .+\[dev\]"
    ):
        run(absent)


@pytest.fixture
def deploy(monkeypatch):
    """The check of the settings for serving, run as in a shell and not as in tests."""
    monkeypatch.delenv("DJANGO_ALLOW_ASYNC_UNSAFE")
    return next(check for check in every_check() if check.name == "deploy")


def test_the_settings_are_sound_for_serving_when_the_environment_says_so(deploy):
    assert deploy.passes()


def test_the_settings_are_not_called_sound_for_serving_without_https(deploy, capfd):
    assert not Check(deploy.name, deploy.command, {"FLEET_HTTPS": "0"}).passes()
    assert "SECURE_SSL_REDIRECT" in capfd.readouterr().err

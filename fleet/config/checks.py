"""Every check that needs no test: what each is called and the command that runs it."""

import os
import subprocess
import sys
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path

from django.core.management.utils import get_random_secret_key

HOME = Path(__file__).resolve().parent.parent.parent
TOOLS = Path(sys.executable).parent


@dataclass(frozen=True)
class Check:
    """One command; passed when it exits with 0."""

    name: str
    command: tuple[str, ...]
    environment: Mapping[str, str] = field(default_factory=dict)

    def missing_tool(self) -> str | None:
        """Return the name of the program that is not installed, if it is not."""
        program = Path(self.command[0])
        return None if program.exists() else program.name

    def passes(self) -> bool:
        """Run it in the checkout, its output going where ours goes."""
        done = subprocess.run(  # noqa: S603 - our own table of commands
            self.command, cwd=HOME, env=os.environ | self.environment, check=False
        )
        return done.returncode == 0


def every_check() -> tuple[Check, ...]:
    """Return the checks in the order in which they run: the quickest first."""
    return (
        Check("format", _tool("ruff", "format", "--check", ".")),
        Check("lint", _tool("ruff", "check", ".")),
        Check("templates", _tool("djlint", "--lint", "--quiet", "templates")),
        Check("imports", _tool("lint-imports", "--no-cache")),
        Check("migrations", _manage("makemigrations", "--check", "--dry-run")),
        Check(
            "deploy", _manage("check", "--deploy", "--fail-level", "WARNING"), _SERVED
        ),
        Check("types", _tool("mypy")),
    )


# What README.md asks for where others can reach the register.
_SERVED = {
    "ALLOWED_HOSTS": "register.example.org",
    "DEBUG": "0",
    "FLEET_HTTPS": "1",
    "SECRET_KEY": get_random_secret_key(),
}


def _tool(name: str, *arguments: str) -> tuple[str, ...]:
    return (str(TOOLS / name), *arguments)


def _manage(*arguments: str) -> tuple[str, ...]:
    return (sys.executable, str(HOME / "manage.py"), *arguments)

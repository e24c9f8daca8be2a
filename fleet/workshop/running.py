"""Searches for a programme: asked for, stopped, shown; the search is a process of its own."""

import datetime as dt
import subprocess
import sys
import threading
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from fleet.engineering.calendar import add_months
from fleet.people.models import User
from fleet.records.clock import now
from fleet.workshop.engine.problem import WEEK, Level, Problem, Programme
from fleet.workshop.engine.written import read_problem, read_programme
from fleet.workshop.models import ProgrammeRun
from fleet.workshop.suppositions import Supposition
from fleet.workshop.vocabulary import RunState

SILENT_SECONDS = 30  # after which a search that says nothing is taken for dead
_GOING = (RunState.WAITING, RunState.RUNNING)
DIED = (
    "The search has given no sign of life for half a minute: its process ended, or the "
    "server was started anew. What it had found is kept. Ask for it again."
)


def first_monday(day: dt.date) -> dt.date:
    """Return the Monday of the first whole week from a day on."""
    return day + dt.timedelta(days=-day.weekday() % WEEK)


def weeks_in(start: dt.date, months: int) -> int:
    """Return the weeks that cover so many months from a Monday."""
    return -(-(add_months(start, months) - start).days // WEEK)


def ask_run(
    *,
    by: User | None,
    title: str,
    start: dt.date,
    weeks: int,
    seconds: int,
    rate: float,
    supposed: Iterable[Supposition] = (),
    beside: ProgrammeRun | None = None,
) -> ProgrammeRun:
    """Write down what is asked; the search is begun by `start_search`, or by the command."""
    return ProgrammeRun.objects.create(
        title=title.strip() or f"Programme from {start:%d %b %Y}",
        asked_by=by,
        asked_at=now(),
        start=start,
        weeks=weeks,
        seconds=seconds,
        rate=round(rate, 3),
        supposed=[dict(one) for one in supposed],
        beside=beside,
    )


def start_search(run: ProgrammeRun) -> None:
    """Begin the search in a process that goes on when this one ends."""
    command = (sys.executable, "-m", "django", "programme", "--run", str(run.pk))
    quiet = subprocess.DEVNULL
    process = subprocess.Popen(  # noqa: S603  # no word of it comes from a user
        command, stdin=quiet, stdout=quiet, stderr=quiet, start_new_session=True
    )
    # Somebody must take note of its end, or it stays in the list of processes.
    threading.Thread(target=process.wait, daemon=True).start()


def stop_search(run: ProgrammeRun) -> None:
    """Ask a search to stop; it does within a second or two and leaves its best."""
    ProgrammeRun.objects.filter(pk=run.pk, state__in=_GOING).update(stop_asked=True)


@dataclass(frozen=True, slots=True)
class Standing:
    """How far a search has got, as a page shows it."""

    run: ProgrammeRun
    state: RunState
    words: str

    @property
    def going(self) -> bool:
        """Say whether there is more to come."""
        return self.state in _GOING


def standing(run: ProgrammeRun, at: dt.datetime) -> Standing:
    """Return how a search stands; one that fell silent has failed."""
    state = RunState(run.state)
    silent = (at - (run.heard_at or run.asked_at)).total_seconds() > SILENT_SECONDS
    if state in _GOING and silent:
        return Standing(run, RunState.FAILED, DIED)
    if state is RunState.FAILED:
        return Standing(run, state, run.error)
    if state in _GOING and run.stop_asked:
        return Standing(run, state, "Asked to stop; it does within a second or two.")
    return Standing(run, state, state.label)


def problem_of(run: ProgrammeRun) -> Problem | None:
    """Return the problem a search answers; None before it was read."""
    return read_problem(run.problem) if run.problem else None


def found_by(run: ProgrammeRun) -> Programme | None:
    """Return the best programme a search has found so far."""
    return read_programme(run.result) if run.result else None


def so_far(run: ProgrammeRun) -> tuple[Level, ...]:
    """Return the levels of the best so far, with their bounds as far as they are known."""
    line = latest_progress(run)
    return tuple(Level(*level) for level in line["levels"]) if line else ()


def latest_progress(run: ProgrammeRun) -> dict[str, Any] | None:
    """Return the newest line of what the search told of itself."""
    return run.progress[-1] if run.progress else None

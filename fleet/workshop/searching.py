"""The search itself, as its process does it: read, search, tell, leave the best."""

import logging
import threading
from typing import Any

from django.core.exceptions import ValidationError
from django.db import connection

from fleet.records.clock import now, today
from fleet.workshop.diary import pools
from fleet.workshop.engine.checker import broken_rules
from fleet.workshop.engine.conflicts import conflicts
from fleet.workshop.engine.problem import Problem, Programme
from fleet.workshop.engine.rules import best_rule
from fleet.workshop.engine.solver import Progress, solve
from fleet.workshop.engine.written import written
from fleet.workshop.loading import problem as load
from fleet.workshop.models import ProgrammeRun
from fleet.workshop.telling import SKILLS
from fleet.workshop.vocabulary import RunState

_log = logging.getLogger(__name__)

EVERY_SECONDS = 1.0
ASKING_SECONDS = 20.0  # at most, for what cannot be met
NOT_LOOKED = (
    "What cannot be met together was not found out: looking for it failed. The table "
    "says where it falls short."
)
MOST_LINES = 400  # of progress; the oldest but the first go


def search(run: ProgrammeRun) -> bool:
    """
    Carry a search out and write what came of it; False where it was not there to begin.

    Every write is a statement of its own: nobody waits for the search, nor it for others.
    What goes wrong is written down in words; the best found until then stays.
    """
    rows = ProgrammeRun.objects.filter(pk=run.pk)
    begun = rows.filter(state=RunState.WAITING)
    if not begun.update(state=RunState.RUNNING, heard_at=now()):
        return False
    teller = Teller(run.pk)
    try:
        with teller:
            rate = float(run.rate)
            problem = load(run.start, run.weeks, rate, run.supposed, on=today())
            rows.update(problem=written(problem))
            found = _told_search(problem, run.seconds, teller)
            rows.update(result=written(found))
            cannot = _cannot_be_met(problem, found, teller)
    except ValidationError as refusal:
        _fail(run, " ".join(refusal.messages))
    except Exception as error:
        _fail(run, f"The search failed: {type(error).__name__}: {error}")
        raise
    else:
        stopped = teller.stop.is_set()
        rows.update(
            state=RunState.STOPPED if stopped else RunState.DONE,
            progress=teller.lines,
            conflicts=cannot,
            heard_at=now(),
        )
    return True


def _told_search(problem: Problem, seconds: float, teller: "Teller") -> Programme:
    """Search while the teller tells of it; what a person would do is there at once."""
    rule = best_rule(problem)
    teller.found(rule)
    teller.heard(Progress(0.0, rule.found_by, rule.levels))
    return solve(
        problem,
        seconds=seconds,
        on_progress=teller.heard,
        should_stop=teller.stop.is_set,
    )


def _cannot_be_met(problem: Problem, found: Programme, teller: "Teller") -> list[str]:
    """Return what no programme could meet, where this one falls short; a stop ends it."""
    if not found.order[0] and not broken_rules(problem, found.starts):
        return []
    said: list[str] = []
    names = {**SKILLS, **pools(problem.start, problem.weeks)}

    def ask() -> None:
        try:
            asked = conflicts(problem, seconds=ASKING_SECONDS, names=names)
        except Exception:  # noqa: BLE001 - in a thread of its own it goes unheard
            _log.exception("looking for what cannot be met")
            said.append(NOT_LOOKED)
            return
        said.extend(conflict.words for conflict in asked)

    teller.heard(Progress(0.0, "looking for what cannot be met", found.levels))
    asking = threading.Thread(target=ask, daemon=True)
    asking.start()
    while asking.is_alive() and not teller.stop.is_set():
        asking.join(0.2)
    return said


def _fail(run: ProgrammeRun, words: str) -> None:
    ProgrammeRun.objects.filter(pk=run.pk).update(
        state=RunState.FAILED, error=words[:500], heard_at=now()
    )


class Teller:
    """Writes about once a second that the search lives, and how far; hears of a stop."""

    def __init__(self, run: int, every: float = EVERY_SECONDS) -> None:
        self.stop = threading.Event()
        self.lines: list[dict[str, Any]] = []
        self._run, self._every = run, every
        self._over = threading.Event()
        self._found: Programme | None = None
        self._thread = threading.Thread(target=self._tell, daemon=True)

    def __enter__(self) -> "Teller":
        self._thread.start()
        return self

    def __exit__(self, *_: object) -> None:
        self._over.set()
        self._thread.join()

    def found(self, programme: Programme) -> None:
        """Have a programme written with the next sign of life: what is left if it dies."""
        self._found = programme

    def heard(self, progress: Progress) -> None:
        """Take note of how far the search is; it is written with the next sign of life."""
        line = line_of(progress)
        same = self.lines and line["levels"] == self.lines[-1]["levels"]
        before = self.lines[:-1] if same else self.lines
        self.lines = [*before[:1], *before[1:][1 - MOST_LINES :], line]

    def _tell(self) -> None:
        written_down: Programme | None = None
        try:
            while not self._over.wait(self._every):
                rows = ProgrammeRun.objects.filter(pk=self._run)
                more: dict[str, Any] = {"progress": self.lines}
                found = self._found
                if found is not None and found is not written_down:
                    more["result"], written_down = written(found), found
                rows.update(heard_at=now(), **more)
                if rows.filter(stop_asked=True).exists():
                    self.stop.set()
        finally:
            connection.close()


def line_of(progress: Progress) -> dict[str, Any]:
    """Return a line of progress: seconds, what is done, value and bound of each level."""
    levels = [[level.name, level.value, level.bound] for level in progress.levels]
    return {
        "at": round(progress.seconds, 1),
        "works_on": progress.works_on,
        "levels": levels,
    }

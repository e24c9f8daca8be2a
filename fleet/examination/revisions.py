"""What a revision of a procedure changed, and whether it asks less than the one before."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, fields
from decimal import Decimal
from enum import Enum
from fractions import Fraction

from fleet.engineering.units import converted
from fleet.engineering.wear import Grows
from fleet.examination.models import ProcedureLine, ProcedureRevision
from fleet.examination.vocabulary import LineKind, Repeat
from fleet.people.models import Skill
from fleet.register.vocabulary import Effect, Scope
from fleet.ui.cautions import caution


class Turn(Enum):
    """Which way a change goes."""

    WEAKER = "weaker"
    TIGHTER = "tighter"
    OTHER = "other"


@dataclass(frozen=True, slots=True)
class Changes:
    """
    The difference between two revisions, in sentences.

    A line is known by its text and stage: one that is worded anew counts as taken out
    and brought in, so that nothing goes unseen.
    """

    removed: tuple[str, ...] = ()
    weakened: tuple[str, ...] = ()
    added: tuple[str, ...] = ()
    tightened: tuple[str, ...] = ()
    altered: tuple[str, ...] = ()

    def __bool__(self) -> bool:
        """Say whether anything differs."""
        return any(getattr(self, field.name) for field in fields(self))

    @property
    def asks_less(self) -> bool:
        """Say whether a reason is owed: something is taken out or made weaker."""
        return bool(self.removed or self.weakened)


Difference = tuple[Turn, str]


def changes_between(
    old: Iterable[ProcedureLine], new: Iterable[ProcedureLine]
) -> Changes:
    """Return what the new lines take out, weaken, bring in, tighten and alter."""
    before = {(line.text, line.stage): line for line in old}
    after = {(line.text, line.stage): line for line in new}
    both = [(before[key], line) for key, line in after.items() if key in before]
    told = [
        (turn, f"{line.asked}: {words}")
        for was, line in both
        for turn, words in _differences(was, line)
    ]
    return Changes(
        removed=tuple(_whole(ln) for key, ln in before.items() if key not in after),
        added=tuple(_whole(ln) for key, ln in after.items() if key not in before),
        **_by_turn(told),
    )


def changes_of(
    old: ProcedureRevision,
    new: ProcedureRevision,
    lines: Iterable[ProcedureLine] | None = None,
) -> Changes:
    """
    Return what a whole revision changes: its lines, and what stands about them.

    `lines` are those of a revision not kept yet.
    """
    changes = changes_between(
        old.lines.all(), new.lines.all() if lines is None else lines
    )
    about = _by_turn(list(_about(old, new)))
    merged = {name: about[name] + getattr(changes, name) for name in about}
    return Changes(removed=changes.removed, added=changes.added, **merged)


def _by_turn(told: list[Difference]) -> dict[str, tuple[str, ...]]:
    names = {"weakened": Turn.WEAKER, "tightened": Turn.TIGHTER, "altered": Turn.OTHER}
    return {
        name: tuple(words for way, words in told if way is turn)
        for name, turn in names.items()
    }


def _about(old: ProcedureRevision, new: ProcedureRevision) -> Iterator[Difference]:
    yield from _differ("title", old.title, new.title)
    yield from _differ("source", old.source, new.source)
    yield from _sets("bears on", _scopes(old), _scopes(new))
    yield from _sets("caution", _cautions(old), _cautions(new))
    if old.skill != new.skill:
        was, now = (Skill(s).label if s else "" for s in (old.skill, new.skill))
        turn = Turn.OTHER if was and now else Turn.TIGHTER if now else Turn.WEAKER
        yield turn, f"Competence needed: was {was or 'none'}, now {now or 'none'}"


def _scopes(revision: ProcedureRevision) -> list[str]:
    return [Scope(scope).label.lower() for scope in revision.scopes]


def _cautions(revision: ProcedureRevision) -> list[str]:
    return [caution(key).title for key in revision.cautions]


def _sets(what: str, old: list[str], new: list[str]) -> Iterator[Difference]:
    for words in old:
        if words not in new:
            yield Turn.WEAKER, f"No longer there, {what}: {words}"
    for words in new:
        if words not in old:
            yield Turn.TIGHTER, f"New, {what}: {words}"


def _whole(line: ProcedureLine) -> str:
    criterion = line.criterion_words
    return f"{line.asked} ({criterion})" if criterion else line.asked


def _differences(old: ProcedureLine, new: ProcedureLine) -> Iterator[Difference]:
    if (old.kind, old.quantity) != (new.kind, new.quantity):
        turn = Turn.WEAKER if old.measured and not new.measured else Turn.OTHER
        yield turn, f"was {_asks(old)}, now {_asks(new)}"
    elif new.measured:
        yield from _limits(old, new)
    yield from _choices(old, new)
    yield from _criterion(old.criterion, new.criterion)
    if old.effect_failed != new.effect_failed:
        was, now = (Effect(line.effect_failed) for line in (old, new))
        turn = Turn.WEAKER if now.weight < was.weight else Turn.TIGHTER
        yield turn, f"if not met: was {was.label.lower()}, now {now.label.lower()}"
    yield from _differ("bears on", *(Scope(line.scope).label for line in (old, new)))
    yield from _condemned(old, new)
    yield from _differ("read off the trace at", _read_at(old), _read_at(new))
    yield from _duty(old, new)
    yield from _repeat(old, new)
    yield from _differ("source", old.source, new.source)


def _read_at(line: ProcedureLine) -> str:
    return "the usual point" if line.reads_at is None else f"{line.reads_at:g}"


def _asks(line: ProcedureLine) -> str:
    kind = LineKind(line.kind).label.lower()
    return f"{kind} ({line.quantity})" if line.quantity else kind


def _differ(what: str, was: str, now: str) -> Iterator[Difference]:
    if was != now:
        yield Turn.OTHER, f"{what}: was {was}, now {now}"


def _limits(old: ProcedureLine, new: ProcedureLine) -> Iterator[Difference]:
    ways = (_end(old, new, "low", -1), _end(old, new, "high", 1))
    words = f"limit was {old.limits.words}, now {new.limits.words}"
    if any(ways):
        yield Turn.WEAKER if Turn.WEAKER in ways else Turn.TIGHTER, words
    elif old.limits.words != new.limits.words:
        yield Turn.OTHER, words


def _condemned(old: ProcedureLine, new: ProcedureLine) -> Iterator[Difference]:
    was, now = (line.condemned_words or "no condemning limit" for line in (old, new))
    outward = 1 if new.grows is Grows.UP else -1
    turn = _end(old, new, "condemned", outward)
    if turn or was != now:
        yield turn or Turn.OTHER, f"was {was}, now {now}"


def _end(
    old: ProcedureLine, new: ProcedureLine, name: str, outward: int
) -> Turn | None:
    was, now = (_exact(getattr(line, name), line.unit, new.unit) for line in (old, new))
    if was == now:
        return None
    if was is None or now is None:
        return Turn.TIGHTER if was is None else Turn.WEAKER
    return Turn.WEAKER if (now - was) * outward > 0 else Turn.TIGHTER


def _exact(value: Decimal | None, unit: str, to: str) -> Fraction | None:
    return None if value is None else converted(value, unit, to)


def _choices(old: ProcedureLine, new: ProcedureLine) -> Iterator[Difference]:
    if old.choices == new.choices or not (old.choices and new.choices):
        return
    was, now = set(old.good_choices), set(new.good_choices)
    words = f"good enough was {_listed(old)}, now {_listed(new)}"
    turn = Turn.WEAKER if now - was else Turn.TIGHTER if was - now else Turn.OTHER
    yield turn, words if was != now else "the choices that are not met are others"


def _listed(line: ProcedureLine) -> str:
    return "; or ".join(line.good_choices)


def _criterion(was: str, now: str) -> Iterator[Difference]:
    if was == now:
        return
    turn = Turn.OTHER if was and now else Turn.TIGHTER if now else Turn.WEAKER
    yield turn, f"criterion was {was or 'none'}, now {now or 'none'}"


def _duty(old: ProcedureLine, new: ProcedureLine) -> Iterator[Difference]:
    if old.required and not new.required:
        yield Turn.WEAKER, "was to be answered, now may be left out"
    elif new.required and not old.required:
        yield Turn.TIGHTER, "might be left out, now to be answered"


def _repeat(old: ProcedureLine, new: ProcedureLine) -> Iterator[Difference]:
    if old.repeat == new.repeat:
        return
    was, now = (Repeat(line.repeat).label.lower() for line in (old, new))
    turn = Turn.TIGHTER if not old.repeat else Turn.OTHER if new.repeat else Turn.WEAKER
    yield turn, f"was {was}, now {now}"

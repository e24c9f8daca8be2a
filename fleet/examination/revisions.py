"""What a revision of a procedure changed: lines taken out, brought in, altered."""

from collections.abc import Iterable
from dataclasses import dataclass

from fleet.examination.models import ProcedureLine
from fleet.register.vocabulary import Effect, Scope


@dataclass(frozen=True, slots=True)
class Changes:
    """The difference between two revisions, in sentences; a line is known by its text."""

    removed: tuple[str, ...]
    added: tuple[str, ...]
    altered: tuple[str, ...]

    def __bool__(self) -> bool:
        """Say whether anything differs."""
        return bool(self.removed or self.added or self.altered)


def changes_between(
    old: Iterable[ProcedureLine], new: Iterable[ProcedureLine]
) -> Changes:
    """Return what the new lines take out, bring in and alter."""
    before = {line.text: line for line in old}
    after = {line.text: line for line in new}
    return Changes(
        removed=tuple(
            _whole(line) for text, line in before.items() if text not in after
        ),
        added=tuple(_whole(line) for text, line in after.items() if text not in before),
        altered=tuple(
            f"{text}: {'; '.join(differences)}"
            for text, line in after.items()
            if text in before and (differences := _differences(before[text], line))
        ),
    )


def _whole(line: ProcedureLine) -> str:
    criterion = line.criterion_words
    return f"{line.text} ({criterion})" if criterion else line.text


def _differences(old: ProcedureLine, new: ProcedureLine) -> list[str]:
    pairs = (
        ("", _criterion(old), _criterion(new)),
        ("if not met: ", _label(old.effect_failed), _label(new.effect_failed)),
        ("bears on: ", Scope(old.scope).label, Scope(new.scope).label),
        ("", _duty(old), _duty(new)),
    )
    return [f"{what}{was}, now {now}" for what, was, now in pairs if was != now]


def _criterion(line: ProcedureLine) -> str:
    return line.criterion_words or "no criterion set"


def _label(effect: str) -> str:
    return Effect(effect).label.lower()


def _duty(line: ProcedureLine) -> str:
    return "to be answered" if line.required else "may be left out"

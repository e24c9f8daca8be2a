"""As found and as left: how the two readings of one thing bear on each other."""

from collections.abc import Iterable, Iterator, Mapping

from django.core.exceptions import ValidationError

from fleet.examination.asking import Asked
from fleet.examination.models import Reading
from fleet.examination.vocabulary import Answer, Stage
from fleet.records.refusing import refusing

FOUND = frozenset({Answer.MET, Answer.NOT_MET, Answer.RECORDED})


def pairs(asked: Iterable[Asked]) -> Iterator[tuple[Asked, Asked]]:
    """Yield every as-found line with the as-left line of the same thing."""
    listed = list(asked)
    left = {(a.line.text, a.position): a for a in listed if _is(a, Stage.AS_LEFT)}
    for found in listed:
        twin = left.get((found.line.text, found.position))
        if twin is not None and _is(found, Stage.AS_FOUND):
            yield found, twin


def refused_stages(
    asked: Iterable[Asked], readings: Mapping[str, Reading]
) -> dict[str, ValidationError]:
    """Return a refusal for each as-left reading without what was found, by its key."""
    return {
        left.key: refusing(
            "Record what was found first, or say on the as-found line why it was not "
            "measured.",
            code="as_found_needed",
        )
        for found, left in pairs(asked)
        if left.key in readings and found.key not in readings
    }


def put_right(asked: Iterable[Asked], readings: Mapping[str, Reading]) -> None:
    """Let what was found wrong, and then put right, stand as recorded, not as failed."""
    for found, left in pairs(asked):
        before, after = readings.get(found.key), readings.get(left.key)
        if (
            before
            and after
            and before.answer == Answer.NOT_MET
            and after.answer in FOUND
        ):
            before.answer = Answer.RECORDED


def answers(
    asked: Iterable[Asked], readings: Mapping[str, Reading]
) -> Iterator[tuple[bool, Answer | None]]:
    """
    Yield, for the result of a test, whether each line is owed an answer, and its answer.

    An as-left line left blank was not adjusted: what was found decides. An as-found
    line that could not be measured is made good by what was left.
    """
    listed = list(asked)
    partner: dict[str, str] = {}
    for found, left in pairs(listed):
        partner |= {found.key: left.key, left.key: found.key}
    for one in listed:
        given = readings.get(one.key)
        answer = Answer(given.answer) if given is not None else None
        required = one.line.required
        if one.key in partner:
            other = readings.get(partner[one.key])
            required = required and not _excused(one, answer, other)
        yield required, answer


def _excused(one: Asked, answer: Answer | None, other: Reading | None) -> bool:
    if _is(one, Stage.AS_LEFT):
        return answer is None
    return answer is Answer.NOT_DONE and other is not None and other.answer in FOUND


def _is(one: Asked, stage: Stage) -> bool:
    return bool(one.line.stage == stage)

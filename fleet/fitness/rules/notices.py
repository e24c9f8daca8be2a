"""The rule of fleet notices: what one asks of an item is done, or it has its effect."""

from collections.abc import Iterator

from fleet.fitness.case import Case
from fleet.fitness.examples import days_ago, sound
from fleet.fitness.findings import Evidence, Finding
from fleet.fitness.intervals import FOREVER
from fleet.fitness.outside_facts import NoticeFact
from fleet.fitness.rulebook import Rule, rule
from fleet.register.vocabulary import Effect, Scope


def _notice(done: int) -> NoticeFact:
    """Return a notice about the sound coach's distributor, done days before the example."""
    return NoticeFact(
        code="n-1",
        title="Cracked covers",
        action="Look at the cover for cracks.",
        equipment=3,
        procedure="",
        effect=Effect.ISOLATE,
        scope=Scope.AIR_BRAKE,
        issued=days_ago(30),
        since=days_ago(9),
        until=None,
        done=days_ago(done),
        source="Notice 1 of the line",
    )


@rule(
    "N01",
    "Fleet notice not done",
    why="A fault found on one item is looked for on all like it before one fails.",
    source="the notice",
    clears="Do what the notice asks, and record or sign it off.",
    flags=sound(notices=(_notice(-1),)),
    passes=sound(notices=(_notice(0),)),
)
def notice_not_done(rule: Rule, case: Case) -> Iterator[Finding]:
    """Yield the days a notice bears on an item that was not yet dealt with."""
    for notice in case.file.notices:
        ends = [notice.until or FOREVER]
        if notice.done is not None:
            ends.append(notice.done)
        ends += [
            on.latest
            for on in case.passes(notice.procedure, notice.equipment)
            if notice.procedure
            and on.earliest is not None
            and on.latest is not None
            and on.earliest >= notice.issued
        ]
        item = case.file.equipment.get(notice.equipment)
        serial = item.serial if item else ""
        for part in case.while_carried(notice.equipment, (notice.since, min(ends))):
            yield rule.finding(
                case,
                part,
                notice.effect,
                notice.scope,
                f"Fleet notice {notice.code}, {notice.title}: not done on {serial}",
                clears=notice.action,
                source=notice.source,
                position=case.place_of(notice.equipment),
                equipment=notice.equipment,
                evidence=(
                    Evidence("notice", notice.code, f"Fleet notice {notice.code}"),
                    Evidence("equipment", notice.equipment, serial),
                ),
            )

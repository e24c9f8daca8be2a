"""Which entries between two states of knowledge bear on which vehicles."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from django.db.models import Q

from fleet.fitness.subjects import (
    COMPETENCE,
    EQUIPMENT,
    POLICY,
    VEHICLE,
    VEHICLE_TYPE,
    borne_by,
)
from fleet.records.deeds import Subject
from fleet.records.models import Entry, Mention

LONGEST = 2_000  # mentions read; of a longer time only the newest
_NAMED = 500  # vehicles and items that are asked for by their keys
_SHARED = (COMPETENCE, VEHICLE_TYPE)


@dataclass(frozen=True, slots=True)
class Causes:
    """Entries by vehicle and those about the policy, oldest first; `left_off` mentions."""

    by_vehicle: Mapping[int, list[Entry]] = field(default_factory=dict)
    policy: tuple[Entry, ...] = ()
    left_off: int = 0


def causes_between(
    carried: Mapping[int, set[int]], before: int | None, after: int | None
) -> Causes:
    """
    Return what was recorded after one entry up to another about vehicles and their items.

    `carried` are the items by vehicle; `after` None: up to now. At most eight queries.
    """
    if before is None or before == after:
        return Causes()
    mentions = Mention.objects.filter(entry__number__gt=before)
    if after is not None:
        mentions = mentions.filter(entry__number__lte=after)
    newest = mentions.select_related("entry__user").order_by("-entry__number")
    about = newest.filter(_about(carried))
    read = list(about[: LONGEST + 1])
    touched: dict[Subject, dict[int, Entry]] = {}
    for mention in read[:LONGEST]:
        subject = mention.kind, mention.key
        touched.setdefault(subject, {})[mention.entry_id] = mention.entry
    _spread(touched)
    policy = {m.entry_id: m.entry for m in newest.filter(kind__in=POLICY)[:LONGEST]}
    return Causes(
        {
            vehicle: _in_order(
                touched, (VEHICLE, vehicle), *((EQUIPMENT, item) for item in items)
            )
            for vehicle, items in carried.items()
        },
        tuple(sorted(policy.values(), key=_number)),
        about.count() - LONGEST if len(read) > LONGEST else 0,
    )


def _about(carried: Mapping[int, set[int]]) -> Q:
    """Narrow mentions to vehicles and items, while these are few, and to what is shared."""
    keys: dict[str, set[int]] = {
        VEHICLE: set(carried),
        EQUIPMENT: set().union(*carried.values()),
    }
    shared = Q(kind__in=_SHARED)
    if sum(map(len, keys.values())) > _NAMED:
        return shared | Q(kind__in=keys)
    for kind, named in keys.items():
        shared |= Q(kind=kind, key__in=named)
    return shared


def _spread(touched: dict[Subject, dict[int, Entry]]) -> None:
    """Have entries about a competence or a type count for what these bear on."""
    shared = [subject for subject in touched if subject[0] in _SHARED]
    for subject, bearing in borne_by(shared).items():
        for other in bearing:
            touched.setdefault(other, {}).update(touched[subject])


def _in_order(
    touched: Mapping[Subject, dict[int, Entry]], *subjects: Subject
) -> list[Entry]:
    mine: dict[int, Entry] = {}
    for subject in subjects:
        mine |= touched.get(subject, {})
    return sorted(mine.values(), key=_number)


def _number(entry: Entry) -> Any:
    return entry.number or 0

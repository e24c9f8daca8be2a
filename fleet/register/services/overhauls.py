"""Recording who overhauled an item, putting that right, taking it back."""

from typing import Any

from fleet.engineering.calendar import Moment
from fleet.people.models import User
from fleet.records.deeds import deed
from fleet.records.moments import refuse_future
from fleet.records.refusing import refusing
from fleet.records.versions import (
    correct_version,
    identify,
    open_version,
    retract_version,
)
from fleet.register.models import Equipment, EquipmentVersion, Overhaul, OverhaulVersion

# None of these announces anything: when an overhaul falls due follows from tests, and who
# did it bears on no brake status.


def record_overhaul(
    *,
    by: User | None,
    equipment: Equipment,
    on: Moment,
    overhauler: str,
    certificate: str = "",
    kit_batch: str = "",
) -> OverhaulVersion:
    """
    Record who overhauled an item, and with which kit or batch of seals.

    Raises ValidationError: `in_the_future`, `before_made`, `required` at `overhauler`.
    """
    with deed("register.record_overhaul", by=by, locking=(equipment,)) as entry:
        _refuse_when(equipment, on)
        overhaul = identify(Overhaul, entry=entry, equipment=equipment)
        return open_version(
            OverhaulVersion,
            entry=entry,
            overhaul=overhaul,
            equipment=equipment,
            on=on,
            overhauler=_said(overhauler),
            certificate=_said(certificate),
            kit_batch=_said(kit_batch),
        )


def correct_overhaul(
    *,
    by: User | None,
    version: OverhaulVersion,
    reason: str,
    on: Moment,
    overhauler: str,
    certificate: str,
    kit_batch: str,
) -> OverhaulVersion:
    """
    Put right what was written down wrongly of an overhaul; both versions stay.

    Raises ValidationError: `no_reason`, `nothing_changed`, `already_superseded` and those
    of recording it.
    """
    given: dict[str, Any] = {
        "on": on,
        "overhauler": _said(overhauler),
        "certificate": _said(certificate),
        "kit_batch": _said(kit_batch),
    }
    if all(getattr(version, name) == value for name, value in given.items()):
        raise refusing("Nothing is different yet.", code="nothing_changed")
    locking = (version.equipment, version.overhaul)
    with deed("register.correct_overhaul", by=by, locking=locking) as entry:
        _refuse_when(version.equipment, on)
        return correct_version(version, entry=entry, reason=reason, **given)


def retract_overhaul(
    *, by: User | None, version: OverhaulVersion, reason: str
) -> OverhaulVersion:
    """Record that an overhaul never was; raises `no_reason`, `already_superseded`."""
    locking = (version.equipment, version.overhaul)
    with deed("register.retract_overhaul", by=by, locking=locking) as entry:
        return retract_version(version, entry=entry, reason=reason)


def _refuse_when(equipment: Equipment, on: Moment) -> None:
    refuse_future(on, "on")
    held = EquipmentVersion.objects.current().filter(equipment=equipment)
    made = held.order_by("-since_key").values_list("made_earliest", flat=True).first()
    if made and on.latest and on.latest < made:
        raise refusing(
            f"It was made in {made.year}; it cannot have been overhauled on {on}.",
            code="before_made",
            field="on",
        )


def _said(words: str) -> str:
    return " ".join(words.split())

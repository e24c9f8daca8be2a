"""The demo's handbrake out of use: its linkage off, the wagon held by scotches."""

from fleet.config.demo.line import Line
from fleet.defects.services.isolations import isolation_lines, record_isolation
from fleet.defects.services.raising import raise_defect
from fleet.defects.vocabulary import Brake
from fleet.register.vocabulary import Effect, Scope


def linkage_off(line: Line) -> None:
    """A bent pull rod taken down last week; scotched where it stands."""
    vehicle = line.vehicles["W 710"]
    defect = raise_defect(
        by=line.by,
        person=line.fitter,
        title="Handbrake pull rod bent",
        on=line.ago(5, 14),
        vehicle=vehicle,
        position="handbrake",
        scope=Scope.HAND_BRAKE,
        effect=Effect.CONDITION,
        condition="Handbrake pull rod bent: do not rely on the handbrake.",
    )
    since = line.ago(4, 10)
    assert since.earliest is not None
    lines = isolation_lines(vehicle, Brake.HAND, since.earliest)
    record_isolation(
        by=line.by,
        person=line.fitter,
        vehicle=vehicle,
        system=Brake.HAND,
        since=since,
        why="Pull rod bent, taken down for straightening",
        lines=[{**row, "done": True} for row in lines],
        label_number="L-231",
        label_where="On the handbrake wheel",
        secured="scotches both sides of the leading wheels, road 3",
        defect=defect,
    )

"""What the page of a vehicle shows of brakes out of use, leave to move it, work in hand."""

import datetime as dt
from dataclasses import dataclass

from fleet.defects.models import IsolationVersion, MoveAuthority, WorkInHand
from fleet.defects.vocabulary import Brake
from fleet.register.models import Vehicle


@dataclass(frozen=True, slots=True)
class IsolatedPart:
    """The records that hold at the close of a day."""

    isolations: tuple[IsolationVersion, ...]
    moves: tuple[MoveAuthority, ...]
    work: tuple[WorkInHand, ...]

    @property
    def anything(self) -> bool:
        """Say whether there is anything to show."""
        return bool(self.isolations or self.work)

    @property
    def hand_brake_out(self) -> bool:
        """Say whether the handbrake is out of use."""
        return any(row.isolation.brake is Brake.HAND for row in self.isolations)


def isolated_part(vehicle: Vehicle, day: dt.date, known_at: int | None) -> IsolatedPart:
    """Read what is isolated or in hand on a day, in three queries."""
    isolations = IsolationVersion.objects.known_at(known_at).holding_on(day)
    moves = MoveAuthority.objects.in_force(day, known_at)
    work = WorkInHand.objects.known_at(known_at).holding_on(day)
    return IsolatedPart(
        tuple(isolations.filter(vehicle=vehicle).select_related("isolation")),
        tuple(moves.filter(isolation__vehicle=vehicle)),
        tuple(work.filter(vehicle=vehicle)),
    )

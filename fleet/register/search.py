"""Finding vehicles and items by number, serial or a word of the trade."""

from dataclasses import dataclass

from fleet.register.models import EquipmentVersion, VehicleVersion
from fleet.register.vocabulary import EquipmentKind, kinds_called

MOST = 50


@dataclass(frozen=True, slots=True)
class Found:
    """What answers to some words; lists stop at `MOST` and `more` says so."""

    words: str
    kinds: tuple[EquipmentKind, ...]
    vehicles: tuple[VehicleVersion, ...]
    items: tuple[EquipmentVersion, ...]
    more: bool

    @property
    def only(self) -> VehicleVersion | EquipmentVersion | None:
        """Return the one thing that answers, if there is just one."""
        every: list[VehicleVersion | EquipmentVersion] = [*self.vehicles, *self.items]
        return every[0] if len(every) == 1 else None


def find(words: str) -> Found:
    """
    Find vehicles by running number, also a former one, and items by serial or kind.

    Two queries, however much there is; none for empty words.
    """
    words = " ".join(words.split())
    if not words:
        return Found("", (), (), (), more=False)
    kinds = kinds_called(words)
    vehicles = list(VehicleVersion.objects.for_list().called(words)[: MOST + 1])
    items = list(EquipmentVersion.objects.for_list().called(words)[: MOST + 1])
    return Found(
        words,
        tuple(kind for kind in EquipmentKind if kind in kinds),
        tuple(vehicles[:MOST]),
        tuple(items[:MOST]),
        more=len(vehicles) > MOST or len(items) > MOST,
    )

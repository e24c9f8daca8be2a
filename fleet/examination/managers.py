"""Reads of test records."""

from typing import Self

from fleet.records.models import VersionQuerySet


class TestRecordQuerySet(VersionQuerySet):
    """Reads of test records."""

    __test__ = False

    def for_list(self) -> Self:
        """Load what a list of tests shows."""
        return self.select_related("procedure_revision__procedure", "done_by")

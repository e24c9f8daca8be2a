"""A snapshot's bundle: papers, data and digests in one file, always the same bytes."""

import datetime as dt
import json
from hashlib import sha256
from io import BytesIO
from typing import Any
from zipfile import ZIP_DEFLATED, ZipFile, ZipInfo

from django.utils import timezone
from django.utils.text import slugify

from fleet.fitness.explained import plain, told
from fleet.fitness.models import Snapshot
from fleet.fitness.snapshots import Read
from fleet.records.clock import now
from fleet.register.models import Vehicle
from fleet.reports.freezing import thawed
from fleet.reports.loading import content_of
from fleet.reports.sheet import Printed

README = """\
Snapshot {number} of {on}: {reason}

Of each vehicle, in the order of the formation: the fitness statement as a paper, and the
whole chain from level to record as data; "then" on what was recorded up to the close of
that day (entry {then}), "now" on what was recorded when this was taken (entry {now}).

Digest of the snapshot: {digest}
Seal of entry {now}:    {facts}

digests.txt has the SHA-256 of each file. `manage.py verify_records` proves the chain of
seals in the register. This shows what was recorded. It is not permission to move.
"""


def reader(on: dt.date) -> Read:
    """Return how a snapshot reads one vehicle on a day, as known at an entry."""
    at = timezone.localtime(now())

    def read(vehicle: Vehicle, entry: int) -> Any:
        content = content_of(vehicle.pk, on=on, printed=Printed(at, entry))
        chain = told(vehicle.pk, on, known_at=entry)
        return {
            "paper": content.paper if content else None,
            "chain": plain(chain) if chain else None,
        }

    return read


def bundle_of(snapshot: Snapshot) -> bytes:
    """Return the bundle of a snapshot, drawn from what was frozen alone."""
    from fleet.reports.statement_paper import draw_statement  # loads the PDF library

    files: dict[str, bytes] = {"README.txt": _readme(snapshot)}
    for at, kept in enumerate(snapshot.content, start=1):
        for known in ("then", "now"):
            name = f"{at:02d}-{_name(kept)}-{known}"
            paper = kept[known]["paper"]
            if paper is not None:
                files[f"{name}.pdf"] = draw_statement(thawed(paper))
            files[f"{name}.json"] = _json(kept[known]["chain"])
    listed = [f"{sha256(data).hexdigest()}  {name}" for name, data in files.items()]
    files["digests.txt"] = ("\n".join(listed) + "\n").encode()
    return _zipped(files)


def _readme(snapshot: Snapshot) -> bytes:
    return README.format(
        number=snapshot.number,
        on=snapshot.on.isoformat(),
        reason=snapshot.reason,
        then=snapshot.known_then,
        now=snapshot.known_now,
        digest=snapshot.digest,
        facts=snapshot.facts,
    ).encode()


def _name(kept: dict[str, Any]) -> str:
    chain = kept["now"]["chain"] or kept["then"]["chain"]
    return slugify(chain["number"]) if chain else f"vehicle-{kept['vehicle']}"


def _json(value: Any) -> bytes:
    return json.dumps(value, sort_keys=True, ensure_ascii=False, indent=1).encode()


def _zipped(files: dict[str, bytes]) -> bytes:
    buffer = BytesIO()
    with ZipFile(buffer, "w", ZIP_DEFLATED) as archive:
        for name, data in files.items():
            info = ZipInfo(
                name
            )  # dated 1980, so that the bytes do not follow the clock
            info.compress_type = ZIP_DEFLATED
            archive.writestr(info, data)
    return buffer.getvalue()

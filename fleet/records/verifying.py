"""The chain of seals proved: every entry, every row, every closing as it was written."""

from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass, field
from itertools import islice
from typing import Any

from django.apps import apps
from django.db import models

from fleet.records.guards import guarded
from fleet.records.models import Entry, Seal
from fleet.records.sealing import digest_of, seal_digest, sealed_fields

CHUNK = 200  # seals read at a time
KEYS = 500  # rows read at a time
_OPEN = {"records.entry", "records.seal"}  # proved by the chain itself


@dataclass(frozen=True, slots=True)
class Fault:
    """Something that is not as it was written: where, and what in words."""

    where: str
    words: str


@dataclass(slots=True)
class Proof:
    """What was proved: the newest entry with its seal, how many rows, and every fault."""

    entries: int = 0
    rows: int = 0
    head: str = ""  # the seal of the newest entry
    newest: int = 0  # its number
    faults: list[Fault] = field(default_factory=list)


def prove(noted: tuple[int, str] | None = None) -> Proof:
    """
    Prove the chain; `noted` is an entry and its seal as somebody wrote them down.

    Walk the chain of seals from the first entry to the newest, and every sealed row.

    Seals are read in chunks; the keys of all rows are held in memory, some 100 bytes
    for each. Derived tables (spans, due dates) are not sealed: `rebuild_status --verify`
    works them out anew.
    """
    proof = Proof()
    seen: dict[str, set[int]] = defaultdict(set)
    shut: dict[str, dict[int, int]] = defaultdict(dict)
    previous = ""
    seals = Seal.objects.filter(entry__number__isnull=False).select_related("entry")
    ordered = seals.order_by("entry__number")
    stream = ordered.iterator(chunk_size=CHUNK)
    while chunk := list(islice(stream, CHUNK)):
        for seal in chunk:
            _prove_place(seal, proof)
            _prove_seal(seal, previous, proof)
            previous = seal.digest
            for label, key, by in seal.closings:
                shut[label][key] = by
        _prove_rows(chunk, seen, proof)
    proof.head = previous
    if noted is not None:
        proof.faults += _as_noted(*noted)
    unsealed = Entry.objects.filter(number__isnull=False, seal__isnull=True)
    for number in unsealed.order_by("number").values_list("number", flat=True):
        proof.faults.append(Fault(f"entry {number}", "It has no seal."))
    for model in sealed_models():
        proof.faults += _strangers(model, seen[model._meta.label_lower])
        proof.faults += _closings(model, shut[model._meta.label_lower])
    return proof


def _as_noted(number: int, digest: str) -> Iterator[Fault]:
    """Hold what somebody noted outside the register against what it says now."""
    seal = Seal.objects.filter(entry__number=number).first()
    if seal is None:
        yield Fault(f"entry {number}", "It was noted, and is not there any more.")
    elif seal.digest != digest.replace(" ", "").lower():
        yield Fault(
            f"entry {number}", "Its seal is not the one noted: the chain was made anew."
        )


def sealed_models() -> Iterator[type[models.Model]]:
    """Yield the models whose rows are sealed: all that are guarded, less what follows."""
    for model in guarded(apps.get_models()):
        if model._meta.label_lower not in _OPEN and not getattr(
            model, "derived", False
        ):
            yield model


def _prove_place(seal: Seal, proof: Proof) -> None:
    number = seal.entry.number or 0
    if number != proof.newest + 1:
        missing = f"entry {proof.newest + 1}"
        if number > proof.newest + 2:
            missing = f"entries {proof.newest + 1} to {number - 1}"
        proof.faults.append(Fault(missing, "Missing: numbers follow one another."))
    proof.entries += 1
    proof.newest = number


def _prove_seal(seal: Seal, previous: str, proof: Proof) -> None:
    made = seal_digest(seal.format, previous, seal.entry, seal.rows, seal.closings)
    if made != seal.digest:
        proof.faults.append(
            Fault(
                f"entry {seal.entry.number}",
                f"“{seal.entry.deed}” of {seal.entry.made_at:%Y-%m-%d %H:%M}: the entry, "
                "its seal or the seal before it was altered.",
            )
        )


def _prove_rows(chunk: list[Seal], seen: dict[str, set[int]], proof: Proof) -> None:
    wanted: dict[str, dict[int, tuple[str, int | None]]] = defaultdict(dict)
    for seal in chunk:
        for label, key, digest in seal.rows:
            wanted[label][key] = digest, seal.entry.number
            seen[label].add(key)
    for label, rows in wanted.items():
        try:
            model = apps.get_model(label)
        except LookupError:
            proof.faults.append(Fault(label, "A seal names a table that is not there."))
            continue
        found = dict(_digests(model, list(rows)))
        proof.rows += len(rows)
        for key, (digest, number) in rows.items():
            where = f"{model._meta.verbose_name} {key}, entry {number}"
            if key not in found:
                proof.faults.append(Fault(where, "The row was deleted."))
            elif found[key] != digest:
                proof.faults.append(Fault(where, "The row was altered."))


def _digests(model: type[models.Model], keys: list[int]) -> Iterator[tuple[int, str]]:
    names = [f.attname for f in sealed_fields(model)]
    for at in range(0, len(keys), KEYS):
        some = model._base_manager.filter(pk__in=keys[at : at + KEYS])
        for key, *values in some.values_list("pk", *names):
            yield key, digest_of(model, values)


def _strangers(model: type[models.Model], sealed: set[int]) -> Iterator[Fault]:
    rows = model._base_manager.order_by().values_list("pk", flat=True)
    for key in rows.iterator(chunk_size=5_000):
        if key not in sealed:
            yield Fault(f"{model._meta.verbose_name} {key}", "No deed wrote this row.")


def _closings(model: type[Any], shut: dict[int, int]) -> Iterator[Fault]:
    if not any(f.attname == "closed_by_id" for f in model._meta.concrete_fields):
        return
    rows = model._base_manager.order_by().values_list("pk", "closed_by")
    for key, by in rows.iterator(chunk_size=5_000):
        if shut.get(key) != by:
            yield Fault(
                f"{model._meta.verbose_name} {key}",
                "It was closed or opened again otherwise than by a deed.",
            )

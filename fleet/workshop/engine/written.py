"""Problems and programmes written as plain JSON and read back, and a digest of both."""

import json
from collections.abc import Mapping
from dataclasses import fields, is_dataclass
from datetime import date
from enum import Enum
from functools import cache
from hashlib import sha256
from types import NoneType, UnionType
from typing import Any, TypeVar, get_args, get_origin, get_type_hints

from fleet.workshop.engine.problem import Problem, Programme

FORMAT = 1
T = TypeVar("T")


def written(value: Any) -> Any:
    """Return a value of the engine as JSON holds it: one way for each, sets in order."""
    if is_dataclass(value) and not isinstance(value, type):
        return {f.name: written(getattr(value, f.name)) for f in fields(value)}
    if isinstance(value, Mapping):
        return [[written(k), written(v)] for k, v in sorted(value.items())]
    if isinstance(value, frozenset):
        return [written(v) for v in sorted(value)]
    if isinstance(value, tuple):
        return [written(v) for v in value]
    if isinstance(value, Enum):
        return value.value
    return value.isoformat() if isinstance(value, date) else value


def read_problem(plain: Any) -> Problem:
    """Return the problem that was written; raises KeyError or TypeError for anything else."""
    found: Problem = _read(Problem, plain)
    return found


def read_programme(plain: Any) -> Programme:
    """Return the programme that was written."""
    found: Programme = _read(Programme, plain)
    return found


def digest(problem: Problem, programme: Programme) -> str:
    """Return what tells this pair from every other: sixty-four hexadecimal digits."""
    body = [FORMAT, written(problem), written(programme)]
    text = json.dumps(body, sort_keys=True, ensure_ascii=False, separators=(",", ":"))
    return sha256(text.encode()).hexdigest()


@cache
def _hints(kind: type) -> dict[str, Any]:
    return get_type_hints(kind)


def _read(hint: Any, plain: Any) -> Any:
    """Return a plain value as the type says that is written beside it in the engine."""
    origin, inner = get_origin(hint), get_args(hint)
    if origin is UnionType:
        (some,) = (part for part in inner if part is not NoneType)
        return None if plain is None else _read(some, plain)
    if origin is not None:
        return _read_many(origin, inner, plain)
    if is_dataclass(hint):
        hints = _hints(hint)  # type: ignore[arg-type]  # a class, as hints are
        read = {
            name: _read(part, plain[name])
            for name, part in hints.items()
            if name in plain
        }
        return hint(**read)  # type: ignore[operator]  # the same
    return date.fromisoformat(plain) if hint is date else hint(plain)


def _read_many(origin: Any, inner: tuple[Any, ...], plain: Any) -> Any:
    if issubclass(origin, Mapping):
        key, value = inner
        return {_read(key, k): _read(value, v) for k, v in plain}
    if issubclass(origin, frozenset) or inner[-1] is Ellipsis:
        return origin(_read(inner[0], part) for part in plain)
    return tuple(_read(hint, part) for hint, part in zip(inner, plain, strict=True))

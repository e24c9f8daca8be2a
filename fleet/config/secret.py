"""The secret key of this installation: made once, then kept in a private file."""

import os
from pathlib import Path

from django.core.exceptions import ImproperlyConfigured
from django.core.management.utils import get_random_secret_key


def kept_secret(path: Path) -> str:
    """Return the key kept at `path`, making the file (mode 600) if it is missing.

    Raises ImproperlyConfigured where the file cannot be made or holds nothing.
    """
    try:
        _make(path)
        key = path.read_text(encoding="ascii").strip()
    except OSError as error:
        message = f"Cannot keep a secret key in {path}: {error}. Set SECRET_KEY."
        raise ImproperlyConfigured(message) from error
    if not key:
        message = f"{path} is empty. Delete it, or set SECRET_KEY."
        raise ImproperlyConfigured(message)
    return key


def _make(path: Path) -> None:
    if path.exists():
        return
    # Written apart and linked into place: of two processes that start together
    # one wins, and neither can read a key that is only half written.
    draft = path.with_name(f"{path.name}.{os.getpid()}")
    handle = os.open(draft, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
    with os.fdopen(handle, "w", encoding="ascii") as file:
        file.write(get_random_secret_key())
    try:
        os.link(draft, path)
    except FileExistsError:
        pass
    finally:
        draft.unlink()

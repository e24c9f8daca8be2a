"""The secret key of this installation: made once, then kept in a private file."""

import os
from contextlib import suppress
from pathlib import Path
from tempfile import NamedTemporaryFile

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
    # The draft is made with mode 600, and the link keeps it.
    with NamedTemporaryFile("w", dir=path.parent, prefix=path.name) as draft:
        draft.write(get_random_secret_key())
        draft.flush()
        with suppress(FileExistsError):
            os.link(draft.name, path)

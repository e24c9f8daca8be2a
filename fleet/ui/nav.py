"""The main menu: its entries, in order, and which of them leads to a page's section."""

from dataclasses import dataclass

from django.urls import NoReverseMatch, reverse

ENTRIES = (
    ("Board", "web:board"),
    ("Vehicles", "register:vehicle-list"),
    ("Equipment", "register:equipment-list"),
    ("Tests", "examination:test-list"),
    ("Defects", "defects:defect-list"),
    ("Due", "web:due-list"),
    ("Workshop", "workshop:forecast", "workshop:diary"),  # the first there is
    ("Rules", "web:rule-list"),
)
SIGN_OUT = ("people:sign-out", "logout")


@dataclass(frozen=True, slots=True)
class Entry:
    """One entry of the menu; `current` is "page", "true" for a page below it, or ""."""

    words: str
    href: str
    current: str = ""


def entries(path: str) -> list[Entry]:
    """Return the entries whose pages exist, the one that leads to `path` marked."""
    found = [(words, first_address(*names)) for words, *names in ENTRIES]
    return [Entry(words, href, _current(href, path)) for words, href in found if href]


def first_address(*names: str) -> str:
    """Return the address of the first name that has one, "" where none has."""
    for name in names:
        try:
            return reverse(name)
        except NoReverseMatch:
            continue
    return ""


def _current(href: str, path: str) -> str:
    if href == path:
        return "page"
    return "true" if href != "/" and path.startswith(href) else ""

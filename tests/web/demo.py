"""The demo's fleet for tests of the screens, and the ways through it."""

import re
from contextlib import contextmanager
from html import unescape
from io import StringIO
from urllib.parse import parse_qs, urljoin, urlsplit

from django.core.management import call_command
from django.urls import URLPattern, get_resolver, resolve, reverse

from fleet.config.demo.stories import STORIES
from fleet.people.models import User
from fleet.register.models import VehicleVersion
from tests.web.kept import copied

# By role: the account the demo makes for it.
ACCOUNTS = {
    "fitter": "fitter",
    "planner": "planner",
    "manager": "manager",
    "train_crew": "crew",
    "administrator": "admin",
}
# Overdue, not to run, isolated, in hand, in store, with an empty position, piped only.
SOME = ("T 107", "T 109", "T 103", "K 8", "C 414", "K 9", "V 31")
_HREF = re.compile(r'<(?:a|form)\b[^>]*?(?:href|action)="([^"]*)"')
_FINDING = re.compile(r'<article class="finding.*?</article>', re.DOTALL)
_ELSEWHERE = ("/admin/", "/static/", "/sign-out/")


def load(**options):
    """Load the demo as its command does; return what the command says."""
    said = StringIO()
    call_command("demo", no_serve=True, stdout=said, **options)
    return said.getvalue()


@contextmanager
def loaded_for_a_module(django_db_blocker):
    """Keep the demo loaded for every test of a module; yield what its command said."""
    with django_db_blocker.unblock(), copied(load) as said:
        yield said


def account(role):
    """The demo's account of a role."""
    return User.objects.get(username=ACCOUNTS[role])


def vehicle_of(number):
    """The address of a vehicle's page."""
    held = VehicleVersion.objects.current().open_ended().get(number=number)
    return reverse("web:vehicle", args=[held.vehicle_id])


def starts(numbers):
    """Where a walk begins: the board, and the pages of some vehicles."""
    return [reverse("web:board"), *(vehicle_of(number) for number in sorted(numbers))]


def sort_of(address):
    """What sort of page an address is: its name, and what it is asked."""
    parts = urlsplit(address)
    return resolve(parts.path).view_name, frozenset(parse_qs(parts.query))


def links_in(address, markup):
    """Where links and forms in the markup of a page lead, within the register."""
    for href in _HREF.findall(markup):
        target = urljoin(address, unescape(href).partition("#")[0])
        if target.startswith("/") and not target.startswith(_ELSEWHERE):
            yield target


def walk(client, *, thorough=False):
    """
    Follow the links from the board, one of each sort of page; yield address, answer.

    A thorough walk begins at every vehicle something happened to, and follows each link
    of a finding: these lead to what is out of the ordinary.
    """
    waiting = starts({number for number, _ in STORIES} if thorough else SOME)
    seen, sorts = set(waiting), set()
    while waiting:
        address = waiting.pop(0)
        answer = client.get(address)
        yield address, answer
        if answer.status_code != 200 or "html" not in answer["Content-Type"]:
            continue
        text = answer.content.decode()
        said = _FINDING.findall(text) if thorough else ()
        findings = set(links_in(address, "".join(said)))
        for target in links_in(address, text):
            sort = sort_of(target)
            if target not in seen and (sort not in sorts or target in findings):
                seen.add(target)
                sorts.add(sort)
                waiting.append(target)


def every_name():
    """The name of every address of the register but those of the admin site."""
    found = set()

    def collect(resolver, prefix):
        for entry in resolver.url_patterns:
            if isinstance(entry, URLPattern):
                found.add(prefix + (entry.name or ""))
            elif entry.namespace != "admin":
                inner = f"{prefix}{entry.namespace}:" if entry.namespace else prefix
                collect(entry, inner)

    collect(get_resolver(), "")
    return found

"""A stranger's path through the register, in the browser, on the demo fleet."""

import datetime as dt
import re
from io import BytesIO

import pytest
from pypdf import PdfReader

from fleet.people.models import User
from fleet.records.clock import today
from fleet.register.models import VehicleVersion
from fleet.ui.cautions import caution
from tests.web.demo import load
from tests.web.kept import copied

FIT = "T 113"  # a two-pipe saloon with nothing outstanding
DUAL = "T 107"  # dual braked, its distributor past overhaul
SPARE = "DS-DV-P-3"


@pytest.fixture
def demo(transactional_db):
    """The demo line, as `manage.py demo` loads it."""
    with copied(load):
        yield


def choose(radio):
    """Choose as a finger does: by the words beside it, clear of the bar below."""
    words = radio.locator("xpath=ancestor::label")
    words.evaluate("label => label.scrollIntoView({block: 'center'})")
    words.click()
    assert radio.is_checked()


def address_of(number):
    version = VehicleVersion.objects.current().open_ended().get(number=number)
    return f"/vehicles/{version.vehicle_id}/"


def levels(page, number):
    """The words of the levels on the vehicle's page, and on its line of the board."""
    page.goto(address_of(number))
    on_page = page.locator(".standing .level").all_inner_texts()
    page.goto(f"/?find={number.replace(' ', '+')}")
    on_board = page.locator(".ledger.board tbody tr .level").all_inner_texts()
    assert [w.strip() for w in on_page if w != "Not fitted"][: len(on_board)] == [
        w.strip() for w in on_board
    ]
    return [w.strip() for w in on_board]


def fill_when(page, name, at, day):
    """Say when, in the day and time fields of a form."""
    page.locator(f"input[name='{name}_day']").fill(day.isoformat())
    page.locator(f"input[name='{name}_time']").fill(at)


def send(page):
    """Press the form's button, and see that nothing was refused."""
    page.locator("form.sheet .actions button").first.click()
    assert page.locator(".errorlist, .form-errors").all_inner_texts() == []


@pytest.fixture
def shed(demo, page_at):
    """A page signed in as the demo's fitter, on a phone."""
    return page_at(390, User.objects.get(username="fitter"))


@pytest.fixture
def office(demo, page_at):
    """A page signed in as the demo's manager."""
    return page_at(1280, User.objects.get(username="manager"))


def raise_at_position(page, number, position, words, effect, at, day):
    page.goto(address_of(number))
    page.locator(f"a[href$='/positions/{position}/']").first.click()
    page.get_by_role("link", name="Raise a defect").click()
    page.locator("[name=words]").fill(words)
    choose(page.locator(f"[name=effect][value={effect}]"))
    page.locator("form.sheet summary").click()
    fill_when(page, "on", at, day)


def isolate(page, day):
    page.goto(address_of(FIT))
    page.get_by_role("link", name="Record isolation, air").click()
    for name, value in (("found", "open"), ("left", "closed"), ("done", "yes")):
        check_all(page, f"[name$='-{name}'][value={value}]")
    page.locator("[name=why]").fill("Distributor slow to release")
    page.locator("[name=label_number]").fill("L-77")
    fill_when(page, "since", "09:30", day)
    send(page)


def exchange_distributor(page, day):
    page.goto(address_of(FIT))
    page.get_by_role("link", name="Take in hand").click()
    page.locator("[name=what]").fill("Distributor to be exchanged")
    fill_when(page, "since", "10:00", day)
    send(page)
    page.goto(address_of(FIT) + "positions/distributor/exchange/")
    page.locator("[name=serial]").fill(SPARE)
    page.locator("[name=to]").select_option(label="Marrowby stores")
    fill_when(page, "at", "11:00", day)
    send(page)


def restore(page, day):
    page.goto(address_of(FIT))
    page.get_by_role("link", name=re.compile("brake isolated")).click()
    page.get_by_role("link", name=re.compile("Restore|Put .* back")).first.click()
    check_all(page, "[name$='-left'][value=open]")
    check_all(page, "[name$='-done'][value=yes]")
    fill_when(page, "at", "12:00", day)
    send(page)


def prove_the_brake(page, day):
    page.goto(address_of(FIT))
    page.get_by_role("link", name="Record a test", exact=True).first.click()
    page.get_by_role(
        "link", name=re.compile("Single-vehicle air brake test rev")
    ).click()
    for box in page.locator("[data-line][data-low]").all():
        low, high = box.get_attribute("data-low"), box.get_attribute("data-high")
        value = (float(low or high) + float(high or low)) / 2
        box.locator("input[name$=_value]").fill(f"{value:g}")
    check_all(page, "[id^=line-] input[type=radio][value=met]")
    fill_when(page, "on", "14:00", day)
    send(page)


def check_all(page, selector):
    for radio in page.locator(selector).all():
        choose(radio)


def test_a_slow_distributor_from_the_defect_to_the_statement(shed, office):
    page = shed
    day = today() - dt.timedelta(days=1)
    assert levels(page, FIT) == ["Fit to run braked"]

    raise_at_position(
        page, FIT, "distributor", "Slow to release", "isolate", "09:00", day
    )
    send(page)
    assert levels(page, FIT) == ["Not to run in an air train"]

    isolate(page, day)
    assert levels(page, FIT) == ["Convey as piped"]

    exchange_distributor(page, day)
    restore(page, day)
    prove_the_brake(page, day)
    assert levels(page, FIT) == ["Not to run"]  # in hand until it is released

    office.goto(address_of(FIT))
    office.get_by_role("link", name="Release to traffic").first.click()
    fill_when(office, "at", "15:00", day)
    send(office)
    assert levels(page, FIT) == ["Fit to run braked"]

    printed = page.request.get(address_of(FIT) + "statement.pdf")
    text = "".join(p.extract_text() for p in PdfReader(BytesIO(printed.body())).pages)
    assert FIT in text
    assert "Fit to run braked" in text
    assert "not permission to move" in " ".join(text.lower().split())


def test_a_chafed_brake_pipe_hose_stops_and_is_never_conveyed_as_piped(shed):
    page = shed
    day = today() - dt.timedelta(days=1)

    page.goto(address_of(FIT) + "positions/bp-hose-1/")
    page.get_by_role("link", name="Raise a defect").click()
    offered = page.locator("[name=effect]").evaluate_all("all => all.map(e => e.value)")
    assert set(offered) == {"stop", "not_assessed"}

    raise_at_position(page, FIT, "bp-hose-1", "Chafed", "stop", "09:00", day)
    send(page)

    assert levels(page, FIT) == ["Not to run in an air train"]


def test_a_dual_braked_vehicle_keeps_its_vacuum_brake_until_a_hanger_cracks(shed):
    page = shed

    assert levels(page, DUAL) == ["Convey as piped", "Fit braked, with conditions"]
    page.goto(address_of(DUAL))
    assert "air brake vented and released" in page.locator(".conditions").inner_text()

    page.get_by_role("link", name="Raise a defect").click()
    page.locator("[name=words]").fill("Brake hanger cracked")
    choose(page.locator("[name=effect][value=stop]"))
    page.locator("[name=scope]").select_option("vehicle")
    send(page)

    assert levels(page, DUAL) == ["Not to run", "Not to run"]
    page.goto(address_of(DUAL))
    assert page.locator(".standing.whole").count() == 1
    assert caution("movement").title in page.content()

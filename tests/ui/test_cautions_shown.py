"""Where each caution stands: on which screens, and with which starter procedures."""

import tomllib
from pathlib import Path

import pytest
from django.conf import settings
from django.template.loader import render_to_string

from fleet.ui.cautions import CAUTIONS, caution

PRACTICE = "fixtures/practice/procedures.toml"
FITTING, START = "register/fitting_form.html", "defects/work_start.html"
ISOLATING = "defects/isolation_cautions.html"

# Each caution: the pages that name it, then the starter procedures that carry it. What a
# procedure carries stands on its own page, the form and record of its tests, the blank
# sheet and the certificate. `not_permission` ends every page and every paper; the last two
# stand on every certificate and blank sheet besides.
SHOWN = {
    "movement": ([FITTING, START, ISOLATING], ["svt-air", "svt-vac", "rigging"]),
    "drain_and_vent": ([FITTING, START, ISOLATING], ["svt-air", "svt-vac", "rigging"]),
    "air_suspension": ([FITTING], []),
    "pressure_joint": ([FITTING, START, ISOLATING], ["air-pipe", "hose-exam"]),
    "pressure_test": ([], ["aux-reservoir-exam", "main-reservoir-exam"]),
    "vacuum_drop": ([FITTING, START, ISOLATING], ["svt-vac", "vac-pipe", "annual-vac"]),
    "stabling": ([], ["svt-vac", "handbrake"]),
    "handbrake_out": (
        [ISOLATING, "defects/isolation_restore.html", "web/isolated.html"],
        [],
    ),
    "asbestos": ([], ["rigging", "annual-air", "annual-vac"]),
    "stored_energy": ([], ["rigging", "cylinder-overhaul"]),
    "hot_brakes": (
        ["defects/defect_add.html"],
        ["svt-air", "svt-air-goods", "svt-vac"],
    ),
    "cold_or_stored": ([], ["svt-air", "svt-vac", "return-traffic"]),
    "after_work": ([FITTING, "defects/work_release.html"], ["svt-air", "rigging"]),
    "dust_and_oil": ([], ["rigging", "aux-reservoir-exam", "cylinder-overhaul"]),
    "lineside": (["defects/defect_add.html"], []),
    "not_permission": (["ui/base.html"], []),
    "local_instruction": (["web/practice.html"], ["acceptance"]),
    "statutory": ([], ["aux-reservoir-exam", "main-reservoir-exam"]),
}
IN_FOOTER = "Not permission to move"  # how every page words `not_permission`


@pytest.fixture(scope="module")
def carried():
    """The cautions of each starter procedure."""
    text = (Path(settings.BASE_DIR) / PRACTICE).read_text()
    return {p["code"]: p["cautions"] for p in tomllib.loads(text)["procedure"]}


def test_every_caution_has_its_places():
    assert set(SHOWN) == {one.key for one in CAUTIONS}
    assert all(pages or procedures for pages, procedures in SHOWN.values())


@pytest.mark.parametrize("key", SHOWN)
def test_a_caution_stands_where_the_hazard_is(key, carried):
    pages, procedures = SHOWN[key]
    sought = IN_FOOTER if key == "not_permission" else f'"{key}"'
    templates = Path(settings.BASE_DIR) / "templates"

    assert [p for p in pages if sought not in (templates / p).read_text()] == []
    assert [code for code in procedures if key not in carried[code]] == []


def test_cautions_that_fold_lose_none_and_name_each_hazard_outside_the_fold():
    keys = ["movement", "drain_and_vent", "asbestos", "after_work"]
    told = [caution(key) for key in keys]
    page = render_to_string("ui/caution.html", {"cautions": told})
    before, folded = page.split("<details>")
    summary, inside = folded.split("</summary>")

    assert told[0].title in before
    assert "the board in" in before
    assert all(one.title in summary for one in told[1:])
    assert all(one.title in inside for one in told[1:])
    assert "shown that they do not" in inside


@pytest.mark.parametrize("count", [1, 2])
def test_one_or_two_cautions_stand_open(count):
    told = [caution(key) for key in ("movement", "after_work")][:count]

    page = render_to_string("ui/caution.html", {"cautions": told})

    assert "<details" not in page
    assert page.count("<strong>") == count

"""The cautions: all of them, each with its ground, none that promises anything."""

import re

import pytest

from fleet.ui.cautions import CAUTIONS, caution

EXPECTED = {
    "movement",
    "drain_and_vent",
    "air_suspension",
    "pressure_joint",
    "pressure_test",
    "vacuum_drop",
    "stabling",
    "handbrake_out",
    "asbestos",
    "stored_energy",
    "hot_brakes",
    "cold_or_stored",
    "after_work",
    "dust_and_oil",
    "lineside",
    "not_permission",
    "local_instruction",
    "statutory",
}


def test_every_hazard_has_one_caution():
    keys = [c.key for c in CAUTIONS]

    assert set(keys) == EXPECTED
    assert len(keys) == len(EXPECTED)


@pytest.mark.parametrize("entry", CAUTIONS, ids=lambda c: c.key)
def test_a_caution_has_a_title_a_text_and_a_basis(entry):
    assert entry.title
    assert not entry.title.endswith(".")
    assert entry.text.endswith((".", "?"))
    assert entry.basis
    assert not entry.basis.endswith(".")


@pytest.mark.parametrize("entry", CAUTIONS, ids=lambda c: c.key)
def test_no_caution_calls_anything_safe(entry):
    assert not re.search(r"\bsafe(ly)?\b", f"{entry.title} {entry.text}", re.I)


def test_a_caution_nobody_wrote_is_a_wrong_call():
    with pytest.raises(KeyError, match="no such caution: ladder"):
        caution("ladder")

"""The secret key: made once, private, and never half there."""

import stat
from concurrent.futures import ThreadPoolExecutor

import pytest
from django.core.exceptions import ImproperlyConfigured

from fleet.config.secret import kept_secret


def test_the_key_made_on_the_first_run_is_the_key_of_every_run(tmp_path):
    first = kept_secret(tmp_path / "key")

    assert len(first) >= 50
    assert kept_secret(tmp_path / "key") == first


def test_nobody_else_on_the_machine_can_read_the_key(tmp_path):
    kept_secret(tmp_path / "key")

    assert stat.S_IMODE((tmp_path / "key").stat().st_mode) == 0o600


def test_processes_that_start_together_end_up_with_one_key(tmp_path):
    with ThreadPoolExecutor(8) as pool:
        keys = set(pool.map(kept_secret, [tmp_path / "key"] * 8))

    assert len(keys) == 1
    assert [p.name for p in tmp_path.iterdir()] == ["key"]


def test_an_empty_file_is_refused_with_what_to_do(tmp_path):
    (tmp_path / "key").touch()

    with pytest.raises(ImproperlyConfigured, match="Delete it, or set SECRET_KEY"):
        kept_secret(tmp_path / "key")


def test_a_place_that_cannot_be_written_is_refused_with_what_to_do(tmp_path):
    with pytest.raises(ImproperlyConfigured, match="Set SECRET_KEY"):
        kept_secret(tmp_path / "missing" / "key")

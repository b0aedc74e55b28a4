"""Every key of the files that people write is explained, and nothing is explained that is no key."""

import pytest

from layup.cli import main
from layup.files.keys import PLAN_KEYS, RESIN_KEYS, plan_keys, resin_keys


@pytest.mark.parametrize(("keys", "meanings"), [(resin_keys, RESIN_KEYS), (plan_keys, PLAN_KEYS)])
def test_every_key_has_its_meaning_and_every_meaning_its_key(keys, meanings):
    assert {key.path for key in keys()} == set(meanings)
    assert all(words.strip() for words in meanings.values())


def test_the_keys_that_must_be_there_are_those_that_a_file_is_refused_without():
    assert {key.path for key in resin_keys() if key.needed and "." not in key.path} == {
        "id",
        "title",
        "chemistry",
        "resin",
        "hardener",
        "ratio",
        "pot_life",
        "source",
    }


def test_the_command_lists_them_all(capsys):
    assert main(["check", "--keys"]) == 0
    out = capsys.readouterr().out
    for path in (*RESIN_KEYS, *PLAN_KEYS):
        assert f" {path} " in out

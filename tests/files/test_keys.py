"""Every key of the files that people write is explained."""

import re

from layup.cli import main
from layup.commands.check import keys_of
from layup.files.plan_file import PlanFile
from layup.files.resin_file import ResinFile


def test_every_key_has_its_meaning():
    keys = (*keys_of(ResinFile), *keys_of(PlanFile))
    assert len(keys) > 100
    assert [key.path for key in keys if not key.words.strip() or key.words.endswith(") None")] == []


def test_a_meaning_stands_in_a_form_too_and_speaks_of_no_key_and_no_table():
    """But the id, which is the file's name, and true and false, which a form shows as yes and no."""
    written = re.compile(r"[a-z]_[a-z]|[a-z]\.[a-z]|\[[a-z]| = ")
    keys = (*keys_of(ResinFile), *keys_of(PlanFile))
    assert [f"{key.path}: {key.words}" for key in keys if written.search(key.words) and key.path != "id"] == []


def test_a_key_that_one_kind_of_step_has_says_which():
    kinds = {key.path: key.words.partition(" ")[0] for key in keys_of(PlanFile) if key.path.startswith("steps.")}
    assert kinds["steps.layers"] == kinds["steps.target_fibre_fraction.by"] == "(fabric)"
    assert kinds["steps.uptake"] == "(bond)"
    assert kinds["steps.pours"] == "(cast)"
    assert not any(kinds[f"steps.{key}"].startswith("(") for key in ("name", "minutes", "kind"))


def test_the_keys_that_must_be_there_are_those_that_a_file_is_refused_without():
    assert {key.path for key in keys_of(ResinFile) if key.needed and "." not in key.path} == {
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
    for key in (*keys_of(ResinFile), *keys_of(PlanFile)):
        assert f" {key.path} " in out

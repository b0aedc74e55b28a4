"""The demo workshop: found, copied for a try-out, and the start of a new workshop; never overwritten."""

import pytest

from layup.errors import StorageError
from layup.files import workshop
from layup.files.workshop import Workshop, demo_root, new_workshop, throwaway_workshop


def test_a_new_workshop_holds_the_demos_resins_and_draft_plans(tmp_path):
    new_workshop(tmp_path / "my" / "shop")
    workshop = Workshop(tmp_path / "my" / "shop")
    assert workshop.resin_ids() == Workshop(demo_root()).resin_ids()
    assert workshop.session_names() == ["touring-skis"]
    assert [path.name for path in workshop.sessions()[0].iterdir()] == ["plan.toml"]


@pytest.mark.parametrize("taken", ["resins", "sessions"])
def test_a_workshop_is_never_overwritten(tmp_path, taken):
    (tmp_path / taken).mkdir()
    with pytest.raises(StorageError, match=rf"is a workshop already \({taken}\) - open it with 'layup --work"):
        new_workshop(tmp_path)
    assert [path.name for path in tmp_path.iterdir()] == [taken]


def test_an_empty_folder_can_become_a_workshop(tmp_path):
    new_workshop(tmp_path)
    assert Workshop(tmp_path).check() == []


def test_the_whole_demo_can_be_kept_and_is_the_throwaway_copy(tmp_path):
    new_workshop(tmp_path / "kept", whole=True)
    with throwaway_workshop() as root:
        kept, thrown = (
            {
                path.relative_to(base): path.read_bytes()
                for path in base.rglob("*")
                if path.suffix in (".toml", ".jsonl")
            }
            for base in (tmp_path / "kept", root)
        )
    assert kept == thrown
    assert sum(path.name == "journal.jsonl" for path in kept) == 2
    with pytest.raises(StorageError, match=rf"open it with 'layup --workshop {tmp_path}/kept'"):
        new_workshop(tmp_path / "kept", whole=True)


def test_a_folder_that_cannot_be_written_is_told(tmp_path):
    (tmp_path / "file").touch()
    with pytest.raises(StorageError, match=r"file.shop: cannot be written \(Not a directory\)"):
        new_workshop(tmp_path / "file" / "shop")


def test_the_throwaway_copy_holds_everything_and_is_gone_afterwards():
    with throwaway_workshop() as root:
        assert Workshop(root).session_names() == Workshop(demo_root()).session_names()
        (root / "resins" / "mine.toml").write_text("x = 1")
        assert root != demo_root()
    assert not root.exists()
    assert not (demo_root() / "resins" / "mine.toml").exists()


def test_an_installed_package_finds_the_demo_in_itself(tmp_path, monkeypatch):
    for folder in ("resins", "sessions"):
        (tmp_path / "layup" / "demo" / folder).mkdir(parents=True)
    monkeypatch.setattr(workshop, "_PACKAGE", tmp_path / "layup")
    assert demo_root() == tmp_path / "layup" / "demo"


def test_a_package_without_a_demo_says_so(tmp_path, monkeypatch):
    monkeypatch.setattr(workshop, "_PACKAGE", tmp_path / "layup")
    with pytest.raises(StorageError, match="has no demo workshop with it - install the program again"):
        demo_root()

"""A workshop finds its files by the names people use, checks them all, and says what is near on a miss."""

import pytest

from layup.errors import FileError, InputError, Problem, StorageError
from layup.files.workshop import Workshop, new_workshop


@pytest.fixture
def workshop(tmp_path):
    new_workshop(tmp_path / "shop")
    return Workshop(tmp_path / "shop")


def break_file(path, old, new):
    text = path.read_text(encoding="utf-8")
    assert old in text
    path.write_text(text.replace(old, new, 1), encoding="utf-8")
    return path


def test_resins_are_found_by_id_and_by_path(workshop):
    assert workshop.resin_ids() == [
        "casting-urethane",
        "dgeba-ipda",
        "dgeba-teta",
        "fast-laminating",
        "slow-laminating",
    ]
    by_id = workshop.resin("slow-laminating")
    assert by_id == workshop.resin(str(workshop.root / "resins" / "slow-laminating.toml"))
    assert by_id == workshop.resins()["slow-laminating"]


def test_a_plan_is_found_by_its_file_its_folder_and_its_name(workshop):
    path = workshop.root / "sessions" / "touring-skis" / "plan.toml"
    assert workshop.plan_path("touring-skis") == path
    assert workshop.plan_path(str(path)) == path
    assert workshop.plan_path(str(path.parent)) == path
    assert workshop.plan("touring-skis").resin_id == "slow-laminating"


def test_sessions_are_folders_with_a_plan_or_a_journal(workshop):
    (workshop.sessions_folder / "2024-03-01-skis").mkdir()
    (workshop.sessions_folder / "2024-03-01-skis" / "journal.jsonl").touch()
    (workshop.sessions_folder / "notes").mkdir()
    (workshop.sessions_folder / "readme.txt").touch()
    assert workshop.session_names() == ["2024-03-01-skis", "touring-skis"]
    assert workshop.sessions() == [workshop.sessions_folder / name for name in workshop.session_names()]
    assert workshop.session_path("2024-03-01-skis") == workshop.sessions_folder / "2024-03-01-skis"


def test_a_near_miss_names_what_is_near(workshop):
    with pytest.raises(
        InputError, match=r"resin: is not in .*resins \(slow-laminatin\) - did you mean slow-laminating\?"
    ):
        workshop.resin("slow-laminatin")
    with pytest.raises(
        InputError,
        match=r"plan: is not in .*sessions \(Turing\) - did you mean touring-skis\?",
    ):
        workshop.plan("Turing")


def test_a_far_miss_lists_what_there_is(workshop):
    with pytest.raises(InputError, match=r"\(zzz\) - known are casting-urethane, dgeba-ipda, dgeba-teta, fast-lam"):
        workshop.resin("zzz")
    (workshop.sessions_folder / "touring-skis" / "plan.toml").unlink()
    with pytest.raises(InputError, match=r"\(zzz\) - there are none"):
        workshop.session_path("zzz")


@pytest.mark.parametrize("name", ["no/such.toml", "such.toml"])
def test_a_path_that_is_not_there_is_a_storage_error(workshop, name):
    with pytest.raises(StorageError, match=r"resin: is not there \(.*such.toml\) - check the path"):
        workshop.resin(name)
    with pytest.raises(StorageError, match=r"plan: is not there \(.*such.toml\) - check the path"):
        workshop.plan(name)


def test_a_folder_without_a_session_is_a_storage_error(workshop):
    with pytest.raises(StorageError, match=r"session: is no folder with a plan or a journal \(.*resins\)"):
        workshop.session_path(str(workshop.resins_folder))


def test_a_session_without_a_plan_says_so(workshop):
    folder = workshop.sessions_folder / "2024-03-01-skis"
    folder.mkdir()
    (folder / "journal.jsonl").touch()
    with pytest.raises(StorageError, match=r"plan: is not there \(.*2024-03-01-skis.plan.toml\)"):
        workshop.plan("2024-03-01-skis")


def test_a_folder_that_is_no_workshop_says_how_to_make_one(tmp_path):
    with pytest.raises(StorageError, match=r"resins: cannot be read .* or make one: layup new DIR"):
        Workshop(tmp_path).resins()
    with pytest.raises(StorageError, match=r"sessions: cannot be read .* or make one: layup new DIR"):
        Workshop(tmp_path).sessions()


def test_a_broken_resin_is_left_out_of_the_list_and_told_when_it_is_asked_for(workshop):
    path = break_file(workshop.resins_folder / "slow-laminating.toml", "hardener = 30", "hardener = 0")
    assert "slow-laminating" not in workshop.resins()
    with pytest.raises(FileError, match=r"slow-laminating.toml:20: ratio.hardener: is out of range \(0\)") as caught:
        workshop.resin("slow-laminating")
    assert caught.value.exit_code == 2
    assert [problem.file for problem in caught.value.problems] == [str(path)]


def test_a_broken_plan_tells_all_its_problems(workshop):
    path = break_file(workshop.plan_path("touring-skis"), "pieces = 2", "pieces = 0")
    break_file(path, 'resin = "casting-urethane"', 'resin = "casting"')
    with pytest.raises(FileError, match=r"plan.toml:4: pieces: is out of range"):
        workshop.plan("touring-skis")
    break_file(path, "pieces = 0", "pieces = 2")
    with pytest.raises(FileError, match=r"resin: is not in resins/ \(casting\) - did you mean casting-urethane\?"):
        workshop.plan("touring-skis")


def test_a_whole_workshop_is_checked_at_once(workshop):
    assert workshop.check() == []
    resin = break_file(workshop.resins_folder / "fast-laminating.toml", 'by = "weight"', 'by = "wait"')
    plan = break_file(workshop.plan_path("touring-skis"), 'resin = "slow-laminating"', 'resin = "slow"')
    (workshop.resins_folder / "notes.txt").write_text("[")
    assert [(problem.file, problem.key) for problem in workshop.check()] == [
        (str(resin), "ratio.by"),
        (str(plan), "resin"),
    ]
    assert [problem.file for problem in workshop.check([plan])] == [str(plan)]
    assert [problem.file for problem in workshop.check([workshop.resins_folder])] == [str(resin)]


def test_a_sessions_copy_of_its_resin_is_checked_as_a_resin(workshop):
    folder = workshop.sessions_folder / "touring-skis"
    text = (workshop.resins_folder / "slow-laminating.toml").read_text(encoding="utf-8")
    (folder / "resin.toml").write_text(text, encoding="utf-8")
    assert workshop.check() == []
    break_file(folder / "resin.toml", "hardener = 30", "hardener = 50")
    [problem] = workshop.check()
    assert problem.warning
    assert problem.key == "ratio"


def test_journals_are_checked_by_whoever_knows_them(workshop):
    journal = workshop.sessions_folder / "touring-skis" / "journal.jsonl"
    journal.touch()
    torn = Problem(str(journal), 1, "", "is torn")
    assert workshop.check(check_journal=lambda path: [torn] if path == journal else []) == [torn]
    assert workshop.check([journal], check_journal=lambda _: [torn]) == [torn]
    assert workshop.check() == []


def test_a_file_to_check_that_is_not_there_is_a_storage_error(workshop):
    with pytest.raises(StorageError, match=r"file: is not there \(.*none.toml\) - check the path"):
        workshop.check([workshop.root / "none.toml"])


def test_an_unreadable_file_is_a_storage_error(workshop, monkeypatch):
    def refuse(*_args, **_kwargs):
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr("layup.files.toml.os.open", refuse)
    with pytest.raises(
        StorageError, match=r"cannot be read \(Permission denied\) - check the name and the permissions"
    ):
        workshop.resin("slow-laminating")


def test_a_plan_that_is_not_there_lists_those_that_are_the_likeliest_first(workshop):
    for number in range(12):
        (workshop.sessions_folder / f"board-{number:02}").mkdir()
        (workshop.sessions_folder / f"board-{number:02}" / "plan.toml").touch()
    here = r"there are touring-skis, (board-\d\d, ){6}board-\d\d and 5 more$"
    with pytest.raises(InputError, match=here):
        workshop.plan_path("tourers")
    here = r"did you mean board-10\? there are also board-00, .* and 4 more$"
    with pytest.raises(InputError, match=here):
        workshop.plan_path("board-100")

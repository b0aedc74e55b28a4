"""What was seen of a batch ends its life, in the review and in the lessons: also what it was lost as."""

import json
from collections.abc import Callable
from dataclasses import replace
from math import log, sqrt
from pathlib import Path
from typing import get_args

import numpy as np
import pytest
from scipy.stats import norm
from simulate.mishaps import MINUTE, with_events
from simulate.shop import Day, Script, press_day, workshop

from layup import cli
from layup.chemistry.calibration import calibrate
from layup.chemistry.kinetics import Kinetics
from layup.chemistry.looks import ALL, EARLY, FELT, LOOKS, PAST, FeltWord, LookWord, ToldWord
from layup.chemistry.observation import OBSERVED_LOG_SD, learn
from layup.chemistry.prediction import Vessel
from layup.chemistry.stages import Stage, follow
from layup.chemistry.uncertainty import AS_SAID, Use
from layup.files.workshop import Workshop, demo_root
from layup.review.resin_lessons import seen_in
from layup.session.archive import stored_session
from layup.session.batch_events import BatchLost, BatchPouredOut, Observation
from layup.session.lifetimes import learnt_today
from layup.session.state import Event
from layup.session.told import HEARD, WORST

SHEET = Workshop(demo_root()).resin("slow-laminating")
STATED = calibrate(SHEET)
COOL = Day()
"""A cup lives about an hour on such a day."""


def test_each_word_for_a_look_but_that_of_a_fresh_mix_says_what_is_past_by_then():
    """So that a word that is added ends a life, asks for the rescue, is drawn as itself and asked for by a trial."""
    assert [*LOOKS] == [*get_args(LookWord)]
    assert [word for word in LOOKS if word not in PAST] == ["runny"]
    shares = [look.share for look in LOOKS.values()]
    assert [0.0, *sorted(shares[1:-1]), 1.0] == shares
    past = [(len(look.past_in_cup), len(look.past_on_part)) for look in LOOKS.values()]
    assert past == sorted(past), "what comes later has more behind it"
    assert all(cup >= part for cup, part in past), "a film lasts no less than a cup"
    ends = {edges for look in LOOKS.values() for edges in (look.past_in_cup, look.past_on_part)}
    assert ends <= {(), EARLY, ALL}
    assert len({look.letter for look in LOOKS.values()}) == len(LOOKS)
    assert all(LOOKS[word].noted and LOOKS[word].timed for word in PAST)


def test_each_word_for_a_look_is_understood_when_told_and_ranked_among_those_of_a_hot_cup():
    assert [*FELT] == [*get_args(FeltWord)]
    assert [word for word in WORST if word in LOOKS] == [*LOOKS]
    assert sorted(WORST) == sorted(get_args(ToldWord))
    said = [*LOOKS.items(), *FELT.items()]
    assert {(word, HEARD[one]) for word, each in said for one in each.told} == {(word, word) for word in WORST}
    assert {word for word in WORST if HEARD.get(word) != word} == set(), "the word itself is understood"


def only(script: Script, *events: tuple[float, Event], batch: int = 1) -> Script:
    """Return the script with one batch's looks and its end told anew: times in minutes after its first contact."""
    kept = tuple(
        (at_s, event)
        for at_s, event in script.events
        if getattr(event, "batch", 0) != batch or event.event in ("batch-mixed", "pour-read")
    )
    contact_s = script.contact_s[batch]
    return with_events(
        replace(script, events=kept), *((contact_s + at_min * MINUTE, event) for at_min, event in events)
    )


def gelled_in_its_cup(script: Script) -> Script:
    return only(script, (38.0, BatchLost(batch=1, why="gelled in the cup", laid_g=0.0)))


def stringy_and_used(script: Script) -> Script:
    return only(script, (16.0, Observation(batch=1, word="stringy")), (18.0, BatchPouredOut(batch=1)))


@pytest.fixture
def layup(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> Callable[..., dict]:
    """Return what runs a command on a workshop with one session in which `mishap` happened."""

    def run(mishap: Callable[[Script], Script], *words: str) -> dict:
        root = tmp_path / mishap.__name__
        folder = press_day(workshop(root), day=COOL, mishap=mishap, seed=3)
        asked = [folder.name if word == "SESSION" else word for word in words]
        assert cli.main([*asked, "--workshop", str(root), "--json"]) == 0
        return json.loads(capsys.readouterr().out)

    return run


def test_a_batch_lost_as_gelled_is_a_finding_with_a_true_spare(layup) -> None:
    said = layup(gelled_in_its_cup, "review", "SESSION")
    (found,) = [one for one in said["findings"] if one["cause"] == "past thickening"]
    assert found["words"] == "Batch 1 was in its cup for 38 min, gelled by then, and was lost."
    assert found["certainty"] == "certain"
    assert [one["words"] for one in found["evidence"]][-1] == "batch 1 lost: gelled in the cup"
    assert "and came sooner" in found["effect"]
    (batch,) = [one for one in said["day"]["batches"] if one["number"] == 1]
    assert -15.0 * MINUTE < batch["cup_left_s"] <= 0.0, "nothing was to spare"
    assert batch["cup"][0] == pytest.approx(batch["lost_s"], abs=1.0)
    assert batch["cup_due"][0] > batch["cup"][0], "what was foretold stands beside it"


def test_a_batch_lost_as_gelled_teaches_that_its_life_was_not_later_over(layup) -> None:
    said = layup(gelled_in_its_cup, "learn")
    (resin,) = said["resins"]
    (look,) = [one for one in resin["seen"] if one["word"] == "gelled"]
    assert (look["when"], look["counted"]) == ("not later than", True)
    assert look["after_min"] == pytest.approx(38.0, abs=0.1)
    assert resin["observations"] >= 1
    assert resin["pot_life_factor"] < 0.95


def test_the_words_of_learn_name_the_batch_lost(layup, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    layup(gelled_in_its_cup, "learn")
    cli.main(["learn", "--detail", "--workshop", str(tmp_path / gelled_in_its_cup.__name__)])
    text = capsys.readouterr().out
    assert "no session tells how long a resin lives" not in text
    assert "a batch lost: gelled not later than 38 min, " in text


def test_a_batch_seen_stringy_is_past_thickening_because_of_when_it_was_seen(layup) -> None:
    said = layup(stringy_and_used, "review", "SESSION")
    (found,) = [one for one in said["findings"] if one["cause"] == "past thickening"]
    assert found["words"] == (
        "Batch 1 was in its cup for 18 min, 2 min past thickening because you saw it at 16 min (stringy)."
    )
    assert "Thickening was due " in found["effect"]
    assert " and came sooner: " in found["effect"]
    assert "batch 1 looks stringy" in [one["words"] for one in found["evidence"]]
    (batch,) = [one for one in said["day"]["batches"] if one["number"] == 1]
    assert batch["cup"][0] == pytest.approx(batch["emptied_s"] - 2 * MINUTE, abs=1.0)
    assert -10.0 * MINUTE < batch["cup_left_s"] <= -2.0 * MINUTE


def test_a_batch_that_gelled_on_the_part_and_was_given_up_is_a_finding(layup) -> None:
    def gelled_on_the_part(script: Script) -> Script:
        return only(script, (20.0, BatchPouredOut(batch=1)), (25.0, BatchLost(batch=1, why="gelled on the part")))

    found = {one["cause"]: one for one in layup(gelled_on_the_part, "review", "SESSION")["findings"]}
    late = found["closed late"]
    assert "Batch 1 was lost on the part, 25 min after it was mixed, gelled by then." in (late["words"], *late["also"])
    assert "batch 1 lost: gelled on the part" in [one["words"] for one in late["evidence"]]


def test_of_a_cup_that_gelled_when_all_was_laid_no_grams_are_told_to_be_lost(layup) -> None:
    def gelled_when_empty(script: Script) -> Script:
        return only(script, (38.0, BatchLost(batch=1, why="gelled in the cup")))

    (found,) = [
        one for one in layup(gelled_when_empty, "review", "SESSION")["findings"] if one["cause"] == "past thickening"
    ]
    assert found["words"] == "Batch 1 was in its cup for 38 min, gelled by then, and was lost."


@pytest.mark.parametrize("why", ["spilt", "off ratio", "other", "", "not gelled, but knocked over"])
def test_a_batch_lost_for_another_reason_tells_nothing_of_its_life(tmp_path: Path, why: str) -> None:
    root = workshop(tmp_path)
    kept = stored_session(
        press_day(root, day=COOL, mishap=lambda s: only(s, (38.0, BatchLost(batch=1, why=why))), seed=3)
    )
    assert [seen for seen in seen_in(kept.state, (100.0, 30.0)) if seen.not_later] == []


def test_a_lost_batch_shortens_the_clocks_of_the_others_the_same_day(tmp_path: Path) -> None:
    state = stored_session(press_day(workshop(tmp_path), day=COOL, mishap=gelled_in_its_cup, seed=3)).state
    today = learnt_today(state, STATED)
    assert today.cap is not None
    assert any(words.startswith("gelled came ") and words.endswith(" sooner than predicted") for words in today.words)


def test_what_was_seen_not_later_is_the_share_of_a_normal_before_it() -> None:
    """Moments of the posterior by quadrature of prior times likelihood (scipy.stats.norm), one unsure thing."""
    one = calibrate(SHEET)
    law = one.kinetics
    only_k = replace(one, variants=one.variants[:1], covariance=((1.0,),))
    stages = (Stage(Vessel.cup(), 0.0, 297.15),)

    def gels_s(k: Kinetics, use: Use = AS_SAID) -> float:
        return follow(k, stages, mass_g=use.mass_g(250.0), start_K=use.start_K(297.15)).gel_s

    by_use = (log(gels_s(law, high) / gels_s(law, low)) for low, high in one.uses)
    eye_sd = sqrt(OBSERVED_LOG_SD**2 + sum(slope**2 for slope in by_use))
    for share in (0.6, 0.9, 1.3):
        found = learn(only_k, "gelled", share * gels_s(law), stages, mass_g=250.0, start_K=297.15, not_later=True)
        low, high = only_k.variants[0]

        g = log(gels_s(high) / gels_s(low))
        z = np.linspace(-8.0, 8.0, 20_001)
        weight = norm.pdf(z) * norm.cdf((log(share) - g * z) / eye_sd)
        mean = float((z * weight).sum() / weight.sum())
        variance = float((z**2 * weight).sum() / weight.sum()) - mean**2
        assert found.calibration.covariance[0][0] == pytest.approx(variance, rel=0.02)
        moved = log(found.calibration.kinetics.k_ref_per_s / law.k_ref_per_s)
        step = log(high.k_ref_per_s / low.k_ref_per_s)
        assert moved == pytest.approx(step * mean, rel=0.03, abs=0.002)

"""What cure refuses, in a builder's words."""

import pytest

from layup.chemistry.cure import gel_conversion
from layup.chemistry.cure_course import Setting, set_on_part
from layup.chemistry.datasheet import CurePoint
from layup.chemistry.demould import demould_time_s
from layup.chemistry.glass import Glass, MakersClock, glass_transition_K
from layup.chemistry.heating import heated_mould, heating_plans, post_cure_ramp
from layup.chemistry.kinetics import Kinetics
from layup.errors import RangeError

HOUR = 3600.0
SLOW = Setting(Kinetics(3.2e-4), Glass(355.15))


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: gel_conversion(1, 4), r"groups a molecule \(f\): is out of range \(1\) - must be between 2 and 100"),
        (lambda: gel_conversion(2, 1), r"groups a molecule \(g\): is out of range"),
        (lambda: gel_conversion(2, 4, 1.2), r"ratio of groups \(r\).*scarcer groups over the others"),
        (lambda: gel_conversion(2, 4, 0.3), r"the mix never gels \(0.3\).*here 0.9 - check the mix ratio"),
        (lambda: glass_transition_K(1.1, 250.0, 350.0), "conversion: is out of range"),
        (lambda: glass_transition_K(0.5, 350.0, 340.0), "glass transition of the cured resin: is out of range"),
        (lambda: glass_transition_K(0.5, 250.0, 350.0, 0.0), r"shape \(lambda\): is out of range"),
        (lambda: Glass(350.0, half_rate_lead_K=60.0), "lead at half rate: is out of range"),
        (lambda: Glass(350.0).conversion_at(360.0), "glass transition: is out of range"),
    ],
)
def test_gel_and_glass_refuse_what_cannot_be(call, words):
    with pytest.raises(RangeError, match=words):
        call()


def test_demould_times_that_contradict_each_other_are_named():
    with pytest.raises(RangeError, match=r"warmer is not quicker \(6 h at 20 °C and 8 h at 40 °C\).*datasheet"):
        MakersClock((CurePoint(8 * HOUR, 313.15), CurePoint(6 * HOUR, 293.15)))


def test_two_demould_times_at_one_temperature_contradict_each_other():
    with pytest.raises(RangeError, match="each at its own temperature"):
        MakersClock((CurePoint(8 * HOUR, 293.15), CurePoint(6 * HOUR, 293.15)))


@pytest.mark.parametrize(("time_s", "kelvin"), [(0.0, 293.15), (HOUR, 700.0)])
def test_a_demould_statement_outside_reason_is_refused(time_s, kelvin):
    with pytest.raises(RangeError, match=r"demould (time|temperature): is out of range"):
        MakersClock((CurePoint(time_s, kelvin),))


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: set_on_part(SLOW, 293.15, until_s=0.0), "end of the course: is out of range"),
        (lambda: set_on_part(SLOW, 293.15, until_s=9.0, conversion_start=1.0), "conversion at the start"),
        (lambda: set_on_part(SLOW, (), until_s=9.0), "temperature history: is empty"),
        (lambda: set_on_part(SLOW, ((5.0, 290.0), (5.0, 291.0)), until_s=9.0), "does not run forward"),
        (lambda: set_on_part(SLOW, 293.15, until_s=9.0).at(10.0), "time on the part: is out of range"),
        (lambda: demould_time_s(SLOW, 20.0), "temperature: is out of range"),
    ],
)
def test_a_course_refuses_what_cannot_be(call, words):
    with pytest.raises(RangeError, match=words):
        call()


def ramp(**changes):
    asked = {"conversion_start": 0.8, "start_K": 293.15, "target_K": 333.15, "hold_s": HOUR} | changes
    return post_cure_ramp(SLOW, **asked)


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: heating_plans(SLOW, 280.0, by_s=60.0), "at least an hour from closing"),
        (lambda: heating_plans(SLOW, 280.0, by_s=HOUR, hourly_K=0.0), "warming in an hour: is out of range"),
        (lambda: heated_mould(290.0, 285.0, HOUR), "mould temperature: is out of range"),
        (lambda: heated_mould(290.0, 310.0, -1.0), "hold: is out of range"),
        (lambda: ramp(target_K=350.15), r"too close to the best glass transition.*at most 76 °C"),
        (lambda: ramp(target_K=290.0), "end of the post-cure: is out of range"),
        (lambda: ramp(hold_s=0.0), "hold: is out of range"),
        (lambda: ramp(ahead_K=50.0), "lead of the glass transition: is out of range"),
        (lambda: ramp(conversion_start=0.0, start_K=250.0), "waits longer than two days at -23 °C"),
    ],
)
def test_heating_refuses_what_cannot_be(call, words):
    with pytest.raises(RangeError, match=words):
        call()

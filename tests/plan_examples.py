"""Small invented plans, and clocks with closed forms, for tests of the planning layer."""

from dataclasses import dataclass, replace
from math import exp

from layup.chemistry.datasheet import Component, Datasheet, FilmPoint, PotLifePoint
from layup.chemistry.uncertainty import Band
from layup.planning.clocks import EMPTY_BY, Ageing, CupLife, Spread
from layup.planning.outline import Outline
from layup.planning.plan import (
    BondStep,
    CastStep,
    Closing,
    Crew,
    FabricStep,
    FibreTarget,
    Losses,
    PlaceStep,
    Plan,
    Scale,
)

SLOW = Datasheet(
    id="slow",
    title="Slow test resin",
    chemistry="epoxy-amine",
    resin=Component("resin", 1.15, 178.0),
    hardener=Component("hardener", 0.97, 53.0),
    ratio=(100.0, 30.0),
    ratio_by="weight",
    pot_lives=(PotLifePoint(2700.0, 150.0, 298.15),),
    films=(FilmPoint(9000.0, 298.15),),
    minimum_temperature_K=288.15,
    price_per_kg=20.0,
)
FAST = replace(
    SLOW,
    id="fast",
    title="Fast test resin",
    pot_lives=(PotLifePoint(720.0, 150.0, 298.15),),
    films=(FilmPoint(2700.0, 298.15),),
)

GLASS = FabricStep("lower glass", 600.0, 600.0, "E-glass", 2.54, 0.6, layers=2, price_per_m2=9.0)
STRIP = FabricStep("carbon strip", 240.0, 300.0, "carbon", 1.77, 0.55, width_m=0.06, overhang_m=0.0)
CORE = BondStep("core face", 300.0, "ash core face", 110.0, coverage=0.8, presealed_uptake_g_m2=40.0)
SEAT = PlaceStep("core in place", 180.0)
WALLS = CastStep("sidewalls", 900.0, "casting", 3e-4, pours=2)
BASE = PlaceStep("base in the mould", 240.0)
FILM = PlaceStep("release film", 120.0)

PLAN = Plan(
    title="test skis",
    resin_id="slow",
    pieces=2,
    crew=Crew(people=2, mixing_s=240.0),
    target=FibreTarget("weight", 0.6),
    outline=Outline(stations=((0.0, 0.06), (0.3, 0.12), (0.9, 0.09), (1.6, 0.11)), overhang_m=0.02, roll_width_m=1.27),
    steps=(WALLS, BASE, GLASS, CORE, SEAT, STRIP, replace(GLASS, name="upper glass"), FILM),
    losses=Losses(per_batch_g=20.0, squeeze_out=0.12),
    closing=Closing(bench_s=360.0),
    scale=Scale(readability_g=0.1),
    largest_cup_g=400.0,
)


@dataclass(frozen=True)
class FormulaClocks:
    """A cup lives `cup_s` at 100 g and shorter with mass; on the part, `film_s` less `ageing` of the time in the cup.

    `wobble` makes lives rise and fall with mass, as no resin does: a splitter must not rely on their order.
    """

    cup_s: float
    film_s: float
    ageing: float = 0.5
    power: float = 0.2
    wobble: float = 0.0
    heat_class: str = "warm"

    def _low_s(self, mass_g):
        return self.cup_s * (mass_g / 100.0) ** -self.power * (1.0 + self.wobble * ((mass_g * 7.3) % 1.0 - 0.5))

    def cup(self, mass_g):
        low = self._low_s(mass_g)
        return CupLife(Band(low, 1.25 * low, 1.5625 * low), self.heat_class)

    def limits_s(self, masses_g, held_s):
        share = EMPTY_BY[self.heat_class]
        return [
            (self._low_s(mass) * share, self._open_low_s(mass, held))
            for mass, held in zip(masses_g, held_s, strict=True)
        ]

    def _open_low_s(self, mass_g, held_s):
        low = self._low_s(mass_g)
        return self.film_s * (1.0 + self.wobble * ((mass_g * 3.1) % 1.0 - 0.5)) - self.ageing * min(held_s, low)

    def spread(self, mass_g):
        """Cup and part live a quarter longer than their low edges; both are unsure by the same 17.4 %."""
        cup, fresh = 1.25 * self._low_s(mass_g), 1.25 * self._open_low_s(mass_g, 0.0)
        aged = fresh - 1.25 * self.ageing * cup - cup

        def law(factor):
            return Ageing(factor * cup, (factor * fresh, factor * aged))

        return Spread((0.0, 1.0), law(1.0), ((law(exp(-0.087)), law(exp(0.087))),), ((1.0,),))

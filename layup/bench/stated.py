"""The settings of Stack that a plan states, and which dials stay turned once a plan was written anew."""

from __future__ import annotations

from dataclasses import fields, replace

from layup.planning.plan import Plan
from layup.planning.planner import Settings

USUAL_SHOP_K = 293.15
"""Taken for a shop of which nothing is said: 20 C; common practice, no source."""
OF_THE_SHOP = ("temperature_K", "relative_humidity")
"""The settings that are of the shop, whatever is pressed there."""


def shop_stated_K(plan: Plan) -> float | None:
    """Return the shop's temperature where its day is stated as one and the same; None for a course, or for none."""
    stated = {kelvin for _, kelvin in plan.forecast}
    return stated.pop() if len(stated) == 1 and len(plan.forecast) > 1 else None


def first_settings(plan: Plan) -> Settings:
    """Return the settings that a plan file itself states; a shop that it says nothing of is of usual warmth."""
    return Settings(
        resin_id=plan.resin_id,
        temperature_K=shop_stated_K(plan) or USUAL_SHOP_K,
        people=plan.crew.people,
        cup_g=plan.largest_cup_g,
        fraction=plan.target.value,
    )


def still_turned(turned: Settings, before: Plan, now: Plan, *, same: bool) -> Settings:
    """Return what a plan states, under the dials as they were `turned` over one before it.

    Of the `same` plan each dial stays that its file says no other of. Another one is made in the same shop: the shop's
    warmth stays, unless that plan states its own, and its humidity.
    """
    first, then = first_settings(before), first_settings(now)
    if same:
        kept = [each.name for each in fields(Settings) if getattr(first, each.name) == getattr(then, each.name)]
    else:
        kept = list(OF_THE_SHOP if shop_stated_K(now) is None else OF_THE_SHOP[1:])
    return replace(then, **{name: getattr(turned, name) for name in kept})

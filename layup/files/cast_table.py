"""The castings of a plan file: a channel or a volume, its pours and colours, and how the core is made ready."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from layup.chemistry.casting import DRY_WOOD
from layup.errors import InputError
from layup.files.fields import (
    A_KIND,
    CoreTable,
    FileModel,
    Flag,
    Length,
    Share,
    ShopTemperature,
    StepBase,
    Title,
    Volume,
    items,
    number,
    quantity,
)
from layup.planning.channel import Channel
from layup.planning.plan import ONE_VOLUME, CastingWork, CastStep

_Time = Annotated[float, quantity("time", high=86_400.0, inclusive=True)]
_Along = Annotated[float, quantity("length", high=100.0, inclusive=True)]
OVERFILL = 0.1
"""Poured into a channel beyond its brim, to be planed off (common practice, no source)."""


class ChannelTable(CoreTable):
    """The channel of a cast wall, along the outline."""

    width: Length = Field(examples=['"8 mm"'], description="of a channel, at its top")
    depth: Length = Field(examples=['"12 mm"'], description="of a channel")
    bottom: Length | None = Field(default=None, description="its width at the bottom, where its walls slope")
    offset: Annotated[float, quantity("length", low=-1.0, high=1.0, inclusive=True)] = Field(
        default=0.0, description="from the outline inwards to its near wall; below zero where it is cut over the edge"
    )
    sides: Literal["both", "one", "around"] = Field(
        default="both", description="along both long sides, one, or all around"
    )
    begin: _Along | None = Field(default=None, description="where it begins along the piece; without it, at its end")
    end: _Along | None = Field(default=None, description="where it ends; without it, at the other end")

    def core(self) -> Channel:
        """Return the channel as plain data of the core."""
        return Channel(self.width, self.depth, self.offset, self.sides, self.bottom, self.begin, self.end)


class JoinTable(FileModel):
    """When the next pour follows."""

    when: Literal["soft", "firm"] = Field(
        default="soft", description="on one still soft enough to join, or firm enough to stand"
    )
    earliest: _Time | None = Field(
        default=None, description="from when on, after the last pour; without it, as the model says"
    )
    latest: Annotated[float, quantity("time", high=86_400.0)] | None = Field(
        default=None, description="until when, beside earliest"
    )

    @property
    def window_s(self) -> tuple[float, float] | None:
        """Return the stated window, if there is one."""
        if (self.earliest is None) != (self.latest is None):
            raise InputError("join", "needs both ends", todo='write earliest = "0 min", latest = "8 min"')
        return None if self.earliest is None or self.latest is None else (self.earliest, self.latest)


class CastTable(StepBase):
    """Pours of a resin of their own."""

    kind: Literal["cast"] = A_KIND
    resin: Title = Field(examples=['"casting-urethane"'], description="the id of the casting resin")
    volume: Volume | None = Field(
        default=None, examples=['"60 ml"'], description="how much is cast on each piece, instead of a channel"
    )
    channel: ChannelTable | None = Field(default=None, description="the channel that it fills, instead of a volume")
    overfill: Share | None = Field(
        default=None, description="poured beyond that, to be planed off: without it 10 % of a channel, 0 of a volume"
    )
    loss: Annotated[float, quantity("mass", inclusive=True)] | None = Field(
        default=None, description="left in the cup of each pour; without it losses.per_batch"
    )
    pours: Annotated[int, number(low=1, high=100, inclusive=True, whole=True)] = Field(
        default=1, description="in how many pours at least"
    )
    join: JoinTable = Field(default=JoinTable(), description="when the next pour follows")
    before_press_day: Flag = Field(default=True, description="whether it is poured on an earlier day")
    pigment: Title = Field(default="", description="the pigment, in words")
    pigment_to: Title = Field(default="", description="the pigment of the last pour, to which the colour fades")
    pigments: Annotated[tuple[Title, ...], items(20)] = Field(
        default=(), description="several, in the order in which they are poured, instead of pigment"
    )
    fade: Flag | None = Field(
        default=None, description="of several pigments: whether the colour fades from one to the next"
    )
    loading: Share | None = Field(default=None, description="pigment, as a share of the mass")
    loading_limit: Share | None = Field(default=None, description="the most that the resin's maker allows")

    def core(self) -> CastStep:
        """Return the step."""
        if self.pigments and (self.pigment or self.pigment_to):
            raise InputError("pigments", "is given beside pigment", todo="keep one of them")
        if self.volume is None and self.channel is None:
            raise InputError("kind", "needs a volume or a channel", value="cast", todo=ONE_VOLUME)
        if self.volume is not None and self.channel is not None:
            raise InputError("channel", "is given beside volume", todo="keep one of them")
        if self.pigment_to and (not self.pigment or self.loading is None or self.pours < 2):
            todo = "state pigment, loading and pours"
            raise InputError("pigment_to", "needs a first pigment, a loading and two pours or more", todo=todo)
        overfill = 0.0 if self.channel is None else OVERFILL
        return CastStep(
            name=self.name,
            bench_s=self.bench_s,
            resin_id=self.resin,
            volume_m3=self.volume,
            pours=self.pours,
            before_press_day=self.before_press_day,
            pigments=self.pigments or tuple(filter(None, (self.pigment, self.pigment_to))),
            fade=bool(self.pigment_to) if self.fade is None else self.fade,
            loading=self.loading,
            loading_limit=self.loading_limit,
            channel=self.channel.core() if self.channel else None,
            overfill=overfill if self.overfill is None else self.overfill,
            loss_g=self.loss,
            join=self.join.when,
            join_s=self.join.window_s,
        )


class CastingTable(CoreTable):
    """How a core is made ready for its castings."""

    core_temperature: ShopTemperature | None = Field(
        default=None, description="how warm the core is to be before it is sealed and poured; without it, as the shop"
    )
    core_moisture: Share = Field(default=DRY_WOOD, description="water over dry mass that the core may hold")
    warm: _Time = Field(default=900.0, description="how long warming and drying the core takes")
    seal: _Time = Field(default=600.0, description="how long sealing the channel takes")
    seal_wait: _Time | None = Field(
        default=None, description="how long the sealer dries; without it nobody counts: as its maker says"
    )
    tape: _Time = Field(default=900.0, description="how long taping and levelling the core takes")

    def core(self) -> CastingWork:
        """Return the work as plain data of the core."""
        return CastingWork(self.core_temperature, self.core_moisture, self.warm, self.seal, self.tape, self.seal_wait)

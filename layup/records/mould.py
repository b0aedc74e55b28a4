"""What the mould went through under press, as far as the log tells."""

from __future__ import annotations

from layup.chemistry.history import History
from layup.planning.overnight import no_warmer
from layup.records.state import SessionState


def mould_since(state: SessionState, closed_s: float) -> History:
    """Return the mould's temperatures, no warmer than read, over seconds since closing; the shop's until its first."""
    mould = state.mould
    shop = tuple(point for point in state.air if not mould or point[0] < mould[0][0])
    return no_warmer(tuple((at_s - closed_s, kelvin) for at_s, kelvin in (*shop, *mould)))

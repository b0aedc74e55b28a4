"""Closed lines from drawings: do they cross themselves?"""

from __future__ import annotations

from collections.abc import Sequence

Point = tuple[float, float]
Edge = tuple[Point, Point]


def crossing(edges: Sequence[Edge]) -> Point | None:
    """Find where a closed line meets itself.

    Parameters
    ----------
    edges : Sequence[Edge]
        The line's edges in order, each beginning where the one before ends [m]

    Returns
    -------
    Point | None
        The start of an edge that meets one that is not its neighbour, or lies back on its neighbour; None for a line
        that encloses one piece [m]

    Notes
    -----
    Edges are swept along x, so that only those that overlap in x are compared.

    Examples
    --------
    >>> square = [((0.0, 0.0), (1.0, 0.0)), ((1.0, 0.0), (1.0, 1.0)), ((1.0, 1.0), (0.0, 0.0))]
    >>> crossing(square) is None
    True
    """
    count = len(edges)
    order = sorted(range(count), key=lambda i: min(edges[i][0][0], edges[i][1][0]))
    alive: list[int] = []
    for i in order:
        left = min(edges[i][0][0], edges[i][1][0])
        alive = [j for j in alive if max(edges[j][0][0], edges[j][1][0]) >= left]
        for j in alive:
            near = abs(i - j) in (1, count - 1)
            if _doubles_back(edges[min(i, j)], edges[max(i, j)]) if near else _meet(edges[i], edges[j]):
                return edges[i][0]
        alive.append(i)
    return None


def _side(a: Point, b: Point, p: Point) -> float:
    """Return above zero if `p` lies left of the line from `a` to `b`, below zero if right of it."""
    return (b[0] - a[0]) * (p[1] - a[1]) - (b[1] - a[1]) * (p[0] - a[0])


def _between(a: Point, b: Point, p: Point) -> bool:
    """Return whether `p`, on the line of `a` and `b`, lies between them."""
    return min(a[0], b[0]) <= p[0] <= max(a[0], b[0]) and min(a[1], b[1]) <= p[1] <= max(a[1], b[1])


def _meet(one: Edge, other: Edge) -> bool:
    """Return whether two edges have a point in common."""
    (a, b), (c, d) = one, other
    s1, s2, s3, s4 = _side(a, b, c), _side(a, b, d), _side(c, d, a), _side(c, d, b)
    if s1 * s2 < 0.0 and s3 * s4 < 0.0:
        return True
    touching = ((s1, a, b, c), (s2, a, b, d), (s3, c, d, a), (s4, c, d, b))
    return any(side == 0.0 and _between(p, q, r) for side, p, q, r in touching)


def _doubles_back(one: Edge, other: Edge) -> bool:
    """Return whether two neighbouring edges lie on each other."""
    (a, b), (c, d) = one, other
    if b != c:  # the ring's last edge meets its first
        (a, b), (c, d) = (c, d), (a, b)
    if _side(a, b, d) != 0.0:
        return False
    return (b[0] - a[0]) * (d[0] - b[0]) + (b[1] - a[1]) * (d[1] - b[1]) < 0.0

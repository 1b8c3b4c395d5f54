"""Outlines: lists of points in picture coordinates (x right, y down)."""

import math
from collections.abc import Sequence

Point = tuple[float, float]
Points = Sequence[Point]


def box(x0: float, y0: float, x1: float, y1: float) -> list[Point]:
    """The corners of an upright rectangle, clockwise from the upper left."""
    return [(x0, y0), (x1, y0), (x1, y1), (x0, y1)]


def oval(cx: float, cy: float, rx: float, ry: float | None = None, *, turn: float = 0) -> list[Point]:
    """An ellipse; turn in degrees, clockwise."""
    ry = rx if ry is None else ry
    c, s = math.cos(math.radians(turn)), math.sin(math.radians(turn))
    ring = [(rx * math.cos(a / 24 * math.pi), ry * math.sin(a / 24 * math.pi)) for a in range(48)]
    return [(cx + x * c - y * s, cy + x * s + y * c) for x, y in ring]


def arc(cx: float, cy: float, r: float, start: float, end: float, *, squash: float = 1) -> list[Point]:
    """Points along a circle from start to end degrees (0 right, 90 down)."""
    steps = max(4, int(abs(end - start) / 6))
    angles = [math.radians(start + (end - start) * i / steps) for i in range(steps + 1)]
    return [(cx + r * math.cos(a), cy + r * squash * math.sin(a)) for a in angles]


def rounded(points: Points, radius: float) -> list[Point]:
    """The polygon with its corners taken off in a curve."""
    out: list[Point] = []
    for i, corner in enumerate(points):
        before, after = points[i - 1], points[(i + 1) % len(points)]
        start, end = _towards(corner, before, radius), _towards(corner, after, radius)
        for step in range(7):
            t = step / 6
            a, b, c = (1 - t) ** 2, 2 * t * (1 - t), t * t
            out.append((a * start[0] + b * corner[0] + c * end[0], a * start[1] + b * corner[1] + c * end[1]))
    return out


def curve(points: Points, *, closed: bool = False, steps: int = 10) -> list[Point]:
    """A smooth line through all points."""
    n = len(points)
    out: list[Point] = []
    for i in range(n if closed else n - 1):
        p0, p1, p2, p3 = (points[_index(i + k, n, closed)] for k in (-1, 0, 1, 2))
        for step in range(steps):
            t = step / steps
            out.append((_between(p0[0], p1[0], p2[0], p3[0], t), _between(p0[1], p1[1], p2[1], p3[1], t)))
    return out if closed else [*out, points[-1]]


def moved(points: Points, dx: float, dy: float) -> list[Point]:
    """The outline shifted."""
    return [(x + dx, y + dy) for x, y in points]


def turned(points: Points, degrees: float, about: Point) -> list[Point]:
    """The outline turned clockwise about a point."""
    c, s = math.cos(math.radians(degrees)), math.sin(math.radians(degrees))
    ax, ay = about
    return [(ax + (x - ax) * c - (y - ay) * s, ay + (x - ax) * s + (y - ay) * c) for x, y in points]


def grown(points: Points, factor: float) -> list[Point]:
    """The outline scaled about its middle."""
    mx, my = sum(x for x, _ in points) / len(points), sum(y for _, y in points) / len(points)
    return [(mx + (x - mx) * factor, my + (y - my) * factor) for x, y in points]


def bounds(points: Points, margin: float = 0) -> tuple[int, int, int, int]:
    """Whole-number box around the outline: left, upper, right, lower."""
    xs, ys = [x for x, _ in points], [y for _, y in points]
    return (
        math.floor(min(xs) - margin),
        math.floor(min(ys) - margin),
        math.ceil(max(xs) + margin) + 1,
        math.ceil(max(ys) + margin) + 1,
    )


def _towards(a: Point, b: Point, by: float) -> Point:
    length = math.dist(a, b) or 1.0
    t = min(0.5, by / length)
    return a[0] + (b[0] - a[0]) * t, a[1] + (b[1] - a[1]) * t


def _index(i: int, n: int, closed: bool) -> int:
    return i % n if closed else min(max(i, 0), n - 1)


def _between(a: float, b: float, c: float, d: float, t: float) -> float:
    return 0.5 * (2 * b + (c - a) * t + (2 * a - 5 * b + 4 * c - d) * t**2 + (3 * b - a - 3 * c + d) * t**3)

"""Arrows, circles and scale bars over a picture, as PDF path operators.

Each line is drawn twice, wide and white, then narrow and dark, so that it stands out on any picture and by no colour of its own.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

from shopdocs.documents.press.facts import PhotoMark

PARTS = 10_000
Box = tuple[float, float, float, float]
Point = tuple[float, float]
HALO, INK = (1.0, 3.4), (0.0, 1.4)
HEAD, TICK = 7.5, 4.0
ROUND = 0.5523  # of the radius: where the handles of a quarter circle stand


def strokes(marks: Sequence[PhotoMark], box: Box) -> str:
    """The operators that draw `marks` over a picture at `box` (x, y, width, height in points); '' without marks."""
    if not marks:
        return ""
    paths = [_PATHS[mark.kind](_at(mark.x1, mark.y1, box), _at(mark.x2, mark.y2, box)) for mark in marks]
    told = []
    for grey, width in (HALO, INK):
        told.append(f"{grey:g} G {width:g} w")
        told += [f"{path} S" for path in paths]
    return "\n".join(told)


def _at(x: int, y: int, box: Box) -> Point:
    """From the picture's ten-thousandths, downwards, to points of the page, upwards."""
    return box[0] + x / PARTS * box[2], box[1] + (1 - y / PARTS) * box[3]


def _line(*points: Point) -> str:
    first, *rest = points
    return " ".join([f"{first[0]:.2f} {first[1]:.2f} m", *(f"{x:.2f} {y:.2f} l" for x, y in rest)])


def _arrow(tail: Point, tip: Point) -> str:
    away = math.atan2(tail[1] - tip[1], tail[0] - tip[0])
    barbs = [(tip[0] + HEAD * math.cos(away + turn), tip[1] + HEAD * math.sin(away + turn)) for turn in (0.45, -0.45)]
    return f"{_line(tail, tip)} {_line(barbs[0], tip, barbs[1])}"


def _circle(centre: Point, edge: Point) -> str:
    x, y = centre
    r = max(math.dist(centre, edge), 2.0)
    k = r * ROUND
    curves = (
        (x + r, y + k, x + k, y + r, x, y + r),
        (x - k, y + r, x - r, y + k, x - r, y),
        (x - r, y - k, x - k, y - r, x, y - r),
        (x + k, y - r, x + r, y - k, x + r, y),
    )
    return " ".join([f"{x + r:.2f} {y:.2f} m", *(" ".join(f"{v:.2f}" for v in one) + " c" for one in curves), "h"])


def _scale(one: Point, two: Point) -> str:
    along = math.atan2(two[1] - one[1], two[0] - one[0])
    up = (-TICK * math.sin(along), TICK * math.cos(along))

    def tick(end: Point) -> str:
        return _line((end[0] + up[0], end[1] + up[1]), (end[0] - up[0], end[1] - up[1]))

    return f"{_line(one, two)} {tick(one)} {tick(two)}"


_PATHS = {"arrow": _arrow, "circle": _circle, "scale": _scale}

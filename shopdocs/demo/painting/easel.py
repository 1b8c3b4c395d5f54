"""A painter's kit that makes flat drawings look like photographs taken in a workshop.

Everything random comes from one seeded generator, so a picture can be painted again bit for bit.
"""

import math
import random
from collections.abc import Callable
from pathlib import Path

import font_source_sans_pro
from PIL import Image, ImageChops, ImageDraw, ImageFilter, ImageFont

from .shapes import Point, Points, bounds, curve, moved, oval

WIDTH, HEIGHT = 1600, 1200
Colour = tuple[int, int, int]
Profile = Callable[[float], float]

BLACK, RUBBER, STEEL, ALLOY, WHITE = (24, 25, 27), (44, 45, 48), (128, 133, 138), (176, 180, 182), (236, 236, 232)
RUST, SOOT, BRASS, OIL = (128, 66, 30), (22, 18, 15), (186, 150, 80), (30, 22, 14)

FONTS = Path(font_source_sans_pro.font_directory)


def flat(t: float) -> float:
    """Brightness across a flat face: lighter where the lamp is."""
    return 1.22 - 0.45 * t


def matte(t: float) -> float:
    """Brightness across a dull face."""
    return 1.08 - 0.2 * t


def tubular(t: float) -> float:
    """Brightness across a round bar: dark edges, a bright line off the middle."""
    return 0.5 + 0.75 * math.exp(-(((t - 0.34) / 0.22) ** 2)) + 0.12 * math.exp(-(((t - 0.9) / 0.1) ** 2))


def brushed(t: float) -> float:
    """Brightness along bright metal: several soft bands."""
    return 0.95 + 0.2 * math.sin(t * 9.4 + 0.6) + 0.1 * math.sin(t * 23)


def font(size: float, weight: str = "Regular") -> ImageFont.FreeTypeFont:
    """Source Sans Pro in a weight: Regular, Semibold, Bold, Black, It."""
    path = FONTS / f"SourceSansPro-{weight}.ttf"
    return ImageFont.truetype(str(path), round(size), layout_engine=ImageFont.Layout.BASIC)


def tint(colour: Colour, factor: float) -> Colour:
    """The colour made darker (below 1) or lighter, still within 0 to 255."""
    r, g, b = (min(255, max(0, round(v * factor))) for v in colour)
    return r, g, b


def mix(one: Colour, other: Colour, share: float) -> Colour:
    """The colour that lies share of the way from one to the other."""
    r, g, b = (round(a + (c - a) * share) for a, c in zip(one, other, strict=True))
    return r, g, b


class Easel:
    """One picture on its way. rng: the only source of chance. image: what is painted so far."""

    def __init__(self, ground: Image.Image, rng: random.Random) -> None:
        self.image, self.rng = ground, rng
        self.draw = ImageDraw.Draw(ground)

    def fill(
        self, points: Points, colour: Colour, profile: Profile = flat, *, angle: float = 60, edge: float = 3
    ) -> None:
        """Fills an outline with a colour lit by profile along angle (degrees, 90 is downwards)."""
        frame = self._frame(points)
        if frame is None:
            return
        size = (frame[2] - frame[0], frame[3] - frame[1])
        ramp = _ramp(size, angle)
        bands = [ramp.point([min(255, max(0, round(c * profile(i / 255)))) for i in range(256)]) for c in colour]
        self.image.paste(Image.merge("RGB", bands), frame[:2], self._mask(points, frame))
        if edge:
            self.draw.line([*points, points[0]], fill=tint(colour, 0.45), width=round(edge), joint="curve")
            self._rim(points, edge, (frame[1] + frame[3]) / 2)

    def ball(self, points: Points, colour: Colour, *, shine: float = 1.45, deep: float = 0.4) -> None:
        """Fills an outline as if it bulged towards the camera, lit from the upper left."""
        frame = self._frame(points)
        if frame is None:
            return
        size = (frame[2] - frame[0], frame[3] - frame[1])
        dome = Image.radial_gradient("L").transform(
            size, Image.Transform.AFFINE, (150 / size[0], 0, 60, 0, 150 / size[1], 66), Image.Resampling.BILINEAR
        )
        span = shine - deep
        bands = [
            dome.point([min(255, max(0, round(c * (shine - span * i / 190)))) for i in range(256)]) for c in colour
        ]
        self.image.paste(Image.merge("RGB", bands), frame[:2], self._mask(points, frame))

    def tube(self, path: Points, width: float, colour: Colour, *, smooth: bool = True, gloss: float = 1.5) -> None:
        """A round hose, handle or bar along a path, lit from above."""
        line = curve(path) if smooth else list(path)
        steps = 7
        for step in range(steps):
            share = step / (steps - 1)
            shade = tint(colour, 0.42 + (gloss - 0.42) * share**1.6)
            lift = -width * 0.2 * share
            thick = max(1, round(width * (1 - share) ** 0.8 * 0.96 + 2))
            here = moved(line, lift * 0.6, lift)
            self.draw.line(here, fill=shade, width=thick, joint="curve")
            for x, y in (here[0], here[-1]):
                self.draw.ellipse((x - thick / 2, y - thick / 2, x + thick / 2, y + thick / 2), fill=shade)

    def shadow(self, points: Points, dx: float = 26, dy: float = 34, *, blur: float = 26, depth: float = 0.6) -> None:
        """A soft shadow on whatever lies below."""
        self.veil(moved(points, dx, dy), (12, 10, 8), depth, blur=blur)

    def veil(self, points: Points, colour: Colour, strength: float, *, blur: float = 0) -> None:
        """Lays a see-through colour over an outline; blur in pixels softens its edge."""
        frame = self._frame(points, blur * 2.5)
        if frame is None:
            return
        scale = 6 if blur >= 12 else 3 if blur >= 5 else 1
        width, height = max(1, (frame[2] - frame[0]) // scale), max(1, (frame[3] - frame[1]) // scale)
        mask = Image.new("L", (width, height))
        local = [((x - frame[0]) / scale, (y - frame[1]) / scale) for x, y in points]
        ImageDraw.Draw(mask).polygon(local, fill=round(255 * strength))
        if blur:
            mask = mask.filter(ImageFilter.GaussianBlur(blur / scale))
        mask = mask.resize((frame[2] - frame[0], frame[3] - frame[1]), Image.Resampling.BILINEAR)
        self.image.paste(colour, frame, mask)

    def specks(self, points: Points, colour: Colour, count: int, size: float, *, strength: float = 0.8) -> None:
        """Dirt, rust or dust: blots of random size within an outline."""
        frame = self._frame(points)
        if frame is None:
            return
        size, scale = size / 2, 2  # blots are soft: painted at half size nobody sees it
        width, height = (frame[2] - frame[0]) // scale + 1, (frame[3] - frame[1]) // scale + 1
        blots = Image.new("L", (width, height))
        pen = ImageDraw.Draw(blots)
        for _ in range(count):
            x, y, r = self.rng.uniform(0, width), self.rng.uniform(0, height), size * self.rng.uniform(0.2, 1) ** 2
            shade = round(255 * strength * self.rng.uniform(0.4, 1))
            pen.ellipse((x - r, y - r * self.rng.uniform(0.6, 1), x + r, y + r), fill=shade)
        blots = blots.filter(ImageFilter.GaussianBlur(max(0.5, size / 7)))
        mask = self._mask(points, frame)
        self.image.paste(colour, frame, ImageChops.multiply(blots.resize(mask.size, Image.Resampling.BILINEAR), mask))

    def crack(
        self, start: Point, end: Point, *, width: float = 7, wander: float = 18, light: Colour = (230, 220, 200)
    ) -> None:
        """A jagged split: dark inside, one lit edge."""
        steps = 9
        path = []
        for i in range(steps + 1):
            t = i / steps
            stray = wander * math.sin(t * math.pi) ** 0.4 if 0 < i < steps else 0
            path.append(
                (
                    start[0] + (end[0] - start[0]) * t + self.rng.uniform(-stray, stray),
                    start[1] + (end[1] - start[1]) * t + self.rng.uniform(-stray, stray),
                )
            )
        self.draw.line(
            moved(path, width * 0.5, width * 0.5), fill=light, width=max(2, round(width * 0.5)), joint="curve"
        )
        for (x0, y0), (x1, y1), i in zip(path, path[1:], range(steps), strict=False):
            self.draw.line((x0, y0, x1, y1), fill=BLACK, width=max(2, round(width * (1.1 - i / steps * 0.8))))

    def screw(self, x: float, y: float, r: float = 22, colour: Colour = STEEL, *, turn: float = 30) -> None:
        """A screw head with a six-sided socket."""
        self.veil(oval(x + r * 0.25, y + r * 0.3, r * 1.1), BLACK, 0.55, blur=r * 0.25)
        self.ball(oval(x, y, r), colour)
        six = [
            (x + r * 0.5 * math.cos(math.radians(turn + 60 * i)), y + r * 0.5 * math.sin(math.radians(turn + 60 * i)))
            for i in range(6)
        ]
        self.draw.polygon(six, fill=tint(colour, 0.25))
        self.draw.line([six[1], six[2], six[3]], fill=tint(colour, 0.7), width=2)

    def slots(self, x0: float, y0: float, x1: float, y1: float, count: int, *, slant: float = 0) -> None:
        """A row of upright cooling slots within a box."""
        step = (x1 - x0) / count
        for i in range(count):
            x = x0 + step * (i + 0.25)
            bar = [(x + slant, y0), (x + slant + step * 0.5, y0), (x + step * 0.5, y1), (x, y1)]
            self.draw.polygon(bar, fill=(16, 17, 18))
            self.draw.line((bar[1], bar[2]), fill=(150, 150, 150), width=2)

    def place(self, patch: Image.Image, quad: Points) -> None:
        """Lays a flat RGBA patch into four corners (clockwise from the upper left), in perspective."""
        frame = bounds(quad)
        size = (frame[2] - frame[0], frame[3] - frame[1])
        local = [(x - frame[0], y - frame[1]) for x, y in quad]
        corners = [(0.0, 0.0), (patch.width, 0.0), (patch.width, patch.height), (0.0, patch.height)]
        seen = patch.transform(
            size, Image.Transform.PERSPECTIVE, _perspective(local, corners), Image.Resampling.BILINEAR
        )
        self.image.paste(seen, frame[:2], seen.getchannel("A"))

    def words(self, x: float, y: float, text: str, size: float, colour: Colour, *, weight: str = "Bold") -> None:
        """Text with its middle at x, y."""
        self.draw.text((x, y), text, fill=colour, font=font(size, weight), anchor="mm")

    def _rim(self, points: Points, edge: float, middle: float) -> None:
        """The thin light along the upper edge of anything moulded."""
        low = next((i for i, point in enumerate(points) if point[1] > middle), 0)
        upper = [p for p in moved([*points[low:], *points[:low]], edge, edge) if p[1] < middle]
        if len(upper) > 1 and len(points) > 8:
            self.veil([*upper, *moved(upper[::-1], 0, edge)], (255, 255, 255), 0.22)

    def _frame(self, points: Points, margin: float = 0) -> tuple[int, int, int, int] | None:
        left, upper, right, lower = bounds(points, margin)
        frame = max(0, left), max(0, upper), min(self.image.width, right), min(self.image.height, lower)
        return frame if frame[0] < frame[2] and frame[1] < frame[3] else None

    @staticmethod
    def _mask(points: Points, frame: tuple[int, int, int, int]) -> Image.Image:
        mask = Image.new("L", (frame[2] - frame[0], frame[3] - frame[1]))
        ImageDraw.Draw(mask).polygon([(x - frame[0], y - frame[1]) for x, y in points], fill=255)
        return mask


def _ramp(size: tuple[int, int], angle: float) -> Image.Image:
    """Grey from 0 to 255 across size, rising along angle."""
    dx, dy = math.cos(math.radians(angle)), math.sin(math.radians(angle))
    span = abs(dx) * size[0] + abs(dy) * size[1]
    start = (size[0] if dx < 0 else 0) * -dx + (size[1] if dy < 0 else 0) * -dy
    scale = 254 / span
    into = (0, 0, 128, dx * scale, dy * scale, start * scale + 0.5)
    return Image.linear_gradient("L").transform(size, Image.Transform.AFFINE, into)


def _perspective(seen: Points, flat_corners: Points) -> tuple[float, ...]:
    """The eight figures that lead from a point of the picture back to the flat patch."""
    rows = []
    for (x, y), (u, v) in zip(seen, flat_corners, strict=True):
        rows.append([x, y, 1, 0, 0, 0, -u * x, -u * y, u])
        rows.append([0, 0, 0, x, y, 1, -v * x, -v * y, v])
    for i in range(8):
        pivot = max(range(i, 8), key=lambda r: abs(rows[r][i]))
        rows[i], rows[pivot] = rows[pivot], rows[i]
        rows[i] = [value / rows[i][i] for value in rows[i]]
        for j in range(8):
            if j != i:
                rows[j] = [a - rows[j][i] * b for a, b in zip(rows[j], rows[i], strict=True)]
    return tuple(row[8] for row in rows)

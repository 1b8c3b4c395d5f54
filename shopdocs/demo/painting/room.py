"""Where the photo is taken, and what camera and lamp do to it."""

import random

from PIL import Image, ImageChops, ImageDraw, ImageFilter

from .easel import HEIGHT, WIDTH, Colour, tint

_SMALL = (WIDTH // 4, HEIGHT // 4)


def covered(rng: random.Random) -> Image.Image:
    """Nothing: for close views that fill the frame themselves."""
    return Image.new("RGB", (WIDTH, HEIGHT))


def bench(rng: random.Random) -> Image.Image:
    """A worn wooden bench from above, out of focus."""
    ground = Image.new("RGB", _SMALL)
    draw = ImageDraw.Draw(ground)
    base = rng.choice([(150, 112, 76), (134, 104, 78), (162, 128, 92)])
    y = -20.0
    while y < _SMALL[1]:
        plank = rng.uniform(44, 64)
        shade = tint(base, rng.uniform(0.86, 1.1))
        draw.rectangle((0, y, _SMALL[0], y + plank), fill=shade)
        for _ in range(26):
            line, x = y + rng.uniform(0, plank), rng.uniform(-80, 380)
            draw.line(
                (x, line, x + rng.uniform(40, 240), line + rng.uniform(-3, 3)), fill=tint(shade, rng.uniform(0.84, 1.1))
            )
        draw.line((0, y, _SMALL[0], y), fill=tint(base, 0.45), width=2)
        y += plank
    _stains(draw, rng, tint(base, 0.7), 5)
    return _soft(ground, 0.9)


def steel_bench(rng: random.Random) -> Image.Image:
    """A sheet-steel bench with smears of light."""
    ground = Image.new("RGB", _SMALL, (122, 128, 134))
    draw = ImageDraw.Draw(ground)
    for _ in range(70):
        y, x, shade = rng.uniform(0, 300), rng.uniform(-100, 300), rng.randrange(104, 150)
        draw.line(
            (x, y, x + rng.uniform(60, 300), y + rng.uniform(-4, 4)),
            fill=(shade, shade + 4, shade + 8),
            width=rng.randrange(1, 5),
        )
    _stains(draw, rng, (92, 94, 96), 7)
    return _soft(ground, 2)


def mat(rng: random.Random) -> Image.Image:
    """A dark rubber mat: bright metal stands out on it."""
    base = rng.choice([(62, 72, 78), (70, 74, 70), (58, 66, 84)])
    ground = Image.new("RGB", _SMALL, base)
    draw = ImageDraw.Draw(ground)
    for x in range(-300, 700, 14):
        draw.line((x, 0, x + 150, 300), fill=tint(base, 0.88), width=2)
    _stains(draw, rng, tint(base, 1.18), 6)
    return _soft(ground, 1.2)


def floor(rng: random.Random) -> Image.Image:
    """Concrete floor before a wall with blurred shelves, for whole machines."""
    wall, ground_colour = rng.choice([(178, 182, 176), (170, 176, 186), (188, 180, 166)]), (136, 134, 130)
    ground = Image.new("RGB", _SMALL, wall)
    draw = ImageDraw.Draw(ground)
    for shelf in (26, 84):
        x = rng.uniform(-20, 10)
        while x < _SMALL[0]:
            width, height = rng.uniform(14, 44), rng.uniform(14, 44)
            colour = rng.choice(
                [(96, 92, 88), (150, 110, 70), (84, 104, 120), (120, 70, 60), (110, 120, 96), (190, 186, 176)]
            )
            draw.rectangle((x, shelf + 44 - height, x + width, shelf + 44), fill=colour)
            x += width + rng.uniform(2, 26)
        draw.rectangle((0, shelf + 44, _SMALL[0], shelf + 48), fill=tint(wall, 0.6))
    ground = ground.filter(ImageFilter.GaussianBlur(4))
    draw = ImageDraw.Draw(ground)
    draw.rectangle((0, 168, _SMALL[0], _SMALL[1]), fill=ground_colour)
    draw.rectangle((0, 164, _SMALL[0], 170), fill=tint(ground_colour, 0.72))
    for _ in range(240):
        x, y, r = rng.uniform(0, 400), rng.uniform(172, 300), rng.uniform(0.5, 2.4)
        draw.ellipse((x - r * 2, y - r, x + r * 2, y + r), fill=tint(ground_colour, rng.uniform(0.88, 1.1)))
    _stains(draw, rng, tint(ground_colour, 0.84), 4, upper=190)
    return _soft(ground, 1.4)


def engine_bay(rng: random.Random) -> Image.Image:
    """Dark castings and fins, far out of focus, for close views of a part in its place."""
    ground = Image.new("RGB", _SMALL, (58, 58, 60))
    draw = ImageDraw.Draw(ground)
    for _ in range(26):
        x, y, w, h = rng.uniform(-40, 400), rng.uniform(-40, 300), rng.uniform(30, 150), rng.uniform(20, 90)
        shade = rng.randrange(40, 112)
        draw.rounded_rectangle((x, y, x + w, y + h), 12, fill=(shade, shade, shade + 4))
    for y in range(14, 130, 15):
        draw.rectangle((250, y, 420, y + 7), fill=(128, 130, 132))
    return _soft(ground, 5)


def photographed(painted: Image.Image, rng: random.Random, *, lamp: Colour = (255, 249, 238)) -> Image.Image:
    """The painting as a hand-held camera would have caught it: tilt, lamp, falling light, grain."""
    stray = [rng.uniform(8, 42) for _ in range(8)]
    left, right = (stray[0], stray[1], stray[2], HEIGHT - stray[3]), (WIDTH - stray[4], HEIGHT - stray[5])
    corners = (*left, *right, WIDTH - stray[6], stray[7])
    seen = painted.transform((WIDTH, HEIGHT), Image.Transform.QUAD, corners, Image.Resampling.BILINEAR)
    seen = seen.filter(ImageFilter.SMOOTH)
    seen = ImageChops.multiply(seen, _light(rng, lamp))
    return ImageChops.add(seen, _grain(rng), 1, -128)


def _light(rng: random.Random, lamp: Colour) -> Image.Image:
    x, y = rng.uniform(-30, 10), rng.uniform(-40, 0)
    into = (0.75, 0, 32 + x * 0.8, 0, 0.75, 40 + y * 0.8)
    fall = Image.radial_gradient("L").transform((256, 256), Image.Transform.AFFINE, into, Image.Resampling.BILINEAR)
    fall = fall.resize((WIDTH, HEIGHT), Image.Resampling.BILINEAR)
    return Image.merge("RGB", [fall.point([round(c * (1 - 0.4 * (i / 255) ** 1.5)) for i in range(256)]) for c in lamp])


def _grain(rng: random.Random) -> Image.Image:
    side = 400
    one, two = (Image.frombytes("L", (side, side), rng.randbytes(side * side)) for _ in range(2))
    # The mean of two throws leans to the middle, as real sensor noise does; 128 stands for none.
    tile = ImageChops.add(one, two, 2).point([128 + round((i - 128) * 0.085) for i in range(256)])
    grain = Image.new("L", (WIDTH, HEIGHT))
    for x in range(0, WIDTH, side):
        for y in range(0, HEIGHT, side):
            grain.paste(tile.transpose(Image.Transpose(rng.randrange(4))), (x, y))
    return Image.merge("RGB", (grain, grain, grain))


def _stains(draw: ImageDraw.ImageDraw, rng: random.Random, colour: Colour, count: int, upper: int = 0) -> None:
    for _ in range(count):
        x, y, r = rng.uniform(0, _SMALL[0]), rng.uniform(upper, _SMALL[1]), rng.uniform(4, 26)
        draw.ellipse((x - r, y - r * 0.5, x + r, y + r * 0.5), fill=colour)


def _soft(ground: Image.Image, blur: float) -> Image.Image:
    return ground.filter(ImageFilter.GaussianBlur(blur)).resize((WIDTH, HEIGHT), Image.Resampling.BICUBIC)

"""Things that carry text: plates, labels, meters, receipts, the box of a new part."""

from collections.abc import Mapping, Sequence

from PIL import Image, ImageDraw, ImageFilter, ImageFont

from .easel import BLACK, Colour, Easel, flat, font, matte, tint
from .shapes import box, curve, rounded

Text = Mapping[str, str]
_INK, _FILM = (28, 30, 34), (70, 54, 30)
# Which of the seven bars light up for a figure: top, upper right, lower right, bottom, lower left, upper left, middle.
_BARS = dict(
    zip(
        "0123456789- ",
        ("abcdef", "bc", "abged", "abgcd", "fgbc", "afgcd", "afgedc", "abc", "abcdefg", "abcdfg", "g", ""),
        strict=True,
    )
)


def serial_plate(easel: Easel, text: Text, body: Colour) -> None:
    """A riveted plate on the housing. text: maker, model, serial, built, type."""
    _housing(easel, body)
    patch = _patch(1080, 600, (198, 201, 203))
    pen = ImageDraw.Draw(patch)
    pen.rounded_rectangle((10, 10, 1069, 589), 26, outline=(70, 72, 76), width=5)
    pen.rounded_rectangle((24, 24, 1055, 150), 16, fill=tint(body, 0.62))
    pen.text((540, 88), text.get("maker", "Maker").upper(), fill=(240, 240, 236), font=font(92, "Bold"), anchor="mm")
    rows = (
        ("MODEL", text.get("model", "-")),
        ("SERIAL NO.", text.get("serial", "-")),
        ("BUILT", text.get("built", "see serial no.")),
    )
    for i, (name, value) in enumerate(rows):
        y = 212 + i * 104
        pen.text((120, y + 12), name, fill=(74, 76, 80), font=font(36, "Semibold"), anchor="lm")
        pen.text((350, y + 10), value, fill=_INK, font=_fitting(value, 640, 74), anchor="lm")
        pen.line((120, y + 58, 960, y + 58), fill=(120, 122, 126), width=2)
    pen.text((540, 548), "WEAR EYE AND EAR PROTECTION", fill=_INK, font=font(34, "Bold"), anchor="mm")
    for x in (60, 1020):
        for y in (200, 540):
            pen.ellipse((x - 24, y - 24, x + 24, y + 24), fill=(150, 152, 155), outline=(84, 86, 90), width=4)
            pen.ellipse((x - 12, y - 14, x + 4, y + 2), fill=(226, 228, 230))
    _lay(easel, patch, [(290, 290), (1330, 250), (1350, 850), (262, 880)])
    easel.specks(box(260, 250, 1350, 880), (84, 78, 62), 60, 8, strength=0.4)


def hour_meter(easel: Easel, text: Text, body: Colour) -> None:
    """A panel meter with a liquid crystal display. text: hours, as it reads."""
    _housing(easel, tint((70, 74, 80), 1))
    bezel = rounded(box(330, 300, 1270, 880), 90)
    easel.shadow(bezel, 18, 30)
    easel.fill(bezel, BLACK, flat)
    easel.fill(rounded(box(390, 350, 1210, 830), 50), (46, 48, 52), matte)
    easel.fill(rounded(box(440, 430, 1160, 690), 18), (168, 180, 160), matte, angle=90, edge=5)
    easel.words(800, 386, "HOURS OF OPERATION", 44, (214, 214, 208), weight="Semibold")
    hours = text.get("hours", "0.0")
    size = min(96.0, 640 / max(4, len(hours)) * 0.74)
    x = 1110 - (size * 1.34) * sum(0.35 if c == "." else 1 for c in hours)
    for ghost in (True, False):
        at = x
        for figure in hours:
            at += _figure(easel.draw, at, 470, size, "8" if ghost and figure.isdigit() else figure, ghost=ghost)
    easel.words(1084, 742, "1/10 h", 38, (200, 200, 196), weight="Regular")
    easel.veil([(450, 434), (760, 434), (560, 688), (450, 688)], (255, 255, 255), 0.16, blur=3)
    for px, py in ((366, 590), (1234, 590)):
        easel.screw(px, py, 20)


def emission_label(easel: Easel, text: Text, body: Colour) -> None:
    """The engine's label. text: displacement, family, hours (compliance period), built, maker."""
    _housing(easel, (64, 66, 70))
    patch = _patch(1120, 640, (232, 232, 226))
    pen = ImageDraw.Draw(patch)
    pen.rounded_rectangle((8, 8, 1111, 631), 22, outline=_INK, width=6)
    pen.rectangle((8, 26, 1111, 116), fill=_INK)
    pen.text((560, 70), "EMISSION CONTROL INFORMATION", fill=(240, 240, 236), font=font(56, "Bold"), anchor="mm")
    rows = (
        ("ENGINE FAMILY", text.get("family", "-")),
        ("DISPLACEMENT", text.get("displacement", "-")),
        ("DATE OF MANUFACTURE", text.get("built", "-")),
    )
    for i, (name, value) in enumerate(rows):
        pen.text((52, 178 + i * 92), name, fill=_INK, font=font(42, "Semibold"), anchor="lm")
        pen.text((560, 176 + i * 92), value, fill=_INK, font=_fitting(value, 520, 60), anchor="lm")
        pen.line((52, 222 + i * 92, 1068, 222 + i * 92), fill=(150, 150, 146), width=2)
    pen.text((560, 468), "EMISSION COMPLIANCE PERIOD", fill=_INK, font=font(48, "Semibold"), anchor="mm")
    pen.text((560, 540), f"= {text.get('hours', '-')} HOURS", fill=_INK, font=font(84, "Black"), anchor="mm")
    pen.text((560, 602), text.get("maker", "").upper(), fill=_INK, font=font(32, "Semibold"), anchor="mm")
    _lay(easel, patch, [(262, 318), (1310, 262), (1362, 880), (250, 900)])
    easel.specks(box(1080, 640, 1370, 900), _FILM, 26, 30, strength=0.35)


def receipt(easel: Easel, text: Text, body: Colour) -> None:
    """A till receipt on the counter. text: shop, date, number, item, serial, price, tax, total."""
    rows = receipt_rows(text)
    patch = _patch(640, 1080, (244, 242, 234))
    pen = ImageDraw.Draw(patch)
    pen.text(
        (320, 78),
        text.get("shop", "Garden machines"),
        fill=_INK,
        font=_fitting(text.get("shop", "Garden machines"), 560, 58),
        anchor="mm",
    )
    pen.text((320, 136), "SALES RECEIPT", fill=_INK, font=font(36, "Semibold"), anchor="mm")
    pen.line((40, 176, 600, 176), fill=_INK, width=3)
    for i, (name, value) in enumerate(rows):
        y, strong = 226 + i * 70, name == "Total"
        pen.text((44, y), name, fill=_INK, font=font(38, "Bold" if strong else "Regular"), anchor="lm")
        pen.text((596, y), value, fill=_INK, font=_fitting(value, 400, 44 if strong else 38), anchor="rm")
    pen.line((40, 960, 600, 960), fill=_INK, width=2)
    pen.text((320, 1010), "Keep this as proof of purchase", fill=_INK, font=font(34, "It"), anchor="mm")
    _crease(patch, easel)
    _lay(easel, patch, [(520, 60), (1080, 76), (1130, 1150), (440, 1126)], depth=0.4)
    easel.tube([(1260, 400), (1330, 720), (1390, 980)], 30, (40, 60, 120))


def receipt_rows(text: Text) -> list[tuple[str, str]]:
    """The lines of the invented receipt, as name and value; what is not given is left out."""
    names = ("date", "number", "item", "serial", "price", "tax", "total", "paid")
    titles = {"number": "Receipt no.", "serial": "Serial no."}
    return [(titles.get(name, name.capitalize()), text[name]) for name in names if text.get(name)]


def new_part(easel: Easel, text: Text, body: Colour) -> None:
    """A part in its box, unopened. text: part (its name), number, maker."""
    top = [(380, 490), (560, 320), (1340, 270), (1210, 430)]
    front = [(380, 490), (1210, 430), (1190, 900), (400, 985)]
    side = [(1210, 430), (1340, 270), (1310, 690), (1190, 900)]
    easel.shadow([(380, 520), (1340, 300), (1330, 720), (1200, 930), (400, 1000)], 20, 26)
    easel.fill(side, (150, 112, 74), matte, angle=0, edge=2)
    easel.fill(top, (206, 168, 122), matte, angle=30, edge=2)
    easel.fill(front, (188, 148, 102), matte, angle=80, edge=2)
    easel.veil([(906, 299), (1000, 292), (848, 456), (742, 464)], (226, 210, 176), 0.6)
    patch = _patch(700, 330, (244, 243, 238))
    pen = ImageDraw.Draw(patch)
    pen.rectangle((0, 0, 700, 86), fill=tint(body, 0.8))
    pen.text(
        (350, 42), text.get("maker", "Spare part").upper(), fill=(255, 255, 255), font=font(52, "Bold"), anchor="mm"
    )
    name = text.get("part", "Spare part")
    pen.text((36, 140), name, fill=_INK, font=_fitting(name, 620, 56), anchor="lm")
    pen.text((36, 208), text.get("number", ""), fill=_INK, font=font(48, "Semibold"), anchor="lm")
    x = 36
    for i in range(60):
        wide = (i * 7 + len(name) * 3) % 5 + 2
        if i % 2 == 0:
            pen.rectangle((x, 252, x + wide, 310), fill=_INK)
        x += wide + 2
    easel.place(patch, [(466, 580), (1110, 528), (1098, 812), (474, 876)])


def _figure(pen: ImageDraw.ImageDraw, x: float, y: float, w: float, figure: str, *, ghost: bool) -> float:
    h, t, ink = w * 1.7, w * 0.17, (150, 162, 144) if ghost else (24, 30, 26)
    if figure == ".":
        pen.rectangle((x + t * 0.3, y + h - t, x + t * 1.4, y + h), fill=ink)
        return w * 0.47
    m, g = y + h / 2, t * 0.3
    bars: dict[str, Sequence[float]] = {
        "a": (x + t, y, x + w - t, y + t), "b": (x + w - t, y + t + g, x + w, m - g), "c": (x + w - t, m + g, x + w, y + h - t - g),
        "d": (x + t, y + h - t, x + w - t, y + h), "e": (x, m + g, x + t, y + h - t - g), "f": (x, y + t + g, x + t, m - g),
        "g": (x + t, m - t / 2, x + w - t, m + t / 2),
    }  # fmt: skip
    for bar in _BARS.get(figure, ""):
        x0, y0, x1, y1 = bars[bar]
        pen.rectangle((x0, y0, x1, y1), fill=ink)
    return w * 1.34


def _housing(easel: Easel, colour: Colour) -> None:
    """Moulded plastic behind a plate: a large curved face with a rib and two screws."""
    easel.fill(box(-60, -60, 1660, 1260), colour, flat, angle=70, edge=0)
    ridge = curve([(-60, 160), (400, 128), (900, 110), (1660, 60)])
    easel.tube(ridge, 46, tint(colour, 0.92), smooth=False)
    easel.veil([(-60, 980), (1660, 900), (1660, 1260), (-60, 1260)], BLACK, 0.35, blur=24)
    easel.specks(box(0, 860, 1600, 1200), tint(colour, 0.6), 70, 5, strength=0.4)
    for x, y in ((110, 1050), (1480, 1010)):
        easel.screw(x, y, 40, turn=x % 60)


def _patch(width: int, height: int, colour: Colour) -> Image.Image:
    return Image.new("RGBA", (width, height), (*colour, 255))


def _lay(easel: Easel, patch: Image.Image, quad: Sequence[tuple[float, float]], depth: float = 0.55) -> None:
    easel.shadow(quad, 10, 14, blur=14, depth=depth)
    easel.place(patch, quad)
    shine = [
        quad[0],
        ((quad[0][0] * 2 + quad[1][0]) / 3, quad[0][1]),
        ((quad[3][0] * 5 + quad[2][0]) / 6, quad[3][1]),
        quad[3],
    ]
    easel.veil(shine, (255, 255, 255), 0.2, blur=30)


def _crease(patch: Image.Image, easel: Easel) -> None:
    fold = Image.new("L", patch.size)
    pen = ImageDraw.Draw(fold)
    for y in (350, 705):
        y += easel.rng.randrange(-20, 20)
        pen.line((0, y, patch.width, y + easel.rng.randrange(-12, 12)), fill=120, width=6)
    patch.paste((150, 146, 136, 255), (0, 0, *patch.size), fold.filter(ImageFilter.GaussianBlur(5)))


def _fitting(text: str, width: float, size: float) -> ImageFont.FreeTypeFont:
    """The bold font, made smaller until the text fits into width pixels."""
    while size > 14 and font(size, "Bold").getlength(text) > width:
        size *= 0.92
    return font(size, "Bold")

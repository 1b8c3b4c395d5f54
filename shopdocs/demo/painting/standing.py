"""Whole machines that stand on the floor: pump, generator, mower."""

import math

from .easel import ALLOY, BLACK, RUBBER, STEEL, Colour, Easel, brushed, flat, matte, tint, tubular
from .plates import Text
from .shapes import arc, box, curve, oval, rounded, turned


def pump(easel: Easel, text: Text, body: Colour) -> None:
    """A water pump in its carrying frame."""
    _standing_shadow(easel, 300, 1320)
    easel.tube([(330, 980), (330, 420), (420, 360), (1180, 360), (1270, 420), (1270, 980)], 34, (58, 60, 64))
    _engine(easel, 410, 480, body, text)
    volute = oval(1010, 760, 190, 200)
    easel.shadow(volute, 14, 16, blur=14)
    easel.fill(volute, ALLOY, brushed, angle=70)
    easel.fill(oval(1010, 760, 128, 136), (150, 154, 158), brushed, angle=40)
    for i in range(8):
        a = math.radians(i * 45 + 20)
        easel.screw(1010 + 162 * math.cos(a), 760 + 170 * math.sin(a), 15)
    easel.fill(rounded(box(960, 480, 1080, 590), 12), ALLOY, tubular, angle=0)
    easel.fill(rounded(box(930, 456, 1110, 496), 10), STEEL, tubular, angle=0)
    easel.fill(rounded(box(1170, 700, 1270, 820), 12), ALLOY, tubular, angle=90)
    easel.fill(rounded(box(1256, 676, 1298, 844), 10), STEEL, tubular, angle=90)
    easel.fill(oval(1286, 760, 22, 60), (30, 31, 33), matte)
    easel.tube([(310, 980), (1290, 980)], 38, (58, 60, 64), smooth=False)
    _feet(easel, (350, 1250))


def generator(easel: Easel, text: Text, body: Colour) -> None:
    """A portable generator: tank above, panel in front."""
    _standing_shadow(easel, 240, 1370)
    for x in (270, 1330):
        easel.tube([(x, 990), (x, 360), (x + (60 if x < 800 else -60), 300)], 38, (54, 56, 60), smooth=False)
    easel.fill(box(300, 560, 1300, 960), (46, 48, 50), matte)
    _engine(easel, 330, 560, body, text, small=True)
    tank = rounded([(330, 330), (1270, 330), (1310, 400), (1300, 540), (300, 540), (290, 400)], 60)
    easel.shadow(tank, 8, 24, blur=16)
    easel.fill(tank, body, flat)
    easel.ball(oval(760, 334, 66, 26), RUBBER)
    easel.words(790, 446, f"{text.get('maker', '')}  {text.get('model', '')}".strip(), 70, (246, 242, 232))
    panel = rounded(box(800, 590, 1270, 930), 24)
    easel.shadow(panel, 6, 12, blur=10)
    easel.fill(panel, (84, 88, 94), matte)
    for x, y in ((890, 690), (1040, 690)):
        _outlet(easel, x, y)
    easel.fill(rounded(box(1130, 640, 1230, 740), 10), BLACK, matte)
    easel.fill(rounded(box(1156, 660, 1204, 720), 6), (200, 60, 44), flat)
    easel.fill(oval(890, 850, 44), (226, 226, 218), matte)
    easel.draw.line((890, 850, 866, 822), fill=(170, 30, 24), width=6)
    easel.fill(rounded(box(990, 816, 1230, 884), 10), (222, 186, 60), matte)
    easel.words(1110, 850, "NEVER INDOORS", 30, BLACK)
    easel.tube([(250, 990), (1350, 990)], 40, (54, 56, 60), smooth=False)
    _wheel(easel, 400, 1010, 96)
    _feet(easel, (1290,))


def mower(easel: Easel, text: Text, body: Colour) -> None:
    """A walk-behind mower from its side."""
    _standing_shadow(easel, 420, 1420)
    easel.tube([(620, 800), (420, 560), (230, 300), (130, 250)], 28, (60, 62, 66))
    easel.tube([(700, 790), (500, 560), (300, 320), (200, 250)], 32, (48, 50, 54))
    easel.tube([(120, 246), (214, 250)], 46, RUBBER, smooth=False)
    deck = curve(
        [
            (560, 830),
            (640, 740),
            (900, 700),
            (1220, 700),
            (1360, 780),
            (1400, 900),
            (1360, 950),
            (600, 950),
            (550, 910),
        ],
        closed=True,
    )
    easel.shadow(deck, 10, 40)
    easel.fill(deck, body, flat, angle=90)
    easel.veil([(570, 905), (1390, 905), (1370, 946), (600, 946)], BLACK, 0.4, blur=5)
    chute = rounded([(900, 800), (1120, 800), (1200, 960), (880, 965)], 26)
    easel.fill(chute, (40, 42, 44), flat, angle=90)
    case = rounded([(800, 520), (1180, 520), (1230, 620), (1210, 720), (780, 720), (760, 620)], 60)
    easel.shadow(case, 8, 20, blur=14)
    easel.fill(case, (58, 60, 64), flat)
    easel.fill(rounded(box(830, 430, 1150, 550), 60), tint(body, 0.9), flat)
    easel.words(990, 492, text.get("model", ""), 54, (246, 242, 232))
    easel.slots(840, 590, 1000, 670, 8)
    easel.fill(rounded(box(1060, 600, 1200, 690), 20), ALLOY, tubular, angle=90)
    easel.slots(1076, 620, 1184, 670, 6)
    easel.ball(oval(890, 436, 40, 24), RUBBER)
    for x, r in ((640, 118), (1330, 104)):
        _wheel(easel, x, 1060 - r, r)


def _engine(easel: Easel, x: float, y: float, body: Colour, text: Text, *, small: bool = False) -> None:
    """A four-stroke engine: fan cover with starter, finned block, tank (unless the machine has its own)."""
    for i in range(7):
        easel.fill(box(x + 330, y + 60 + i * 34, x + 470, y + 80 + i * 34), ALLOY, tubular, angle=90, edge=1)
    cover = rounded([(x, y + 60), (x + 330, y + 50), (x + 360, y + 360), (x + 20, y + 380)], 90)
    easel.shadow(cover, 10, 16, blur=12)
    easel.fill(cover, tint(body, 0.86), flat)
    easel.fill(oval(x + 175, y + 220, 120), (50, 52, 55), flat)
    for i in range(12):
        a = math.radians(i * 30)
        spoke = [
            x + 175 + 50 * math.cos(a),
            y + 220 + 50 * math.sin(a),
            x + 175 + 108 * math.cos(a),
            y + 220 + 108 * math.sin(a),
        ]
        easel.draw.line(spoke, fill=(20, 21, 23), width=11)
    easel.ball(oval(x + 175, y + 220, 36), (90, 92, 96))
    easel.tube([(x + 280, y + 130), (x + 320, y + 96)], 22, RUBBER, smooth=False)
    if small:
        return
    tank = rounded(box(x - 10, y - 70, x + 500, y + 66), 46)
    easel.fill(tank, body, flat)
    easel.ball(oval(x + 110, y - 70, 50, 24), RUBBER)
    easel.words(x + 300, y, text.get("model", ""), 58, (246, 242, 232))
    easel.fill(rounded(box(x + 380, y + 90, x + 520, y + 250), 24), (66, 68, 72), flat)


def _outlet(easel: Easel, x: float, y: float) -> None:
    easel.fill(rounded(box(x - 56, y - 56, x + 56, y + 56), 14), BLACK, matte)
    easel.fill(oval(x, y, 42), (60, 62, 66), matte)
    for dx, dy in ((-16, -8), (16, -8), (0, 18)):
        easel.draw.rectangle((x + dx - 5, y + dy - 10, x + dx + 5, y + dy + 10), fill=(12, 12, 13))


def _wheel(easel: Easel, x: float, y: float, r: float) -> None:
    easel.shadow(oval(x, y, r), 10, 12, blur=12)
    easel.fill(oval(x, y, r), (36, 37, 40), flat)
    for i in range(24):
        easel.draw.polygon(turned(box(x - 5, y - r, x + 5, y - r * 0.88), i * 15, (x, y)), fill=(18, 18, 20))
    easel.fill(oval(x, y, r * 0.66), (206, 204, 196), flat)
    for i in range(5):
        easel.draw.polygon(turned(oval(x, y - r * 0.4, r * 0.13), i * 72, (x, y)), fill=(70, 70, 70))
    easel.ball(oval(x, y, r * 0.2), (80, 82, 86))


def _feet(easel: Easel, places: tuple[float, ...]) -> None:
    for x in places:
        easel.fill(rounded(box(x - 44, 990, x + 44, 1050), 14), RUBBER, flat)


def _standing_shadow(easel: Easel, x0: float, x1: float) -> None:
    easel.veil(oval((x0 + x1) / 2, 1050, (x1 - x0) / 2 + 40, 60), (12, 10, 8), 0.7, blur=30)
    easel.veil(arc((x0 + x1) / 2, 1050, (x1 - x0) / 2, 0, 180, squash=0.1), (8, 8, 8), 0.5, blur=12)

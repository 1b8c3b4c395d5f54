"""Covers, starters and blades."""

import math

from .easel import ALLOY, BLACK, SOOT, STEEL, Colour, Easel, brushed, flat, matte, tint
from .plates import Text
from .shapes import box, curve, grown, moved, oval, rounded, turned


def burnt_engine_cover(easel: Easel, text: Text, body: Colour) -> None:
    """A plastic engine cover, scorched and sunk in beside the muffler."""
    cover = rounded([(280, 260), (1180, 200), (1340, 420), (1320, 900), (420, 980), (250, 760)], 130)
    easel.shadow(cover, 34, 50)
    easel.fill(cover, body, flat)
    easel.slots(380, 380, 760, 560, 10, slant=24)
    easel.words(560, 760, text.get("model", ""), 90, (244, 240, 230))
    scorch = curve(
        [(840, 420), (1040, 330), (1206, 400), (1250, 640), (1190, 820), (1000, 860), (850, 700)], closed=True
    )
    easel.veil(grown(scorch, 1.16), (60, 36, 20), 0.6, blur=44)
    easel.veil(scorch, SOOT, 0.82, blur=26)
    hole = curve([(1000, 540), (1090, 500), (1190, 560), (1200, 680), (1110, 740), (1020, 690)], closed=True)
    easel.fill(grown(hole, 1.24), (66, 46, 34), flat, edge=0)
    easel.fill(hole, (8, 7, 6), matte, edge=0)
    for i in range(4):
        easel.draw.line((1030, 560 + i * 36, 1180, 556 + i * 40), fill=(54, 52, 50), width=9)
    for _ in range(34):
        a, r = easel.rng.uniform(0, 6.28), easel.rng.uniform(130, 230)
        x, y, size = 1090 + r * math.cos(a), 620 + r * 0.9 * math.sin(a), easel.rng.uniform(5, 17)
        easel.ball(oval(x, y, size), (46, 34, 26), shine=1.7)
    for end in ((900, 470), (940, 820), (1290, 500)):
        easel.crack((1060 + (end[0] - 1060) * 0.4, 620 + (end[1] - 620) * 0.4), end, width=7, light=(110, 80, 60))
    for x, y in ((350, 330), (440, 890)):
        easel.screw(x, y, 34)


def broken_recoil_housing(easel: Easel, text: Text, body: Colour) -> None:
    """A starter housing with a piece broken out of its rim."""
    rim = [(800 + 440 * math.cos(math.radians(a)), 600 + 440 * math.sin(math.radians(a))) for a in range(20, 330, 6)]
    broken = [*rim, (1050, 420), (1010, 500), (1090, 540), (1060, 620), (1130, 690)]
    easel.shadow(broken, 36, 50)
    easel.fill(broken, body, flat)
    inner = [p for p in grown(oval(800, 600, 340), 1) if not (p[0] > 1000 and 430 < p[1] < 700)]
    easel.fill(inner, tint(body, 0.78), flat)
    for i in range(16):
        a = i * 22.5 + 11
        if -36 < (a + 180) % 360 - 180 < 26:
            continue
        slot = turned(rounded(box(970, 586, 1104, 616), 14), a, (800, 600))
        easel.fill(slot, (14, 14, 15), matte, edge=2)
    easel.fill(oval(800, 600, 150), (60, 62, 66), flat)
    for r in (130, 108, 86):
        easel.draw.ellipse((800 - r, 600 - r, 800 + r, 600 + r), outline=(196, 190, 170), width=11)
    easel.screw(800, 600, 46)
    for start, end in (
        ((1016, 500), (760, 420)),
        ((1060, 620), (880, 790)),
        ((1090, 700), (1010, 950)),
        ((1050, 420), (930, 230)),
    ):
        easel.crack(start, end, width=11, light=tint(body, 1.5))
    piece = rounded([(1230, 830), (1390, 800), (1440, 930), (1340, 1010), (1250, 950)], 18)
    easel.shadow(piece, 12, 18, blur=14)
    easel.fill(piece, tint(body, 1.05), flat)
    rope = [(720, 690), (560, 860), (420, 960), (240, 950), (150, 1060), (210, 1160)]
    easel.shadow([*moved(rope, 0, -10), *moved(rope[::-1], 0, 10)], 10, 16, blur=12)
    easel.tube(rope, 24, (206, 200, 184))
    for i in range(12):
        easel.draw.line((204 + i * 4, 1150 + i * 2, 190 + i * 9, 1190 + i * 2), fill=(206, 200, 184), width=3)


def bent_blade(easel: Easel, text: Text, body: Colour) -> None:
    """A mower blade beside a straightedge: its right end is bent up."""
    ruler = [(90, 770), (1520, 720), (1524, 812), (94, 866)]
    easel.shadow(ruler, 12, 18, blur=14)
    easel.fill(ruler, (214, 204, 150), matte, edge=2)
    for i in range(57):
        x = 110 + i * 24.8
        long = 44 if i % 5 == 0 else 24
        easel.draw.line((x, 770 - i * 0.87, x, 770 - i * 0.87 + long), fill=(40, 38, 30), width=3)
    blade = curve([(90, 640), (300, 636), (640, 640), (980, 622), (1180, 560), (1340, 420), (1480, 230)], steps=8)
    lower = [(1550, 320), (1420, 520), (1240, 680), (1000, 756), (640, 762), (300, 764), (96, 768)]
    outline = [*blade, *curve(lower, steps=8)]
    easel.shadow(outline, 30, 60, blur=22)
    easel.fill(outline, (110, 112, 114), brushed, angle=18)
    edge = [
        *curve([(1550, 320), (1420, 520), (1250, 676), (1080, 740)], steps=8),
        *curve([(1066, 712), (1230, 640), (1394, 494), (1520, 296)], steps=8),
    ]
    easel.fill(edge, (206, 208, 210), flat, edge=2)
    easel.fill([(96, 640), (420, 638), (400, 668), (96, 672)], (206, 208, 210), flat, edge=2)
    for x, y in ((1300, 640), (1366, 568), (1440, 470), (1500, 380)):
        easel.draw.polygon([(x - 18, y + 14), (x + 18, y - 20), (x - 22, y - 26)], fill=(60, 60, 62))
    easel.fill(oval(660, 700, 38, 34), BLACK, matte)
    for x in (570, 750):
        easel.fill(oval(x, 700, 17, 15), (30, 30, 30), matte)
    easel.specks(outline, (124, 74, 36), 170, 12, strength=0.6)
    easel.specks(outline, (86, 104, 50), 60, 16, strength=0.6)
    easel.veil(curve([(980, 640), (1120, 600), (1160, 690), (1040, 740)], closed=True), (70, 70, 72), 0.5, blur=18)


def new_blade(easel: Easel, text: Text, body: Colour) -> None:
    """A straight blade with its paint still on."""
    blade = rounded([(130, 560), (1480, 500), (1490, 620), (140, 690)], 20)
    easel.shadow(blade, 26, 46, blur=22)
    easel.fill(blade, (52, 54, 58), flat)
    easel.fill([(150, 660), (480, 646), (470, 676), (150, 690)], (220, 222, 224), flat, edge=2)
    easel.fill([(1150, 514), (1474, 500), (1476, 530), (1160, 542)], (220, 222, 224), flat, edge=2)
    easel.fill(oval(806, 594, 40, 36), (170, 140, 100), matte)
    for x, y in ((710, 598), (902, 590)):
        easel.fill(oval(x, y, 18, 16), (150, 122, 88), matte)
    easel.words(420, 614, text.get("number", ""), 44, (200, 200, 196), weight="Semibold")


def dead_stop_switch(easel: Easel, text: Text, body: Colour) -> None:
    """A stop switch with its wire pulled off."""
    easel.fill(box(-60, -60, 1660, 1260), tint(body, 0.9), flat, edge=0)
    rocker = rounded(box(560, 330, 1040, 860), 60)
    easel.shadow(rocker, 14, 22, blur=14)
    easel.fill(rocker, BLACK, flat)
    easel.fill(rounded(box(620, 390, 980, 600), 30), (70, 72, 76), matte, angle=90)
    easel.fill(rounded(box(620, 606, 980, 800), 30), (50, 52, 56), flat, angle=90)
    easel.words(800, 494, "RUN", 64, (230, 230, 226))
    easel.words(800, 704, "STOP", 64, (220, 70, 54))
    easel.tube([(1040, 760), (1160, 800), (1190, 930)], 26, (150, 40, 36))
    easel.tube([(1300, 1230), (1290, 1110), (1240, 1040)], 26, (150, 40, 36))
    for x, y in ((1190, 940), (1240, 1030)):
        easel.fill(turned(rounded(box(x - 16, y - 26, x + 16, y + 30), 6), 20, (x, y)), ALLOY, brushed)
    easel.screw(460, 300, 36, STEEL)
    easel.screw(1140, 300, 36, STEEL)

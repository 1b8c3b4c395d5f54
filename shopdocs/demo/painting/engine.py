"""Parts of the engine and what goes wrong with them."""

import math

from .easel import ALLOY, OIL, SOOT, STEEL, Colour, Easel, brushed, flat, matte, tubular
from .plates import Text
from .shapes import arc, box, curve, grown, moved, oval, rounded, turned


def scored_piston(easel: Easel, text: Text, body: Colour) -> None:
    """A piston standing on its skirt, scored on the exhaust side."""
    side = [(460, 340), (1140, 340), (1140, 900), *arc(800, 900, 340, 0, 180, squash=0.2)]
    easel.shadow(side, 50, 40, blur=34)
    easel.fill(side, ALLOY, tubular, angle=0)
    crown = oval(800, 340, 340, 72)
    easel.fill(crown, (120, 112, 100), matte)
    easel.specks(crown, SOOT, 120, 30, strength=0.7)
    for y in (398, 462):
        upper = arc(800, y, 340, 180, 0, squash=0.2)
        easel.fill([*upper, *moved(upper[::-1], 0, 26)], (96, 98, 102), tubular, angle=0, edge=2)
    easel.fill(oval(620, 720, 74, 84), (70, 72, 76), flat)
    easel.fill(oval(628, 728, 54, 64), (24, 24, 26), flat)
    for _ in range(46):
        x = 800 + min(270, max(-60, easel.rng.gauss(160, 80)))
        top, low = easel.rng.uniform(540, 640), easel.rng.uniform(720, 940)
        shade = easel.rng.choice([(58, 54, 50), (84, 78, 72), (40, 36, 32), (206, 206, 204)])
        easel.draw.line((x, top, x + easel.rng.uniform(-5, 5), low), fill=shade, width=easel.rng.randrange(2, 9))
    easel.veil(
        curve([(830, 560), (980, 550), (1070, 700), (1010, 900), (880, 920)], closed=True), (40, 34, 28), 0.4, blur=22
    )
    for _ in range(18):
        x, top = 830 + easel.rng.uniform(0, 220), easel.rng.uniform(560, 660)
        easel.draw.line(
            (x, top, x + easel.rng.uniform(-4, 4), top + easel.rng.uniform(120, 280)),
            fill=(196, 196, 194),
            width=easel.rng.randrange(2, 5),
        )


def worn_clutch(easel: Easel, text: Text, body: Colour) -> None:
    """A centrifugal clutch: three shoes, glazed and blue from heat, one spring stretched."""
    easel.shadow(oval(800, 600, 430), 36, 50)
    easel.fill(oval(800, 600, 430), (96, 98, 102), brushed, angle=50)
    easel.fill(oval(800, 600, 396), (34, 34, 36), flat)
    for i in range(3):
        start = i * 120 + 12
        shoe = [*arc(800, 600, 372 - (26 if i == 1 else 0), start, start + 94), *arc(800, 600, 200, start + 94, start)]
        easel.fill(shoe, STEEL, brushed, angle=40 + i * 60)
        lining = [
            *arc(800, 600, 376 - (26 if i == 1 else 0), start, start + 94),
            *arc(800, 600, 338 - (10 if i == 1 else 0), start + 94, start),
        ]
        easel.fill(lining, (74, 60, 46) if i != 1 else (50, 44, 60), matte, edge=2)
        easel.veil(shoe, ((70, 80, 150), (150, 100, 60), (90, 70, 120))[i], 0.34, blur=8)
        middle = math.radians(start + 47)
        easel.screw(800 + 274 * math.cos(middle), 600 + 274 * math.sin(middle), 28)
    for i in range(3):
        _spring(easel, i * 120 - 1, loose=i == 1)
    easel.fill(oval(800, 600, 150), ALLOY, brushed, angle=70)
    easel.fill(turned(oval(800, 600, 84)[::8], 30, (800, 600)), (60, 62, 66), flat)
    easel.specks(oval(800, 600, 396), (40, 34, 26), 200, 10, strength=0.7)


def _spring(easel: Easel, at: float, *, loose: bool) -> None:
    start, end = at - 16, at + 22
    for i in range(14):
        a = math.radians(start + (end - start) * i / 13)
        r = 236 + (18 * math.sin(i * 0.5) if loose else 0)
        x, y = 800 + r * math.cos(a), 600 + r * math.sin(a)
        easel.draw.line(
            turned([(x - 30, y - 6), (x + 30, y + 6)], math.degrees(a), (x, y)), fill=(188, 190, 192), width=7
        )
        easel.draw.line(turned([(x - 30, y), (x + 30, y + 12)], math.degrees(a), (x, y)), fill=(64, 66, 70), width=3)


def ignition_module(easel: Easel, text: Text, body: Colour) -> None:
    """An ignition module beside the flywheel, with its lead and boot."""
    easel.shadow(oval(420, 1180, 620), 20, 10)
    easel.fill(oval(420, 1180, 620), ALLOY, brushed, angle=50)
    easel.fill(oval(420, 1180, 560), (120, 124, 128), brushed, angle=20)
    for i in range(9):
        easel.fill(
            turned(rounded(box(396, 590, 450, 700), 12), -36 + i * 15, (420, 1180)),
            (150, 154, 158),
            tubular,
            angle=i * 15.0,
            edge=2,
        )
    easel.fill(turned(rounded(box(330, 556, 520, 620), 8), 24, (420, 1180)), (70, 66, 64), flat)
    for x in (690, 1010):
        leg = [(x, 470), (x + 110, 450), (x + 116, 700), (x + 6, 730)]
        easel.shadow(leg, 14, 20, blur=14)
        easel.fill(leg, (112, 112, 114), brushed, angle=0, edge=2)
        for k in range(8):
            easel.draw.line((x + 8 + k * 13, 474 - k * 2, x + 14 + k * 13, 722 - k * 3), fill=(66, 66, 68), width=2)
    core = rounded([(640, 330), (1170, 300), (1180, 470), (650, 505)], 20)
    easel.fill(core, (104, 104, 106), brushed, angle=90)
    coil = rounded([(720, 220), (1090, 200), (1110, 560), (740, 590)], 46)
    easel.shadow(coil, 20, 26, blur=16)
    easel.fill(coil, (36, 37, 40), flat)
    easel.veil([(750, 250), (850, 244), (850, 560), (762, 566)], (255, 255, 255), 0.14, blur=14)
    easel.words(920, 400, text.get("number", ""), 44, (176, 176, 172), weight="Semibold")
    for x, y in ((680, 412), (1140, 386)):
        easel.screw(x, y, 34)
    easel.tube([(1090, 270), (1240, 240), (1370, 360), (1350, 560), (1290, 700)], 46, (28, 28, 30))
    easel.tube([(1290, 690), (1250, 800)], 86, (44, 44, 48), smooth=False)
    easel.fill(rounded([(1190, 790), (1290, 810), (1260, 930), (1176, 900)], 30), (40, 40, 43), flat)
    easel.tube([(760, 580), (730, 720), (800, 860), (900, 1200)], 16, (150, 40, 36))


def oil_leak(easel: Easel, text: Text, body: Colour) -> None:
    """Oil creeping out of a case joint and down the block."""
    upper = rounded([(260, 120), (1340, 90), (1360, 520), (250, 560)], 50)
    lower = rounded([(230, 580), (1380, 540), (1400, 1120), (210, 1160)], 50)
    easel.shadow(lower, 30, 30)
    for outline in (upper, lower):
        easel.fill(outline, (150, 152, 152), brushed, angle=80)
    for i in range(6):
        easel.tube([(300, 200 + i * 54), (1310, 172 + i * 54)], 26, (146, 148, 150), smooth=False)
    easel.fill([(232, 552), (1384, 512), (1386, 548), (230, 590)], (52, 48, 40), matte)
    for x in (330, 620, 980, 1290):
        easel.fill(rounded(box(x - 56, 500 - x * 0.03, x + 56, 640 - x * 0.03), 22), (158, 160, 162), flat)
        easel.screw(x, 568 - x * 0.03, 36)
    _streaks(easel)
    easel.specks([(420, 600), (1180, 570), (1240, 1130), (380, 1150)], (70, 60, 44), 170, 16, strength=0.6)


def _streaks(easel: Easel) -> None:
    wet = curve([(470, 556), (800, 530), (1120, 530), (1180, 680), (1130, 1150), (520, 1170), (420, 740)], closed=True)
    easel.veil(wet, (44, 32, 16), 0.62, blur=20)
    for x, end, width in (
        (500, 900, 30),
        (610, 1150, 50),
        (700, 800, 26),
        (800, 1160, 84),
        (890, 980, 36),
        (980, 1160, 46),
        (1080, 860, 28),
    ):
        half, sway = width / 2, easel.rng.uniform(-14, 14)
        left = curve([(x - half * 1.7, 556), (x - half * 0.8 + sway, (556 + end) / 2), (x - half, end - half)])
        right = curve([(x + half, end - half), (x + half * 0.7 + sway, (556 + end) / 2), (x + half * 1.6, 556)])
        run = [*left, *arc(x, end - half, half, 180, 0), *right]
        easel.veil(run, OIL, 0.88, blur=2)
        easel.veil([*moved(left, half * 0.5, 0), *moved(left[::-1], half * 0.72, 0)], (206, 180, 130), 0.5, blur=2)
        easel.veil(oval(x - half * 0.2, end - half, half * 0.36, half * 0.5), (236, 214, 168), 0.6, blur=2)
    easel.veil([(480, 556), (1120, 530), (1120, 566), (480, 596)], SOOT, 0.85, blur=4)


def muffler(easel: Easel, text: Text, body: Colour) -> None:
    """A muffler with its spark screen, tinted by heat."""
    _muffler_box(easel)
    easel.fill(rounded([(940, 470), (1210, 458), (1216, 640), (948, 656)], 24), (84, 86, 88), flat)
    easel.fill(rounded([(966, 494), (1186, 484), (1190, 616), (974, 630)], 14), (34, 34, 34), matte)
    for i in range(14):
        easel.draw.line((976 + i * 16, 492, 980 + i * 16, 624), fill=(140, 138, 132), width=3)
    for i in range(8):
        easel.draw.line((968, 506 + i * 16, 1188, 498 + i * 16), fill=(140, 138, 132), width=3)
    for x, y in ((930, 452), (1226, 440), (1232, 662), (940, 680)):
        easel.screw(x, y, 18)


def missing_deflector(easel: Easel, text: Text, body: Colour) -> None:
    """The same muffler without its deflector: bare outlet, two empty holes, a clean patch."""
    _muffler_box(easel)
    patch = rounded([(900, 410), (1250, 396), (1258, 690), (908, 706)], 46)
    easel.veil(grown(patch, 1.22), SOOT, 0.75, blur=26)
    easel.fill(patch, (186, 186, 182), brushed, angle=75, edge=2)
    easel.fill(oval(1080, 552, 104, 84), (120, 116, 110), flat)
    easel.fill(oval(1084, 558, 84, 66), (10, 9, 8), matte)
    for x, y in ((950, 470), (1204, 640)):
        easel.fill(oval(x, y, 27), (96, 96, 94), flat)
        easel.fill(oval(x + 3, y + 3, 18), (8, 8, 8), matte)
    easel.specks(patch, (140, 86, 44), 30, 9, strength=0.6)
    easel.veil(
        curve([(1180, 520), (1400, 470), (1500, 600), (1380, 690), (1190, 620)], closed=True), SOOT, 0.6, blur=26
    )


def _muffler_box(easel: Easel) -> None:
    case = rounded(
        [(330, 300), (1260, 250), (1380, 360), (1370, 780), (1280, 860), (360, 900), (280, 800), (270, 400)], 90
    )
    easel.shadow(case, 34, 46)
    easel.fill(case, (134, 132, 128), brushed, angle=80)
    easel.tube([(300, 590), (800, 575), (1372, 560)], 26, (120, 118, 114), smooth=False)
    flange = curve([(330, 340), (620, 330), (640, 560), (560, 820), (330, 840)], closed=True)
    for colour, blur, strength in (((120, 90, 150), 60, 0.35), ((180, 130, 60), 40, 0.35), ((70, 90, 150), 26, 0.25)):
        easel.veil(flange, colour, strength, blur=blur)
    for i in range(4):
        easel.fill(
            rounded([(400, 400 + i * 112), (760, 388 + i * 112), (762, 436 + i * 112), (402, 450 + i * 112)], 22),
            (116, 114, 110),
            tubular,
            angle=90,
            edge=2,
        )
    for x, y in ((340, 380), (350, 820), (860, 320), (870, 830)):
        easel.screw(x, y, 32, (110, 106, 100))
    easel.specks(case, (96, 62, 34), 140, 10, strength=0.6)

"""Whole machines that a person carries: saw, trimmer, backpack blower."""

import math

from .easel import ALLOY, BLACK, RUBBER, STEEL, Colour, Easel, brushed, flat, matte, tint, tubular
from .plates import Text
from .shapes import arc, box, curve, moved, oval, rounded, turned


def saw(easel: Easel, text: Text, body: Colour) -> None:
    """A chain saw from its right side."""
    easel.shadow([(150, 800), (1500, 760), (1500, 820), (300, 900)], 10, 40, blur=30)
    _bar_and_chain(easel)
    easel.tube([(190, 760), (140, 640), (190, 500), (330, 440), (470, 430)], 74, RUBBER)
    easel.tube([(190, 760), (320, 820), (480, 810)], 70, RUBBER)
    case = curve(
        [(360, 520), (430, 400), (620, 370), (820, 400), (890, 500), (900, 700), (860, 820), (600, 850), (400, 820)],
        closed=True,
    )
    easel.shadow(case, 14, 20, blur=20)
    easel.fill(case, body, flat)
    cover = rounded([(430, 560), (840, 540), (850, 780), (460, 800)], 70)
    easel.fill(cover, tint(body, 0.8), flat)
    easel.slots(500, 610, 690, 740, 8, slant=20)
    easel.fill(rounded([(700, 590), (880, 580), (890, 790), (700, 800)], 40), (70, 72, 76), matte)
    for x in (770, 840):
        easel.screw(x, 720, 26)
    easel.tube([(560, 850), (540, 600), (520, 380), (600, 250), (760, 240), (830, 330), (840, 420)], 46, RUBBER)
    guard = rounded([(850, 300), (920, 270), (1010, 420), (960, 520), (900, 500)], 36)
    easel.fill(guard, BLACK, matte)
    easel.fill(oval(470, 480, 44, 40), (60, 62, 66), flat)
    easel.fill(rounded(box(250, 470, 360, 500), 12), (200, 60, 40), flat)
    easel.words(640, 478, text.get("model", ""), 62, (244, 240, 230))


def _bar_and_chain(easel: Easel) -> None:
    bar = [(830, 610), *arc(1430, 655, 52, -90, 90), (830, 730)]
    chain = [(830, 598), *arc(1432, 655, 66, -90, 90), (830, 744)]
    easel.shadow(chain, 10, 40, blur=18)
    easel.fill(chain, (58, 60, 62), matte, edge=2)
    easel.fill(bar, ALLOY, brushed, angle=84, edge=3)
    easel.veil([(900, 660), (1300, 660), (1300, 684), (900, 684)], BLACK, 0.45)
    for x in range(860, 1440, 46):
        along = x - 830
        for y, up in ((600 - along * 0.018, -1), (742 - along * 0.038, 1)):
            tooth = [(x, y), (x + 4, y + 17 * up), (x + 26, y + 13 * up), (x + 30, y)]
            easel.draw.polygon(tooth if up < 0 else moved(tooth, 6, 0), fill=(36, 37, 40))
            easel.draw.line((x + 4, y + 16 * up, x + 24, y + 12 * up), fill=(196, 198, 200), width=3)
    for angle in range(-80, 90, 26):
        tx, ty = 1432 + 72 * math.cos(math.radians(angle)), 655 + 72 * math.sin(math.radians(angle))
        easel.draw.polygon(
            turned(box(tx - 12, ty - 8, tx + 14, ty + 8), angle + 90, (tx, ty)),
            fill=(36, 37, 40),
        )


def trimmer(easel: Easel, text: Text, body: Colour) -> None:
    """A string trimmer lying across the floor."""
    easel.shadow([(250, 350), (1300, 900), (1280, 940), (230, 420)], 16, 60, blur=24)
    easel.tube([(330, 350), (800, 610), (1270, 870)], 32, STEEL, smooth=False)
    easel.tube([(560, 470), (640, 514)], 58, RUBBER, smooth=False)
    easel.tube([(742, 580), (710, 440), (800, 360), (930, 400), (940, 540), (820, 620)], 34, RUBBER)
    engine = curve([(120, 240), (210, 140), (360, 170), (440, 290), (430, 420), (310, 480), (170, 430)], closed=True)
    easel.shadow(engine, 20, 46)
    easel.fill(engine, body, flat)
    easel.fill(oval(250, 300, 104, 98), tint(body, 0.72), flat)
    for i in range(8):
        a = math.radians(i * 45)
        easel.draw.line(
            (250 + 40 * math.cos(a), 300 + 38 * math.sin(a), 250 + 88 * math.cos(a), 300 + 82 * math.sin(a)),
            fill=BLACK,
            width=14,
        )
    easel.ball(oval(250, 300, 30), RUBBER)
    easel.fill(rounded([(180, 430), (380, 450), (360, 560), (200, 540)], 34), (222, 220, 208), flat)
    easel.ball(oval(240, 555, 34, 26), RUBBER)
    easel.words(322, 190, text.get("model", ""), 28, (246, 242, 232))
    guard = curve(
        [(1130, 800), (1240, 720), (1400, 760), (1480, 880), (1420, 900), (1290, 860), (1180, 900)], closed=True
    )
    easel.shadow(guard, 12, 60)
    easel.fill(guard, (46, 48, 50), flat)
    easel.shadow(oval(1300, 960, 110, 60), 10, 30)
    easel.fill(oval(1300, 950, 108, 62), tint(body, 0.7), flat)
    easel.fill(oval(1300, 930, 100, 52), BLACK, flat)
    easel.ball(oval(1300, 920, 44, 26), (70, 72, 76))
    for way in (1, -1):
        loop = [(1300 + way * 90, 950), (1300 + way * 190, 985), (1300 + way * 270, 1060)]
        easel.tube(loop, 8, (190, 210, 80))


def blower(easel: Easel, text: Text, body: Colour) -> None:
    """A backpack blower standing upright, its tube to the right."""
    easel.shadow([(330, 1010), (920, 1010), (960, 1070), (340, 1070)], 20, 10, blur=26)
    frame = rounded([(340, 180), (450, 170), (470, 960), (820, 970), (820, 1030), (330, 1030)], 40)
    easel.fill(frame, (52, 54, 58), flat, angle=0)
    for dx in (0, 70):
        easel.tube([(360 + dx, 240), (270 + dx, 400), (270 + dx, 640), (380 + dx, 800)], 48, (40, 42, 46), gloss=1.2)
    tank = rounded([(470, 800), (800, 800), (820, 960), (480, 965)], 44)
    easel.fill(tank, (222, 218, 202), flat)
    easel.veil([(480, 880), (815, 880), (816, 955), (482, 958)], (206, 160, 90), 0.45, blur=3)
    easel.ball(oval(560, 800, 44, 28), RUBBER)
    engine = rounded([(470, 240), (760, 210), (850, 330), (830, 520), (480, 540)], 80)
    easel.shadow(engine, 10, 20, blur=14)
    easel.fill(engine, body, flat)
    easel.slots(540, 300, 740, 390, 9)
    easel.words(650, 452, text.get("model", ""), 56, (246, 242, 232))
    volute = curve(
        [(460, 640), (520, 520), (660, 490), (800, 540), (850, 660), (800, 780), (640, 820), (500, 770)], closed=True
    )
    easel.shadow(volute, 12, 18, blur=14)
    easel.fill(volute, tint(body, 0.62), flat)
    for r in (120, 96, 72, 48, 24):
        easel.draw.ellipse((650 - r, 655 - r, 650 + r, 655 + r), outline=(22, 23, 25), width=9)
    _tube(easel)


def _tube(easel: Easel) -> None:
    easel.shadow([(850, 720), (1500, 960), (1480, 1020), (830, 820)], 20, 60, blur=26)
    easel.tube([(790, 740), (900, 770)], 110, (56, 58, 62), smooth=False, gloss=1.3)
    for i in range(7):
        x, y = 880 + i * 26, 764 + i * 13
        easel.fill(
            turned(rounded(box(x - 12, y - 62, x + 12, y + 62), 10), 24, (x, y)),
            (48, 50, 54),
            tubular,
            angle=114,
            edge=2,
        )
    easel.tube([(1060, 856), (1460, 1010)], 92, (66, 68, 72), smooth=False, gloss=1.4)
    easel.tube([(1390, 985), (1520, 1034)], 76, (40, 41, 44), smooth=False)
    easel.tube([(1110, 830), (1100, 720), (1150, 650)], 44, RUBBER)
    easel.ball(oval(1152, 650, 28), (200, 60, 40))

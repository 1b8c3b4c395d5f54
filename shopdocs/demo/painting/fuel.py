"""Parts that hold or mix fuel: lines, tank, carburettor, air filter."""

from .easel import ALLOY, BRASS, RUBBER, RUST, STEEL, Colour, Easel, brushed, flat, matte, tubular
from .plates import Text
from .shapes import Points, box, curve, moved, oval, rounded, turned

_AGED = (142, 104, 54)


def _nipple(easel: Easel, x: float, y: float, angle: float) -> None:
    """A brass nipple on its nut; the hose end at x, y is drawn over it. angle: from the nut to the hose."""
    easel.fill(
        turned(rounded(box(x - 190, y - 40, x + 60, y + 40), 12), angle, (x, y)), BRASS, tubular, angle=angle + 90
    )
    easel.fill(
        turned(rounded(box(x - 250, y - 74, x - 170, y + 74), 16), angle, (x, y)), BRASS, tubular, angle=angle + 90
    )


def _clamp(easel: Easel, x: float, y: float, angle: float) -> None:
    """Two turns of wire around the hose end."""
    for dx in (18, 60):
        ring = turned(rounded(box(x + dx - 12, y - 76, x + dx + 12, y + 66), 8), angle, (x, y))
        easel.fill(ring, STEEL, tubular, angle=angle + 90, edge=2)


def cracked_fuel_line(easel: Easel, text: Text, body: Colour) -> None:
    """An old fuel line, split where it bends, wet below."""
    path = [(270, 470), (520, 500), (800, 430), (1050, 520), (1180, 800), (1190, 1230)]
    wet = curve([(600, 900), (760, 830), (960, 860), (1000, 960), (900, 1060), (690, 1070), (580, 990)], closed=True)
    easel.shadow([*moved(path, 0, -50), *moved(path[::-1], 0, 50)], 30, 80, blur=30)
    easel.veil(wet, (150, 104, 40), 0.3, blur=10)
    easel.veil(moved(wet, -16, -18), (255, 240, 206), 0.2, blur=20)
    _nipple(easel, 270, 470, 4)
    easel.tube(path, 124, _AGED, gloss=1.3)
    _clamp(easel, 270, 470, 4)
    easel.veil(curve([(660, 400), (960, 400), (990, 520), (650, 520)], closed=True), (50, 32, 12), 0.5, blur=18)
    for x, lean in ((690, -6), (738, 8), (806, -4), (866, 10), (918, 2)):
        top = 452 - (x - 700) * 0.03
        easel.crack((x, top - 48), (x + lean, top + 34), width=5, wander=7, light=(168, 128, 70))
    easel.crack((716, 436), (920, 428), width=17, wander=12, light=(216, 178, 110))
    easel.specks(box(620, 370, 1000, 520), (40, 26, 10), 70, 9, strength=0.6)
    for x, y, r in ((800, 512, 26), (790, 640, 18), (806, 800, 20)):
        easel.ball([(x, y - r * 1.8), *oval(x, y, r)[0:25]], (190, 140, 60), shine=1.7, deep=0.6)
        easel.ball(oval(x - r * 0.3, y, r * 0.24), (255, 246, 226), shine=1, deep=1)


def fuel_line_new(easel: Easel, text: Text, body: Colour) -> None:
    """The new line fitted, a clamp at both ends."""
    path = [(300, 500), (520, 520), (800, 430), (1060, 500), (1200, 720), (1330, 780)]
    easel.shadow([*moved(path, 0, -50), *moved(path[::-1], 0, 50)], 30, 80, blur=30)
    _nipple(easel, 300, 500, 6)
    _nipple(easel, 1330, 780, 205)
    easel.tube(path, 116, (214, 200, 140), gloss=1.2)
    easel.tube(moved(path, 0, -4), 52, (196, 160, 84), gloss=1.1)
    easel.tube(moved(path, -4, -26), 12, (250, 246, 226), gloss=1)
    _clamp(easel, 300, 500, 6)
    _clamp(easel, 1326, 768, 205)


def cracked_tank(easel: Easel, text: Text, body: Colour) -> None:
    """A see-through fuel tank, split at a lower corner."""
    tank = rounded([(330, 330), (1150, 290), (1290, 420), (1270, 900), (420, 960), (300, 820)], 110)
    easel.shadow(tank, 30, 50, blur=30)
    easel.fill(tank, (226, 222, 206), flat)
    fuel = rounded([(312, 640), (1280, 610), (1268, 890), (424, 950), (304, 815)], 80)
    easel.veil(fuel, (212, 160, 74), 0.5, blur=4)
    easel.veil([(316, 634), (1282, 604), (1282, 622), (316, 654)], (250, 230, 180), 0.6, blur=3)
    easel.tube([(330, 500), (800, 480), (1285, 470)], 22, (214, 210, 194), smooth=False, gloss=1.15)
    easel.fill(rounded([(560, 190), (760, 180), (770, 320), (566, 330)], 20), (196, 192, 178), flat, angle=0)
    cap = rounded([(520, 130), (800, 118), (806, 220), (528, 234)], 26)
    easel.fill(cap, RUBBER, tubular, angle=0)
    for i in range(12):
        easel.draw.line((536 + i * 23, 136, 540 + i * 23, 226), fill=(22, 22, 24), width=6)
    easel.veil([(380, 380), (470, 372), (430, 900), (380, 860)], (255, 255, 255), 0.35, blur=20)
    for end, width in (((860, 560), 16), ((1130, 660), 9)):
        easel.crack((1010, 916), end, width=width, wander=20, light=(250, 240, 216))
    easel.crack((960, 740), (760, 700), width=8, wander=16, light=(250, 240, 216))
    wet = curve([(880, 930), (1100, 900), (1260, 970), (1240, 1100), (1020, 1130), (860, 1040)], closed=True)
    easel.veil(wet, (60, 40, 16), 0.5, blur=12)
    easel.veil(moved(wet, -10, -16), (250, 226, 170), 0.2, blur=18)


def rusty_carburettor(easel: Easel, text: Text, body: Colour) -> None:
    """A carburettor after a winter with old fuel in it."""
    block = rounded([(420, 330), (1120, 310), (1180, 420), (1170, 780), (440, 800), (400, 700)], 40)
    easel.shadow(block, 30, 46)
    easel.fill(block, (150, 150, 146), brushed, angle=75)
    bore = oval(800, 540, 176, 182)
    easel.fill(oval(800, 540, 214, 220), ALLOY, brushed, angle=30)
    easel.fill(bore, (26, 24, 22), flat)
    easel.fill(oval(806, 548, 150, 58, turn=-58), BRASS, flat, angle=20)
    easel.tube([(716, 690), (900, 400)], 22, STEEL, smooth=False)
    bowl = rounded([(500, 800), (1100, 785), (1070, 990), (800, 1030), (540, 1000)], 90)
    easel.fill(bowl, (138, 136, 130), tubular, angle=0)
    easel.screw(800, 1000, 34, BRASS)
    easel.fill(rounded([(1170, 520), (1340, 505), (1344, 580), (1172, 600)], 14), BRASS, tubular, angle=90)
    easel.fill(rounded([(250, 480), (410, 470), (412, 560), (254, 572)], 14), STEEL, tubular, angle=90)
    for x, y in ((490, 400), (1100, 385), (1090, 720), (490, 735)):
        easel.screw(x, y, 34, (116, 96, 78))
    _rusted(easel, [block, bowl, oval(800, 540, 214, 220)])
    easel.specks(bowl, (86, 140, 110), 50, 22, strength=0.55)


def _rusted(easel: Easel, outlines: list[list[tuple[float, float]]]) -> None:
    for outline in outlines:
        easel.specks(outline, RUST, 110, 26, strength=0.75)
        easel.specks(outline, (92, 44, 20), 90, 12, strength=0.85)
        easel.specks(outline, (190, 110, 50), 90, 6, strength=0.8)


def dirty_air_filter(easel: Easel, text: Text, body: Colour) -> None:
    """A pleated filter, clean on the left by contrast, clogged on the right."""
    frame = rounded([(290, 330), (1290, 280), (1340, 850), (300, 920)], 40)
    easel.shadow(frame, 30, 46)
    easel.fill(frame, (44, 46, 48), flat)
    for i in range(22):
        x = 345 + i * 42.6
        top, low = 374 - i * 2.1, 868 - i * 2.8
        pleat = [(x, top), (x + 40, top - 2), (x + 42, low - 3), (x + 2, low)]
        easel.fill(pleat, (224, 212, 184), tubular, angle=0, edge=0)
    clogged: Points = curve([(560, 355), (1210, 345), (1236, 790), (650, 830), (690, 700), (540, 560)], closed=True)
    easel.veil(clogged, (84, 70, 50), 0.8, blur=12)
    easel.specks(clogged, (50, 40, 28), 240, 20, strength=0.8)
    easel.specks(clogged, (196, 164, 108), 200, 9, strength=0.9)
    easel.specks(frame, (150, 124, 80), 160, 7, strength=0.9)
    for _ in range(60):
        x, y = easel.rng.uniform(650, 1240), easel.rng.uniform(380, 800)
        dx, dy = easel.rng.uniform(-50, 50), easel.rng.uniform(-24, 24)
        shade = easel.rng.choice([(96, 110, 50), (70, 86, 40), (170, 140, 90)])
        easel.draw.line((x, y, x + dx, y + dy), fill=shade, width=easel.rng.randrange(4, 9))
    easel.specks(box(120, 940, 1500, 1160), (140, 112, 70), 120, 12, strength=0.9)


def new_air_filter(easel: Easel, text: Text, body: Colour) -> None:
    """The same filter, new."""
    frame = rounded([(290, 330), (1290, 280), (1340, 850), (300, 920)], 40)
    easel.shadow(frame, 30, 46)
    easel.fill(frame, (44, 46, 48), matte)
    for i in range(22):
        x = 345 + i * 42.6
        top, low = 374 - i * 2.1, 868 - i * 2.8
        easel.fill(
            [(x, top), (x + 40, top - 2), (x + 42, low - 3), (x + 2, low)], (236, 226, 200), tubular, angle=0, edge=0
        )

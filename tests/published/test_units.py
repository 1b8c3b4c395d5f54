"""Units of measurement against published conversion tables, and a manual's own slip."""

from decimal import Decimal

import pytest

from orders.rules.units import convert

D = Decimal


# http://navalfacilities.tpub.com/1004_6/1004_60046.htm and http://brassmein.com/tech/tech003.htm ; both undated,
# read. 'exact' rows are definitions. The three of lbf: NIST SP 811, appendix B.8, as the R package NISTunits carries its
# rows (https://rdrr.io/cran/NISTunits/man/NISTpoundForceFtTOnewtonMeter.html and the source beside it; read). inHg: from
# memory of the same table. Each row: one of the first unit in the second, to the figures that are printed.
@pytest.mark.parametrize(
    ("start", "end", "places", "printed"),
    [
        ("in", "mm", 1, "25.4"),
        ("gal", "L", 5, "3.78541"),
        ("fl oz", "mL", 4, "29.5735"),
        ("lbf", "N", 6, "4.448222"),
        ("lbf in", "N m", 6, "0.112985"),
        ("lbf ft", "N m", 6, "1.355818"),
        ("psi", "kPa", 6, "6.894757"),
        ("inHg", "kPa", 6, "3.386389"),
        ("lb", "kg", 8, "0.45359237"),
        ("ft", "m", 4, "0.3048"),
    ],
)
def test_factor(start: str, end: str, places: int, printed: str) -> None:
    assert str(convert(D(1), start, end, places)) == printed


# Torque rows computed from those factors.
@pytest.mark.parametrize(
    ("value", "start", "end", "expected"),
    [
        ("20", "lbf ft", "N m", "27.1"),
        ("120", "lbf in", "N m", "13.6"),
        ("275", "lbf in", "N m", "31.1"),
        ("300", "lbf in", "N m", "33.9"),
        ("20", "N m", "lbf ft", "14.8"),
    ],
)
def test_torque(value: str, start: str, end: str, expected: str) -> None:
    assert str(convert(D(value), start, end, 1)) == expected


# Spark plug gap, TM 5-4310-360-14, https://compressors.tpub.com/TM-5-4310-360-14/TM-5-4310-360-140049.htm ; read. The
# page prints 0.030 in as 0.08382 cm, which is 0.033 in; its 0.028 in = 0.07112 cm is right.
def test_the_gap_that_a_manual_converts_wrongly() -> None:
    assert convert(D("0.028"), "in", "mm", 4) == D("0.7112")
    assert convert(D("0.030"), "in", "mm", 4) == D("0.7620") != D("0.8382")
    assert convert(D("0.8382"), "mm", "in", 3) == D("0.033")


# Spark plug gap of another manual, TM 10-3930-653-14&P,
# http://constructionforklifts.tpub.com/TM-10-3930-653-14P/css/TM-10-3930-653-14P_125.htm ; read: 0.7 to 0.8 mm is
# 0.028 to 0.031 in.
def test_the_gap_that_a_manual_converts_rightly() -> None:
    assert (convert(D("0.7"), "mm", "in", 3), convert(D("0.8"), "mm", "in", 3)) == (D("0.028"), D("0.031"))


# Spark screen opening, 14 CCR 1242,
# https://regulations.justia.com/states/california/title-14/division-1-5/chapter-7/article-3/section-1242 ; read: prints
# 0.0232 in as 0.584 mm; exactly it is 0.58928 mm, which rounds to 0.589. Wire: 0.013 in is 0.330 mm, as printed.
def test_the_screen_opening_as_printed_is_cut_short() -> None:
    assert convert(D("0.0232"), "in", "mm", 5) == D("0.58928")
    assert convert(D("0.0232"), "in", "mm", 3) == D("0.589") != D("0.584")
    assert convert(D("0.013"), "in", "mm", 3) == D("0.330")

"""Oil for two-stroke fuel, as printed on a customer's repair summary. The manual's ratio goes before any other. Pure.

Rounded once, at the end: twice a rounded figure is not the rounded figure of twice as much.
"""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum
from fractions import Fraction

from shopdocs.money import Step, exact, plain
from shopdocs.problems import BadInput


class Volume(StrEnum):
    """The unit of the fuel, with the unit that its oil is given in."""

    US_GALLON = "US gal"
    IMPERIAL_GALLON = "imp gal"
    LITRE = "L"


_OIL = {
    Volume.US_GALLON: ("fl oz", 128),
    Volume.IMPERIAL_GALLON: ("imp fl oz", 160),
    Volume.LITRE: ("mL", 1000),
}


@dataclass(frozen=True, slots=True)
class OilForFuel:
    """The oil for an amount of fuel: exact, and in the unit people measure it with."""

    fuel: Decimal
    volume: Volume
    ratio: Decimal
    oil: Fraction
    unit: str

    def rounded(self, decimals: int = 1) -> Decimal:
        """The oil half-up to so many decimals."""
        scaled = self.oil * 10**decimals
        whole = (2 * scaled.numerator + scaled.denominator) // (2 * scaled.denominator)
        return Decimal(whole).scaleb(-decimals)

    @property
    def words(self) -> str:
        """'5.1 fl oz of oil to 2 US gal of fuel (50:1)'."""
        oil = plain(self.rounded(0 if self.unit == "mL" else 1))
        return f"{oil} {self.unit} of oil to {plain(self.fuel)} {self.volume} of fuel ({plain(self.ratio)}:1)"

    @property
    def steps(self) -> tuple[Step, ...]:
        """How it came about."""
        parts = _OIL[self.volume][1]
        return (
            Step(f"{plain(self.fuel)} {self.volume} is {plain(self.fuel * parts)} {self.unit}", self.fuel * parts),
            Step(f"Divided by {plain(self.ratio)}, rounded once", self.rounded(2)),
        )


def oil_for(fuel: Decimal, ratio: Decimal, volume: Volume = Volume.US_GALLON) -> OilForFuel:
    """The oil for `fuel` at `ratio` to one (50 means 50:1). Fuel is above zero, the ratio between 10 and 200."""
    if not 0 < exact(fuel, "fuel") <= 1000:
        raise BadInput("fuel", f"{fuel} {volume} of fuel is out of range.", "Give an amount above 0, up to 1000.")
    if not 10 <= exact(ratio, "ratio") <= 200:
        raise BadInput("ratio", f"{ratio}:1 is no usual mix.", "Give the manual's ratio, such as 50.")
    unit, parts = _OIL[volume]
    return OilForFuel(fuel, volume, ratio, Fraction(fuel) * parts / Fraction(ratio), unit)

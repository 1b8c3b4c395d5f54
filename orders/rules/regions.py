"""Where a machine is used, as one code: ISO 3166-1 for a country, ISO 3166-2 for a region in it. Pure.

Source of the codes: orders/rules/data/regions.yaml, from memory.
"""

from __future__ import annotations

import difflib
import re
from dataclasses import dataclass
from functools import cache
from pathlib import Path

from orders.rules import strict
from orders.rules.trade import DATA

_FORM = re.compile(r"[A-Z0-9]{1,3}")  # what follows the country in a code of ISO 3166-2


@dataclass(frozen=True)
class Regions:
    """`countries`: every code of a country. `names`: code of a listed region to its name. `listed`: countries whose regions are."""

    countries: frozenset[str]
    names: dict[str, str]

    @property
    def listed(self) -> frozenset[str]:
        return frozenset(code[:2] for code in self.names)


def load_regions(path: Path = DATA / "regions.yaml") -> Regions:
    """Reads the file; raises DataError (file:line: problem) for a wrong row or a doubled code."""
    whole = strict.read(path).fields(["countries", "regions"])
    countries = frozenset(code for line in whole["countries"].items() for code in line.text().split())
    names: dict[str, str] = {}
    for item in whole["regions"].items():
        row = item.fields(["code", "name"])
        code = row["code"].text()
        if code in names:
            raise item.refuse(f"the region '{code}' stands here twice")
        if code[:2] not in countries or not _FORM.fullmatch(code[3:]):
            raise item.refuse(f"'{code}' is not a code of a region")
        names[code] = row["name"].text()
    return Regions(countries, names)


@cache
def regions() -> Regions:
    """The shipped data, read on first use and kept."""
    return load_regions()


def region_code(text: str, country: str) -> str | None:
    """The code of what was typed, in a shop of `country`: 'US-OH', or 'CA' in Canada for the country alone.

    A bare code is a region of the shop's country first ('CA' is California in the United States), then its country. A
    full name of a listed region is read too. None for anything else: it is not known then, and never a region of the shop's country.
    """
    known, word = regions(), " ".join(text.split()).upper()
    if "-" in word:
        head, tail = word.split("-", 1)
        if head not in known.countries or not _FORM.fullmatch(tail):
            return None
        return word if head not in known.listed or word in known.names else None
    if word == country:
        return country
    own = f"{country}-{word}"
    if own in known.names:
        return own
    if country not in known.listed and _FORM.fullmatch(word):
        return None if word in known.listed else own  # 'US' typed in a German shop is hardly a German region
    return word if word in known.listed else by_name(word)


def shop_region(text: str, country: str) -> str | None:
    """A shop's own region as it is kept: 'OH' for 'oh', 'Ohio' or 'US-OH'; as typed where no list of that country is known.

    None for what is no region of the country.
    """
    typed = " ".join(text.split())
    if not typed or country not in regions().listed:
        return typed
    code = region_code(typed, country)
    return code[3:] if code in regions().names and code.startswith(f"{country}-") else None


def near(text: str, country: str) -> list[str]:
    """Codes with names of the country's regions that are much like what was typed; all of them where none is."""
    word = " ".join(text.split()).casefold()
    listed = {name.casefold(): f"{code[3:]} ({name})" for code, name in regions().names.items() if code[:2] == country}
    alike = difflib.get_close_matches(word, listed, n=3, cutoff=0.6)
    return [listed[name] for name in alike] or sorted(listed.values())


def by_name(word: str) -> str | None:
    """The code of a listed region with this full name, whatever the capitals."""
    return next((code for code, name in regions().names.items() if name.casefold() == word.casefold()), None)


def meant(word: str) -> str:
    """The code that a bare code of another country's listed region stands for ('ON': 'CA-ON'); '' where there is none."""
    return next((code for code in regions().names if code[3:] == word.strip().upper()), "")

"""Whether plain English tells that an emission control is taken off for good. The words are data (`operations.yaml`, `told`)."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import cache

from orders.rules.trade import trade
from warranty.coverage.loader import root_of

LISTS = (
    "verbs", "commands", "apart", "halves", "between", "restored", "light", "denied", "put_back", "substitutes", "pipes", "pipes_beside",
    "others", "belongs",
)  # fmt: skip
CODES = r"<(?P<part>\w+)>"
ANY = r"<\w+>"
AUXILIARY = r"(?:is|was|are|were|has|have|had|been|to|be|now|must|may|should|can|will|and|muffler|element|completely)"
ARTICLE = r"(?:the|a|an|its|this|that|your|old|whole)"
ENDS = re.compile(r"[.;!?:]")
PIECES = re.compile(r"[,.;!?:()&]|\b(?:and|then|but|before|after)\b")


@dataclass(frozen=True)
class _Ways:
    """The patterns, over a text in which each guarded part stands as `<code>`."""

    codes: Mapping[str, str]
    names: re.Pattern[str]
    others: re.Pattern[str]
    taken: tuple[re.Pattern[str], ...]
    pipes: re.Pattern[str]
    beside: re.Pattern[str]
    instead: re.Pattern[str]
    restored: str
    substitutes: re.Pattern[str]
    light: frozenset[str]
    denied: re.Pattern[str]


@cache
def _ways() -> _Ways:
    row = root_of("operations.yaml").fields(["refused", "told", "duties"])["told"].fields([*LISTS, "names"])
    word = {key: _either(row[key].texts()) for key in LISTS}
    codes: dict[str, str] = {}
    for node in row["names"].items():
        name = node.fields(["code", "as"])
        codes |= dict.fromkeys(name["as"].texts(), name["code"].one_of(trade().components, "component"))
    fill = rf"(?:{word['between']}|{ANY})"
    back, deny = word["put_back"], r"(?:not|never)"
    return _Ways(
        codes,
        re.compile(rf"\b(?P<name>{_either(codes)})\b(?!\s+{word['belongs']}\b)"),
        re.compile(rf"\b{word['others']}\b"),
        (
            re.compile(rf"\b{word['verbs']}(?:[\s,]+{word['between']})*[\s,]+{CODES}"),
            re.compile(rf"\b{word['commands']}(?:\s+{ARTICLE})*\s+{CODES}"),
            re.compile(rf"\b{word['apart']}(?:\s+{fill})*?\s+{CODES}(?:\s+{fill})*?\s+{word['halves']}\b"),
            re.compile(rf"{CODES}(?:\s+{AUXILIARY})*\s+{word['verbs']}\b"),
            re.compile(rf"{CODES}[^.;!?]*\bwithout\s+(?:it|them|one|that)\b"),
            re.compile(rf"{CODES}[^.;!?]*\b{deny}\s+(?:be\s+|been\s+)?{back}\b"),
            re.compile(rf"\b{deny}\s+{back}(?:\s+{word['between']})*\s+{CODES}"),
        ),
        re.compile(rf"\b{word['pipes']}\b"), re.compile(rf"\b{word['pipes_beside']}\b|<muffler_catalyst>"),
        re.compile(rf"{CODES}(?:\s+\w+)?\s+(?:with|by|for)\s+(?:\w+\s+){{0,2}}{word['substitutes']}\b"),
        word["restored"], re.compile(rf"\b{word['substitutes']}\b"), frozenset(row["light"].texts()), re.compile(rf"\b{word['denied']}\b"),
    )  # fmt: skip


def _either(words: Iterable[str]) -> str:
    longest_first = sorted(words, key=lambda word: (-len(word), word))
    return f"(?:{'|'.join(re.escape(word) for word in longest_first)})"


def taken_off(text: str) -> str | None:
    """The code of the first guarded part that the text says is taken off, emptied or put out of work for good, or None."""
    ways = _ways()
    plain = _plain(text, ways)
    found = [match for way in (*ways.taken, ways.instead) for match in way.finditer(plain)]
    for match in sorted(found, key=lambda one: (one.start(), one.end())):
        if not _denied(plain, match, ways) and not _put_right(plain, match, ways):
            return match["part"]
    return "muffler_catalyst" if _piped(plain, ways) else None


def _plain(text: str, ways: _Ways) -> str:
    """The text in small letters, with `<code>` for each guarded part and `other` for what only sounds like one."""
    plain = text.casefold().replace("\u2019", "'").replace("n't", " not").replace("-", " ")
    plain = ways.others.sub("other", " ".join(re.sub(r"[<>]", " ", plain).split()))
    return ways.names.sub(lambda found: f"<{ways.codes[found['name']]}>", plain)


def _denied(plain: str, match: re.Match[str], ways: _Ways) -> bool:
    """Whether a word that denies stands shortly before the verb, or the sentence ends with a refusal."""
    before = PIECES.split(plain[: match.start()])[-1].split()[-4:]
    after = ENDS.split(plain[match.end() :], maxsplit=1)[0].rsplit(",", 1)[-1]
    within = match.group() if re.search(r"\b(?:not|never)\b", match.group()) is None else ""
    refusal = re.search(r"\b(?:refused|declined)$", after.strip())
    return bool(
        ways.denied.search(" ".join(before)) or before[-1:] == ["without"] or ways.denied.search(within) or refusal
    )


def _put_right(plain: str, match: re.Match[str], ways: _Ways) -> bool:
    """Whether the text goes on to tell that this part went back or a new one was fitted; of an old one it may say so before."""
    part = f"<{match['part']}>"
    link = rf"(?:\s+(?:{ARTICLE}|muffler|new|good|genuine|and|in|of|{AUXILIARY}|{ANY}))*"
    named = re.compile(rf"\b{ways.restored}\b{link}\s+{part}|{part}{link}\s+{ways.restored}\b")
    if re.search(rf"\bold\s[^.,;!?]*{part}", plain[: match.end()].rpartition(",")[2]) and named.search(
        plain[: match.start()]
    ):
        return True
    after = plain[match.end() :]
    told = named.search(after)
    if (
        told
        and not re.search(r"\b(?:not|never|without)\b", told.group())
        and not ways.instead.match(after, told.end() - len(part))
    ):
        return True
    return any(_light(piece, ways) for piece in PIECES.split(after))


def _light(piece: str, ways: _Ways) -> bool:
    """Whether a piece tells of putting back and names no other part: 'refitted both', 'it was put back with a new gasket'."""
    head, _, tail = piece.partition(" with ")
    bare, count = re.subn(rf"\b{ways.restored}\b", " ", head)
    return count > 0 and not set(bare.split()) - ways.light and not ways.substitutes.search(tail)


def _piped(plain: str, ways: _Ways) -> bool:
    """Whether a straight pipe is told of beside an exhaust, and no catalyst that is fitted after it."""
    for sentence in ENDS.split(plain):
        found = ways.pipes.search(sentence)
        if found and ways.beside.search(sentence) and not ways.denied.search(sentence[: found.start()]):
            taken = re.search(r"\b(?:remove|removed|replace|replaced)\s+(?:\w+\s+)?$", sentence[: found.start()])
            if not (taken and "<muffler_catalyst>" in plain):
                return True
    return False

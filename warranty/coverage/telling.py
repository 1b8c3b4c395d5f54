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
    "others", "belongs", "destroyed", "renewed", "piercing", "shells", "emptied", "undone", "fitting", "place_of", "purposes", "kept", "mended",
    "insides",
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
    short: Mapping[str, frozenset[str]]
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
    undone: re.Pattern[str]
    destroyed: re.Pattern[str]
    renewed: str
    kept: str
    purpose: re.Pattern[str]
    mended: re.Pattern[str]
    shells: str


@cache
def _ways() -> _Ways:
    row = root_of("operations.yaml").fields(["refused", "told", "duties"])["told"].fields([*LISTS, "names", "lacking"])
    word = {key: _either(row[key].texts()) for key in LISTS}
    lacking = {key: _either(node.texts()) for key, node in row["lacking"].fields(["before", "after"]).items()}
    codes: dict[str, str] = {}
    short: dict[str, frozenset[str]] = {}
    for node in row["names"].items():
        name = node.fields(["code", "short", "as"])
        code = name["code"].one_of(trade().components, "component")
        codes |= dict.fromkeys(name["as"].texts(), code)
        short[code] = frozenset(name["short"].texts())
    fill = rf"(?:{word['between']}|{ANY})"
    back, deny = word["put_back"], r"(?:not|never)"
    aux = rf"(?:{AUXILIARY}|{word['insides']})"
    shell = rf"(?P<part>{word['shells']})"
    return _Ways(
        codes, short,
        re.compile(rf"\b(?P<name>{_either(codes)})\b(?!\s+(?:muffler\s+)?{word['belongs']}\b)"),
        re.compile(rf"\b{word['others']}\b"),
        (
            re.compile(rf"\b{word['verbs']}(?:[\s,]+{word['between']})*[\s,]+{CODES}"),
            re.compile(rf"\b{word['commands']}(?:\s+{ARTICLE})*\s+{CODES}(?!\s+(?:(?:in|on)\s*(?:$|[,.;!?:]|again|place)|back\b))"),
            re.compile(rf"\b{word['verbs']}(?:\s+{ARTICLE})?\s+\w+\s+and(?:\s+{ARTICLE})?\s+{CODES}"),
            re.compile(rf"\b{word['piercing']}(?:\s+\w+){{0,3}}?\s+holes?\s+(?:through|in|into)(?:\s+{word['between']})*\s+{CODES}"),
            re.compile(rf"(?<!\w){CODES}(?!(?:\s+\w+){{0,3}}\s+{word['restored']}\b)(?:\s+\w+){{0,3}}(?:,|,?\s+and)\s*{word['verbs']}(?:\s+(?:it|them))?(?=\s*(?:[.,;!?]|$))"),
            re.compile(rf"\b{word['emptied']}(?:\s+{ARTICLE})*\s+{shell}\b"),
            re.compile(rf"\b{shell}(?:\s+{AUXILIARY})*\s+{word['emptied']}\b"),
            re.compile(rf"\b{word['fitting']}\s+(?:\w+\s+){{0,2}}?(?:{lacking['before']}\s+{CODES})"),
            re.compile(rf"\b{word['fitting']}\s+(?:\w+\s+){{0,2}}?{CODES}\s+{lacking['after']}\s+{word['shells']}\b"),
            re.compile(rf"\b{word['substitutes']}(?:\s+\w+)?\s+{word['place_of']}(?:\s+{word['between']})*\s+{CODES}"),
            re.compile(rf"\b{word['apart']}(?:\s+{fill})*?\s+{CODES}(?:\s+{fill})*?\s+{word['halves']}\b"),
            re.compile(rf"{CODES}(?:\s+{aux})*\s+{word['verbs']}\b"),
            re.compile(rf"{CODES}[^.;!?]*\bwithout\s+(?:it|them|one|that)\b"),
            re.compile(rf"{CODES}[^.;!?]*\b{deny}\s+(?:be\s+|been\s+)?{back}\b"),
            re.compile(rf"\b{deny}\s+{back}(?:\s+{word['between']})*\s+{CODES}"),
        ),
        re.compile(rf"\b{word['pipes']}\b"), re.compile(rf"\b{word['pipes_beside']}\b|<muffler_catalyst>"),
        re.compile(rf"{CODES}(?:\s+\w+)?\s+(?:with|by|for)\s+(?:\w+\s+){{0,2}}{word['substitutes']}\b"),
        word["restored"], re.compile(rf"\b{word['substitutes']}\b"), frozenset(row["light"].texts()), re.compile(rf"\b{word['denied']}\b"),
        re.compile(rf"\b{word['undone']}\b"), re.compile(rf"\b{word['destroyed']}\b"), word["renewed"], word["kept"],
        re.compile(rf"\s*(?:(?:muffler|assembly|unit|{ANY})\s+)?(?:for|to)\s+(?:{ARTICLE}\s+)?{word['purposes']}\b(?![^.;!?]*\b(?:more|richer|louder)\b)"),
        re.compile(rf"\b{word['mended']}(?:\s+{ARTICLE})*\s*$"), word["shells"],
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
            return match["part"] if match["part"] in ways.short else "muffler_catalyst"
    return "muffler_catalyst" if _piped(plain, ways) else None


def _plain(text: str, ways: _Ways) -> str:
    """The text in small letters, with `<code>` for each guarded part and `other` for what only sounds like one."""
    plain = text.casefold().replace("\u2019", "'").replace("n't", " not").replace("-", " ")
    plain = ways.undone.sub("delete catalyst", " ".join(plain.split()))
    plain = ways.others.sub("other", " ".join(re.sub(r"[<>]", " ", plain).split()))
    return ways.names.sub(lambda found: f"<{ways.codes[found['name']]}>", plain)


def _denied(plain: str, match: re.Match[str], ways: _Ways) -> bool:
    """Whether a word that denies stands shortly before the verb, or the sentence ends with a refusal."""
    before = PIECES.split(plain[: match.start()])[-1].split()[-4:]
    after = ENDS.split(plain[match.end() :], maxsplit=1)[0].rsplit(",", 1)[-1]
    within = match.group() if re.search(r"\b(?:not|never)\b", match.group()) is None else ""
    refusal = re.search(r"\b(?:refused|declined)$", after.strip()) or _refused_next(plain[match.end() :], ways)
    return bool(
        ways.denied.search(" ".join(before)) or before[-1:] == ["without"] or ways.denied.search(within) or refusal
    )


def _refused_next(after: str, ways: _Ways) -> bool:
    """Whether the next sentence is a bare refusal of what the one before told of: '; we declined'."""
    following = [piece.split() for piece in ENDS.split(after)[1:2]]
    return any(
        {"refused", "declined"} & set(words) and not set(words) - {"refused", "declined", *ways.light}
        for words in following
    )


def _put_right(plain: str, match: re.Match[str], ways: _Ways) -> bool:
    """Whether the text goes on to tell that this part went back or a new one was fitted; of an old one it may say so before."""
    part = f"<{match['part']}>" if match["part"] in ways.short else rf"(?:{ways.shells}|<muffler_catalyst>)"
    gone = ways.destroyed.search(match.group()) is not None
    restored = ways.renewed if gone else ways.restored
    if ways.mended.search(PIECES.split(plain[: match.start()])[-1]):
        return True
    if not gone and ways.purpose.match(plain[match.end() :]):
        return True
    link = rf"(?:\s+(?:{ARTICLE}|muffler|new|good|genuine|and|in|of|{AUXILIARY}|{ANY}))*"
    named = re.compile(rf"\b{restored}\b{link}\s+{part}|{part}{link}\s+{restored}\b")
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
        and not re.search(rf"\bnon\s+{part}$", told.group())
    ):
        return True
    words = restored if gone else rf"(?:{restored}|{ways.kept})"
    short = ways.short.get(match["part"], frozenset())
    return any(_light(piece, words, ways.light | short, ways) for piece in PIECES.split(after))


def _light(piece: str, restored: str, light: frozenset[str], ways: _Ways) -> bool:
    """Whether a piece tells of putting back and names no other part: 'refitted both', 'it was put back with a new gasket'."""
    head, _, tail = piece.partition(" with ")
    bare, count = re.subn(rf"\b{restored}\b", " ", head)
    return count > 0 and not set(bare.split()) - light and not ways.substitutes.search(tail)


def _piped(plain: str, ways: _Ways) -> bool:
    """Whether a straight pipe is told of beside an exhaust, and no catalyst that is fitted after it."""
    for sentence in ENDS.split(plain):
        found = ways.pipes.search(sentence)
        if found and ways.beside.search(sentence) and not ways.denied.search(sentence[: found.start()]):
            taken = re.search(r"\b(?:remove|removed|replace|replaced)\s+(?:\w+\s+)?$", sentence[: found.start()])
            if not (taken and "<muffler_catalyst>" in plain):
                return True
    return False

"""A known defect in words, from the plain record of how it compares."""

from __future__ import annotations

from typing import Any

from shopdocs.documents.press.words import Say
from warranty.coverage.phrases import SETTLED, SETTLED_OTHERWISE
from warranty.coverage.step_words import listed


def defect_words(one: dict[str, Any], say: Say) -> str:
    """How it compares, the check with its precaution, what would tell, the remedy, and whether it is open. What the shop typed stays."""
    fits = (
        say("Known defect {id} fits: {title}.") if one["fits"] == "fits" else say("Known defect {id} may fit: {title}.")
    )
    lines = [fits.format(id=one["id"], title=_bare(one["title"]))]
    open_facts = [say(what) for what, outcome, _ in one["checks"] if outcome == "cannot tell"]
    if open_facts:
        lines.append(say("Not known yet: {facts}.").format(facts=listed(open_facts, say)))
    if not one["findings"]:
        lines.append(say("No finding shows it so far."))
    check = say("Check: {check} ({precaution}).")
    lines.append(check.format(check=_bare(one["check"]), precaution=_bare(one["precaution"])))
    for text, key in ((say("Speaks for it: {facts}."), "confirm"), (say("Rules it out: {facts}."), "rule_out")):
        if one[key]:
            lines.append(text.format(facts="; ".join(_bare(fact) for fact in one[key])))
    lines.append(say("Remedy: {remedy}.").format(remedy=_bare(one["remedy"])))
    if one["improved_since"]:
        lines.append(say("Improved part since: {since}.").format(since=_bare(one["improved_since"])))
    usual = SETTLED_OTHERWISE if one["settled"] == "varies" else SETTLED
    lines.append(f"{say(usual[one['why']]).format(how=say(one['settled']))} [{say(one['source'])}]")
    return " ".join(lines)


def _bare(words: str) -> str:
    """Words that a sentence goes on after."""
    return words.rstrip(".")

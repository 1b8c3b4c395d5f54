"""What a new version of an estimate changes, out of the frozen facts of both versions."""

from __future__ import annotations

import datetime as dt
from decimal import Decimal
from typing import Any

from orders.papers.estimate_change import ChangedJob, ChangedLine, EstimateChangeSheet
from shopdocs.documents.press.words import Words, words

from .sheets import added_name, frame, party, unit

Facts = dict[str, Any]
KINDS = ("labour", "parts", "fees")


def change_sheet(before: Facts, now: Facts) -> EstimateChangeSheet:
    """The sheet of the change from one version to a later one: jobs that are new, dropped or altered, and the sums."""
    say = words(now["shop"]["language"])
    earlier = {job["id"]: job for job in before["jobs"]}
    later = {job["id"]: job for job in now["jobs"]}
    changed = [_job(earlier.get(pk), later.get(pk), say) for pk in dict.fromkeys((*later, *earlier))]
    was, will_be = Decimal(before["customer_total"]), Decimal(now["customer_total"])
    return EstimateChangeSheet(
        **frame(now, number=now["number"], version=now["edition"], title="Change to an estimate"),
        customer=party(now["customer"]),
        unit=unit(now["unit"]),
        repair_order=now["order"],
        replaces=before["edition"],
        replaced_on=dt.date.fromisoformat(before["issued_on"]),
        jobs=tuple(one for one in changed if one is not None),
        unchanged=tuple(
            f"{say('Job')} {later[pk]['number']}, {later[pk]['title']}"
            for pk in later
            if pk in earlier and _job(earlier[pk], later[pk], say) is None
        ),
        before=was,
        now=will_be,
        difference=will_be - was,
        answer_how=now["answer_how"],
        cautions=tuple(now["cautions"]),
    )


def _job(before: Facts | None, now: Facts | None, say: Words) -> ChangedJob | None:
    """The job's change, None when it says and costs the same to the same payer. One of the two is there."""
    told = now or before
    assert told is not None
    lines = _lines(before, now, say)
    state = "new" if before is None else "dropped" if now is None else "changed"
    same = before is not None and now is not None and not lines
    if same and all(before[name] == now[name] for name in ("title", "found", "payer", "net")):  # type: ignore[index]
        return None
    why = now["found"] if now is not None and (before is None or before["found"] != now["found"]) else ""
    if before is not None and now is not None and before["title"] != now["title"]:
        why = f"{say('Before')}: {before['title']}. {why}".rstrip()
    return ChangedJob(
        number=told["number"],
        title=told["title"],
        state=state,
        why=why,
        payer_before=before["payer_words"] if before else "",
        payer_now=now["payer_words"] if now else "",
        lines=lines,
        before=Decimal(before["net"]) if before else None,
        now=Decimal(now["net"]) if now else None,
    )


def _lines(before: Facts | None, now: Facts | None, say: Words) -> tuple[ChangedLine, ...]:
    """The lines whose words, quantity or amount differ: those of the new version in their order, then those dropped."""
    earlier, later = _by_key(before, say), _by_key(now, say)
    changed = []
    for key in dict.fromkeys((*later, *earlier)):
        one, two = earlier.get(key), later.get(key)
        if one is not None and two is not None and one == two:
            continue
        shown = two or one
        assert shown is not None
        changed.append(
            ChangedLine(code=shown[0], what=shown[1], before=one[2] if one else None, now=two[2] if two else None)
        )
    return tuple(changed)


def _by_key(job: Facts | None, say: Words) -> dict[str, tuple[str, str, Decimal]]:
    """Code, words and amount of each line, by its id; what pricing added (supplies, a minimum) by its words."""
    if job is None:
        return {}
    listed: dict[str, tuple[str, str, Decimal]] = {}
    for kind in KINDS:
        for line in job.get(kind, ()):
            told = line["words"] if kind != "parts" else f"{_number(line['quantity'])} x {line['words']}"
            listed[line["id"]] = (line.get("code") or line.get("number") or "", told, Decimal(line["amount"]))
    for line in job.get("extras", ()):
        listed[f"{line['kind']}:{line['words']}"] = ("", added_name(line, say), Decimal(line["amount"]))
    return listed


def _number(text: str) -> str:
    return f"{Decimal(text).normalize():f}"

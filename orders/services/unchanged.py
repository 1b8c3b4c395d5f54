"""A version of an estimate that would say nothing new is refused: two papers that say the same are one too many."""

from __future__ import annotations

from typing import Any

from orders.models import Answer, Estimate, Job
from shopdocs.documents.services.papers import sheet_digest

from .records import taken

Facts = dict[str, Any]

OF_THE_VERSION = ("edition", "issued_on", "valid_until", "code")
"""What every version has for itself; the words with which a job is accepted name some of it."""


def refuse_unchanged(before: Estimate, now: Estimate, jobs: list[Job]) -> None:
    """Conflict when `now` would say what `before` says, which can still be answered or was accepted as a whole."""
    if now.issued_on > before.valid_until or _says(before) != _says(now):
        return
    rows = Answer.objects.for_shop(before.shop).filter(estimate=before)
    answers: dict[Any, bool] = dict(rows.values_list("job", "accepted"))
    which = f"Version {before.edition} of {before.number}"
    if not answers:
        problem = f"{which} of {before.issued_on} says the same and is valid until {before.valid_until}."
        remedy = f"Send that one (estimates/{before.pk}/send/), or change the order first."
    elif all(answers.get(job.pk) and job.state == Job.State.AGREED for job in jobs):
        problem = f"{which} says the same, and the customer has accepted all of it."
        remedy = "Do the work, or change the order first."
    else:
        return
    raise taken("estimate", problem, remedy, estimate=str(before.pk), edition=before.edition)


def _says(estimate: Estimate) -> str:
    """The digest of what the version says, without what is its own alone: its days, and where each job stands."""
    facts = {name: value for name, value in estimate.facts.items() if name not in OF_THE_VERSION}
    own = ("agree", "state")
    facts["jobs"] = [{name: value for name, value in job.items() if name not in own} for job in facts["jobs"]]
    facts["legal_fields"] = [{**law, "fields": [_dateless(one) for one in law["fields"]]} for law in _laws(facts)]
    facts["valid_for"] = (estimate.valid_until - estimate.issued_on).days
    return sheet_digest(facts)


def _laws(facts: Facts) -> list[Facts]:
    listed: list[Facts] = facts.get("legal_fields", [])
    return listed


def _dateless(field: Facts) -> Facts:
    return {**field, "value": ""} if field["answer"] == "issued_on" else field

"""Rules of limits: hours run, and a part's first scheduled replacement."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal

from warranty.coverage.case import Case, Step
from warranty.coverage.facts import RepairFacts
from warranty.coverage.shapes import Period, Term
from warranty.coverage.timing import Rule, Span, inside, last_day, repairs_of, starts
from warranty.coverage.vocabulary import NO, NO_SCHEDULE, NONE_SCHEDULED, NOT_IN_SCHEDULE, OPEN, YES


def hours(term: Term) -> Rule:
    """Hours run are at most the limit. A limit that the giver may, but need not, invoke fails only when it is invoked."""
    asked = term.hours
    assert asked is not None
    source, role, since_repair = term.cite("hours"), term.machines.label_of, term.start.base == "repair"
    restarts = term.replacement == "new_period"

    def limit_of(case: Case) -> Decimal | None:
        if asked.limit is not None:
            return asked.limit
        assembly = case.unit.assembly(role)
        printed: Decimal | None = None if assembly is None else assembly.told("useful_life_hours")
        return None if printed is None or asked.percent_of_label is None else printed * asked.percent_of_label / 100

    def metered(case: Case, limit: Decimal | None) -> tuple[str, str, str]:
        run, whole, unit = case.view.least_hours, case.view.changes_known, case.unit
        begun = _begun(term, case) if since_repair else ()
        if since_repair:
            at = max((one.hours for one, sure in begun if sure and one.hours is not None), default=None)
            if at is None and unit.hours is not None and limit is not None and run <= limit and whole:
                return YES, "unit.hours", ""  # whatever it showed at the repair, it has not run more since
            if limit is not None and unit.meter_changes is not None and _past_since_any(begun, run, limit):
                return NO, "unit.hours", ""
            if at is None:
                return OPEN, "unit.hours" if unit.hours is None else "unit.repairs", ""
            run -= at
        if limit is None:
            return OPEN, "assembly.useful_life_hours", role
        if unit.hours is None and run <= limit:
            return OPEN, "unit.hours", ""
        if unit.meter_changes is None:  # a used meter may have been fitted: less was run than it shows, or more
            return OPEN, "unit.meter_changes", ""
        if run <= limit:
            return (YES, "unit.hours", "") if whole else (OPEN, "unit.meter_changes", "")
        if since_repair:
            return OPEN, "unit.repairs", ""
        return restarted(case, run, limit) if restarts else (NO, "unit.hours", "")

    def restarted(case: Case, run: Decimal, limit: Decimal) -> tuple[str, str, str]:
        """A part replaced under the term counts its hours from that repair, where the term gives it a new period."""
        if case.root is None:
            return OPEN, "finding.caused_by", case.end.id
        done = repairs_of(term, case)
        if done is None:
            return OPEN, "unit.repairs", ""
        fits = [r for r in done.sure + done.perhaps if case.last_day <= last_day(r.day, term.period)]
        inside_of = [r for r in fits if r.hours is None or run - r.hours <= limit]
        sure = [r for r in inside_of if r in done.sure and r.hours is not None]
        if any(r.day <= case.first_day for r in sure):
            return YES, "unit.repairs", ""
        if sure:  # it may have been found before that repair
            return OPEN, "finding.found_on", case.finding.id
        return (OPEN if inside_of else NO), "unit.repairs" if fits else "unit.hours", ""

    def with_meter(case: Case, limit: Decimal | None) -> tuple[str, str, str]:
        """A limit that may, but need not, be invoked counts only when it is."""
        invoked = case.unit.hours_limit_invoked if asked.may_be_invoked else True
        if invoked is False:
            return YES, "unit.hours_limit_invoked", ""
        found = metered(case, limit)
        return (OPEN, "unit.hours_limit_invoked", "") if found[0] is NO and invoked is None else found

    def tried(case: Case) -> Step:
        limit = limit_of(case)
        want = (limit, asked.percent_of_label)
        without = NO if asked.without_meter == "fails" else YES
        if case.unit.hour_meter is False:
            return Step("hours", without, "unit.hour_meter", "", False, want, source)
        outcome, fact, of = with_meter(case, limit)
        if case.unit.hour_meter is None and outcome is not without:
            outcome, fact, of = OPEN, "unit.hour_meter", ""
        run = case.view.least_hours if outcome is NO else case.view.hours
        return Step("hours", outcome, fact, of, run, want, source)

    return tried


def scheduled(term: Term) -> Rule:
    """A part due for replacement is covered up to its first scheduled replacement only; of a chain, the part that began it."""
    source, may_be = term.cite("scheduled"), term.may_be_scheduled

    def tried(case: Case) -> Step:
        if case.root is None:
            return Step("scheduled", OPEN, "finding.caused_by", case.end.id, None, None, source)
        code, schedule = case.root.component, case.unit.replacement_schedule
        if schedule is None:
            step = Step("scheduled", YES, "unit.replacement_schedule", "", NO_SCHEDULE, code, source)
            return step._replace(outcome=OPEN, value=None) if code in may_be else step
        if code not in schedule:
            silent = NOT_IN_SCHEDULE if schedule else NONE_SCHEDULED
            return Step("scheduled", YES, "unit.replacement_schedule", "", silent, code, source)
        months, limit = schedule[code]
        want = (months, limit)
        outcome, fact, run = YES, "unit.replacement_schedule", case.view.least_hours
        if limit is not None and case.unit.hour_meter is not False:
            open_at = _unsure_hours(case, run > limit)
            if run > limit and not open_at:
                return Step("scheduled", NO, "unit.hours", "", run, want, source)
            if open_at:
                outcome, fact = OPEN, open_at
        if months is not None:
            step = inside(case, starts(term, case), [Span(Period(months=months))], [], (), source)
            if step.outcome is NO:
                return Step("scheduled", NO, step.fact, step.of, step.value, want, source)
            if step.outcome is OPEN:
                edges = ((months, None, False, True, None), ("limit", limit))
                return Step("scheduled", OPEN, step.fact, step.of, step.value, edges, source)
        return Step("scheduled", outcome, fact, "", run, want, source)

    return tried


Begun = Sequence[tuple[RepairFacts, bool]]


def _begun(term: Term, case: Case) -> Begun:
    """Repairs from which the hours of a term on repairs may count (True: surely do), their periods not being over; else the last."""
    done = repairs_of(term, case)
    if done is None:
        return ()
    inside_of = [one for one in done.sure if case.last_day <= last_day(one.day, term.period)] or done.sure[-1:]
    return [(one, True) for one in inside_of] + [(one, False) for one in done.perhaps]


def _past_since_any(begun: Begun, run: Decimal, limit: Decimal) -> bool:
    """Whether more was run than the limit since every repair from which the hours may count."""
    return bool(begun) and all(one.hours is not None and run - one.hours > limit for one, _ in begun)


def _unsure_hours(case: Case, past: bool) -> str:
    """What is not known of the hours, so that what was counted may not be past, or not be all; '' where nothing is."""
    unit = case.unit
    if past and not unit.hour_meter:  # without a meter no hours count, whatever somebody wrote down
        return "unit.hour_meter"
    if past:  # a used meter may have been fitted: less was run than it shows
        return "unit.meter_changes" if unit.meter_changes is None else ""
    if unit.hours is None:
        return "unit.hours"
    return "" if case.view.changes_known else "unit.meter_changes"

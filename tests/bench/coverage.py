"""Coverage decisions over a plain loop that records the same trace; a hundred thousand units in linear time and flat memory.

The plain loop is what one would write by hand for just these terms: straight comparisons on the same facts, in the same
order, with nothing that varies left to data. It writes the same steps, and the run fails if a single one differs.
"""

from __future__ import annotations

import multiprocessing
import resource
import time
from collections.abc import Iterator
from concurrent.futures import ProcessPoolExecutor
from dataclasses import replace
from datetime import date, timedelta
from decimal import Decimal
from typing import Any

from orders.rules.trade import trade
from tests.bench.registry import Result, benchmark
from tests.warranty.coverage.kit import ENGINE, UNIT
from warranty.coverage.case import Step
from warranty.coverage.decide import decide
from warranty.coverage.facts import FindingFacts, UnitFacts
from warranty.coverage.rulebook import Rulebook
from warranty.coverage.terms import Term, term_from_dict
from warranty.coverage.timing import last_day

FINDINGS, TERMS, UNITS, ROUNDS = 20, 40, 30, 15
DAY = date(2025, 6, 1)
MAKERS = ("Fernhollow", "Quillmark", "Ostervane", "Pellworth")


def make_terms() -> tuple[Term, ...]:
    """Forty terms of four makers, each asking for maker, power, use class, proof, time, hours and cause."""
    codes = sorted(trade().components)
    found = []
    for at in range(TERMS):
        found.append(term_from_dict({
            "id": f"term-{at:02}", "version": 1, "title": f"Promise {at}", "giver": "maker", "giver_name": MAKERS[at % 4],
            "source": {"cite": f"page {at}", "edition": "2025", "address": "shop file", "confidence": "invented"},
            "components": {"codes": codes[at % 3 :: 2]}, "machines": {"powers": ["two_stroke", "four_stroke"]},
            "use_classes": ["residential", "commercial"] if at % 2 else ["commercial", "rental"],
            "period": {"months": 6 + at}, "hours": {"limit": 50 + 10 * at, "without_meter": "years_only"},
            "requires": {"proof": ["receipt"]}, "causes": ["defect"],
        }))  # fmt: skip
    return tuple(found)


def make_unit(at: int) -> UnitFacts:
    """One of many units, all of whose facts are known."""
    return replace(
        UNIT, ref=f"u{at}", maker=MAKERS[at % 4], use_class=("residential", "commercial", "rental")[at % 3],
        sold_on=DAY - timedelta(days=100 + at % 900), build_date=date(2020, 1, 1), hours=Decimal(at % 400), assemblies=(ENGINE,),
    )  # fmt: skip


def make_findings(count: int, seed: int) -> list[FindingFacts]:
    """Findings of which every fourth is caused by the one before."""
    codes = sorted(trade().components)
    found = []
    for at in range(count):
        link = f"f{at - 1:02}" if at % 4 == 3 else "none"
        cause = ("defect", "wear", "defect", "impact", "defect")[(at + seed) % 5]
        found.append(
            FindingFacts(f"f{at:02}", codes[(7 * at + seed) % len(codes)], "engine", "broken", cause, link, DAY)
        )
    return found


GROUND = {"wear": "normal_wear", "impact": "abuse_or_accident"}
PlainTerm = tuple[Any, ...]


def plain_terms(terms: tuple[Term, ...]) -> list[PlainTerm]:
    """The terms as bare tuples, unpacked once."""
    found = []
    for t in terms:
        p = t.period
        want = ((p.months, p.days, p.unlimited, p.anniversary_inside, p.ends_on),)
        limit = t.hours.limit if t.hours else Decimal(0)
        powers, uses = t.machines.powers, t.use_classes
        found.append((t.source.cite, t.components, (t.giver_name,), powers, frozenset(powers), uses, frozenset(uses), p, want,
                      limit, (limit, None), t.proof, t.causes))  # fmt: skip
    return found


def plain_loop(
    unit: UnitFacts, findings: list[FindingFacts], terms: list[PlainTerm]
) -> dict[str, tuple[str, list[list[Step]]]]:
    """The same answers and steps, written out by hand for these terms."""
    by_id = {one.id: one for one in findings}
    answers: dict[str, tuple[str, list[list[Step]]]] = {}
    hours, sold, day = unit.hours, unit.sold_on, DAY
    assert hours is not None and sold is not None
    for finding in findings:
        root = finding
        while root.caused_by != "none":
            root = by_id[str(root.caused_by)]
        code, linked, trace, answer = finding.component, root is not finding, [], "not_covered"
        for (
            cite,
            parts,
            makers,
            powers,
            power_set,
            uses,
            use_set,
            period,
            want,
            limit,
            hours_want,
            proof,
            causes,
        ) in terms:
            holds = code in parts
            steps = [
                Step("component", "holds" if holds else "fails", "finding.component", finding.id, code, None, cite)
            ]
            trace.append(steps)
            if not holds:
                continue
            holds = unit.maker == makers[0]
            steps.append(Step("machines", "holds" if holds else "fails", "unit.maker", "", unit.maker, makers, cite))
            if not holds:
                continue
            holds = unit.power in power_set
            steps.append(Step("machines", "holds" if holds else "fails", "unit.power", "", unit.power, powers, cite))
            if not holds:
                continue
            used = unit.use_class in use_set
            steps.append(Step("use", "holds" if used else "fails", "unit.use_class", "", unit.use_class, uses, cite))
            end = last_day(sold, period)
            inside = sold <= day <= end
            steps.append(
                Step("time", "holds" if inside else "fails", "finding.found_on", "", (day, sold, end), want, cite)
            )
            within = hours <= limit
            steps.append(Step("hours", "holds" if within else "fails", "unit.hours", "", hours, hours_want, cite))
            proved = unit.purchase_proof == "receipt"
            steps.append(
                Step(
                    "proof", "holds" if proved else "open", "unit.purchase_proof", "", unit.purchase_proof, proof, cite
                )
            )
            cause = root.cause
            fault = cause == "defect"
            reason = causes if fault else ("ground", GROUND[str(cause)])
            steps.append(Step("cause", "holds" if fault else "fails", "finding.cause", root.id, cause, reason, cite))
            follows = not linked or root.component in parts
            caused = "none" if not linked else root.id
            steps.append(
                Step(
                    "consequent",
                    "holds" if follows else "fails",
                    "finding.caused_by",
                    finding.id,
                    caused,
                    "listed",
                    cite,
                )
            )
            if used and inside and within and proved and fault and follows:
                answer = "covered"
        answers[finding.id] = (answer, trace)
    return answers


def same(unit: UnitFacts, findings: list[FindingFacts], book: Rulebook, terms: list[PlainTerm]) -> None:
    """Both ways give the same answers by the same steps, or the run ends."""
    ours, plain = decide(unit, findings, book, DAY), plain_loop(unit, findings, terms)
    for name, (answer, trace) in plain.items():
        decision = ours[name]
        if decision.answer != answer or [list(one.steps) for one in decision.trace] != trace:
            raise AssertionError(f"the plain loop and the engine differ on {unit.ref} {name}")


def over_the_plain_loop() -> Result:
    """Time per unit of 20 findings and 40 terms: for each unit the fastest of several turns, ours and the loop's one after the
    other, so that a busy moment of the machine falls on both or is forgotten."""
    terms = make_terms()
    book, bare = Rulebook(terms), plain_terms(terms)
    work = [(make_unit(at), make_findings(FINDINGS, at)) for at in range(UNITS)]
    for unit, findings in work:
        same(unit, findings, book, bare)
    ours, plain = [1e9] * UNITS, [1e9] * UNITS
    for _ in range(ROUNDS):
        for at, (unit, findings) in enumerate(work):
            start = time.perf_counter()
            plain_loop(unit, findings, bare)
            middle = time.perf_counter()
            decide(unit, findings, book, DAY)
            end = time.perf_counter()
            plain[at], ours[at] = min(plain[at], middle - start), min(ours[at], end - middle)
    sizes = (
        f"{FINDINGS} findings x {TERMS} terms, {UNITS} units, "
        f"{sum(ours) / UNITS * 1000:.2f} against {sum(plain) / UNITS * 1000:.2f} ms a unit"
    )
    return Result("coverage", sum(ours) / sum(plain), 1.5, "a plain loop that records the same steps", sizes)


def stream(count: int) -> Iterator[UnitFacts]:
    for at in range(count):
        yield make_unit(at)


def took(count: int, book: Rulebook) -> float:
    """Seconds of this process to decide one finding on each of `count` units, keeping none."""
    finding = make_findings(1, 2)
    start = time.process_time()
    for unit in stream(count):
        decide(unit, finding, book, DAY)
    return time.process_time() - start


def many_units() -> tuple[float, float, int, int]:
    """Seconds for 10,000 units and for 100,000, and the peak of memory in KB after each. For a process of its own."""
    book = Rulebook(make_terms())
    took(1_000, book)
    before = took(10_000, book)
    memory = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    large = took(100_000, book)
    grown = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    small = (before + took(10_000, book)) / 2  # the machine may have slowed down or sped up meanwhile
    return small, large, memory, grown


@benchmark("coverage")
def run() -> list[Result]:
    """The ratio to the plain loop; then 100,000 units over ten times 10,000, in time and in memory."""
    first = over_the_plain_loop()
    with ProcessPoolExecutor(1, mp_context=multiprocessing.get_context("spawn")) as fresh:
        small, large, memory, grown = fresh.submit(many_units).result()
    sizes = f"100,000 units in {large:.1f} s, {grown / 1024:.0f} MB at most"
    return [
        first,
        Result("coverage, time", large / (10 * small), 1.2, "ten times the time of 10,000 units", sizes),
        Result("coverage, memory", grown / memory, 1.1, "the memory of 10,000 units", sizes),
    ]

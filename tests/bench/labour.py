"""Labour time in a guide of 2,000 steps and 300 operations: linear in the touched steps, whatever else the guide holds.

Touched steps are those of the chosen operations with all their prerequisites. The baseline is the same question with a
tenth of the operations, and a guide that holds nothing but the touched steps.
"""

from __future__ import annotations

import time
from collections.abc import Sequence
from decimal import Decimal

from orders.rules.labour import Rounding, labour_time
from orders.rules.labour_guide import Guide, Operation, WorkStep, guide
from tests.bench.registry import Result, benchmark

STEPS, OPERATIONS, FEW, MANY, ROUNDS = 2_000, 300, 20, 200, 40


def large_guide() -> Guide:
    """Steps that need up to three earlier ones of their own stretch of 40; every 40th closes what another opened."""
    steps = []
    for at in range(STEPS):
        stretch = at - at % 40
        needs = sorted({f"s{stretch + (at * k) % (at % 40)}" for k in (3, 7, 11)}) if at % 40 else []
        undoes = (f"s{stretch}",) if at % 40 == 39 else ()
        steps.append(
            WorkStep(f"s{at}", f"step {at}", Decimal(1 + at % 9) / 2, tuple(needs), undoes, repeats=at % 40 == 20)
        )
    operations = [
        Operation(f"o{at}", f"operation {at}", tuple(sorted({f"s{(at * 37 + k * 211) % STEPS}" for k in range(5)})))
        for at in range(OPERATIONS)
    ]
    return guide(steps, operations)


def touched(whole: Guide, chosen: Sequence[str]) -> int:
    """How many steps the chosen operations ask for, each counted once for each operation."""
    return sum(len(whole.closure(whole.operations[key].steps)) for key in chosen)


def only_touched(whole: Guide, chosen: Sequence[str]) -> Guide:
    """A guide with nothing in it that is not asked for."""
    keys = whole.closure(step for key in chosen for step in whole.operations[key].steps)
    kept = [
        WorkStep(s.key, s.words, s.minutes, s.needs, tuple(key for key in s.undoes if key in keys), s.repeats)
        for s in whole.steps.values()
        if s.key in keys
    ]
    return guide(kept, [whole.operations[key] for key in chosen])


def took(*asked: tuple[Guide, Sequence[str]]) -> list[float]:
    """Seconds of this process for one answer to each question, the fastest of several; the questions are asked in turns."""
    best = [float("inf")] * len(asked)
    for _ in range(ROUNDS):
        for at, (where, chosen) in enumerate(asked):
            start = time.process_time()
            labour_time(where, chosen, Rounding.UP)
            best[at] = min(best[at], time.process_time() - start)
    return best


@benchmark("labour")
def run() -> list[Result]:
    """Time per touched step with ten times the operations; and in the large guide over a guide of the touched steps."""
    whole = large_guide()
    few, many = [f"o{at}" for at in range(FEW)], [f"o{at}" for at in range(MANY)]
    assert whole.place  # made once a guide, like the guide itself
    lean = only_touched(whole, few)
    assert lean.place
    if labour_time(lean, few, Rounding.UP) != labour_time(whole, few, Rounding.UP):
        raise AssertionError("what is not asked for changes the time")
    small, large, bare = took((whole, few), (whole, many), (lean, few))
    per_small, per_large = small / touched(whole, few), large / touched(whole, many)
    sizes = (
        f"{STEPS} steps, {OPERATIONS} operations; {MANY} of them touch {touched(whole, many)} in {large * 1e3:.1f} ms, "
        f"{FEW} touch {touched(whole, few)} in {small * 1e3:.2f} ms"
    )
    return [
        Result("labour, per touched step", per_large / per_small, 1.3, f"the time per touched step of {FEW} operations", sizes),
        Result("labour, large guide", small / bare, 1.2, "the same question in a guide of the touched steps only",
               f"{len(lean.steps)} steps instead of {STEPS}"),
    ]  # fmt: skip

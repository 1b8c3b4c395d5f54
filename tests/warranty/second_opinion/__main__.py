"""The engine against the second opinion on orders that no test has seen: `python -m tests.warranty.second_opinion FIRST [COUNT]`.

FIRST is the first seed, COUNT how many orders (10,000 unless said): the first three tenths with all facts known, the others
with some of them missing. Prints every disagreement, and ends with 1 if there is any: mend whichever is wrong by the text,
and add its smallest form to test_settled.py.
"""

from __future__ import annotations

import sys
from collections import Counter
from random import Random

from tests.warranty.second_opinion.generator import Terms, known_order, order_with_unknowns, told
from tests.warranty.second_opinion.test_second_opinion import BATCH, disagreements
from tests.warranty.second_opinion.world import TooMany


def compare(first: int, count: int) -> tuple[list[str], Counter[str]]:
    """Disagreements in words, and how often each answer came; 'too many' are orders with more completions than are tried."""
    found: list[str] = []
    answers: Counter[str] = Counter()
    terms = Terms(seed=first)
    for seed in range(first, first + count):
        if (seed - first) % BATCH == 0:  # promises of its own for each batch
            terms = Terms(seed=seed)
        known = seed - first < count * 3 // 10
        drawn = (known_order if known else order_with_unknowns)(Random(seed), terms)
        try:
            wrong, said = disagreements(drawn, all_known=known)
        except TooMany:
            answers["too many"] += 1
            continue
        answers.update(said)
        found += [f"seed {seed}, {one}\n{told(drawn)}" for one in wrong]
    return found, answers


def main(arguments: list[str]) -> int:
    first, count = int(arguments[0]), int(arguments[1]) if len(arguments) > 1 else 10_000
    found, answers = compare(first, count)
    for one in found:
        print(one)
    print(f"{count} orders from seed {first}: {len(found)} disagreements; {dict(answers)}")
    return 1 if found else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))

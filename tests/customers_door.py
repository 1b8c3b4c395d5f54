"""Every sentence with which the door behind the customer's link says no, read out of the code that says it."""

from __future__ import annotations

import ast
from collections.abc import Iterator
from pathlib import Path

from shopdocs.rest import errors, known_again, refusals, serializers
from shopdocs.rest.permissions import RoleNeeded

ROOT = Path(__file__).parents[1]
SAYS = {
    "orders/services/answers.py": (
        "answer_by_link", "_refuse_unseen", "_refuse_consent", "_answered_jobs", "_forbidden",
    ),
    "orders/services/links.py": ("link_of", "refuse_dead", "refuse_replaced", "photo_behind"),
    "orders/services/options.py": ("expanded", "_implied", "_refuse_against_each_other", "_refuse_beside"),
    "orders/services/refusal_choices.py": ("choice_of", "check_choices"),
    "orders/services/given.py": ("by_link",),
    "orders/services/card_numbers.py": ("refuse_card_number", "refuse_card_numbers"),
    "orders/services/estimates.py": ("refuse_closed",),
    "orders/services/scope.py": ("exceeds", "other_payers", "reworded", "_more_charges"),
    "orders/services/amounts.py": ("figure",),
    "shopdocs/documents/api/answers.py": ("file_answer",),
    "shopdocs/rest/middleware.py": ("__call__", "process_response"),
    "shopdocs/rest/parsers.py": ("_whole", "parse"),
}  # fmt: skip
"""The functions that the door comes through, by file."""
NO_SENTENCE = ("default-src 'none'; sandbox", "private, no-cache", 'attachment; filename="')


def _sentences(node: ast.AST) -> Iterator[str]:
    """Its texts of more than one word, without docstrings. A sentence that is finished as it is made could not be said otherwise."""
    for inner in ast.walk(node):
        body = getattr(inner, "body", None)
        if (
            isinstance(body, list)
            and body
            and isinstance(body[0], ast.Expr)
            and isinstance(body[0].value, ast.Constant)
        ):
            body[0].value.value = ""
    for inner in ast.walk(node):
        if isinstance(inner, ast.JoinedStr):
            for part in inner.values:
                if isinstance(part, ast.Constant):
                    finished = part.value if part.value not in NO_SENTENCE else ""
                    assert " " not in finished.strip() or finished in KNOWN_AGAIN, ast.unparse(inner)
                    part.value = ""
    for inner in ast.walk(node):
        text = inner.value if isinstance(inner, ast.Constant) else None
        if isinstance(text, str) and " " in text.strip() and text not in NO_SENTENCE:
            yield text


KNOWN_AGAIN = ("This is not JSON that can be read: ", "This is not JSON that can be read: byte ", " is not UTF-8.")


def own() -> set[str]:
    """What our own code says at this door."""
    found = set()
    for name, functions in SAYS.items():
        wanted = set(functions)
        for node in ast.walk(ast.parse((ROOT / name).read_text("utf-8"))):
            if isinstance(node, ast.FunctionDef) and node.name in wanted:
                found |= set(_sentences(node))
                wanted.discard(node.name)
        assert not wanted, f"{name} has no {wanted}: say where its refusals are now"
    return found


def shared() -> set[str]:
    """What every door says: titles, remedies, wrong forms."""
    kinds = (refusals.Refused, refusals.Conflict, refusals.Missing)
    found = {kind.title for kind in kinds} | {status.phrase for status in errors.PHRASES} | {"Too large", errors.MORE}
    found.add(RoleNeeded.message)
    found |= {*errors.REMEDIES.values(), *known_again.WITH_PLACES, *known_again.PLAIN}
    return found | {
        serializers.CARD_NUMBER, serializers.WRITTEN_OTHERWISE, serializers.NOT_KNOWN, serializers.MORE_LINES,
    }  # fmt: skip

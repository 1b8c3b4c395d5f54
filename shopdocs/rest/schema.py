"""What the published OpenAPI description says beyond what the views themselves say."""

from typing import Any

PROBLEM = {
    "type": "object",
    "required": ["type", "title", "status", "errors"],
    "properties": {
        "type": {"type": "string"},
        "title": {"type": "string"},
        "status": {"type": "integer"},
        "errors": {
            "type": "array",
            "items": {
                "type": "object",
                "required": ["field", "problem", "remedy"],
                "properties": {
                    "field": {
                        "type": "string",
                        "description": "Dotted path of the field. Of the whole request: body, request, method, address, "
                        "or the name of a header.",
                    },
                    "problem": {"type": "string"},
                    "remedy": {"type": "string"},
                },
            },
        },
    },
}
REFUSALS = {
    "400": "The request is not right; `errors` names field, problem and remedy.",
    "401": "Not signed in.",
    "403": "Another role's work.",
    "404": "No such record in your shop.",
    "409": "What is already recorded forbids this.",
    "413": "The request is too large.",
}


def describe_errors(result: dict[str, Any], generator: Any, request: Any, public: Any) -> dict[str, Any]:
    """Adds the problem-details answers to every operation."""
    result.setdefault("components", {}).setdefault("schemas", {})["Problem"] = PROBLEM
    for path in result["paths"].values():
        for operation in path.values():
            for status, text in REFUSALS.items():
                operation["responses"].setdefault(
                    status,
                    {
                        "description": text,
                        "content": {"application/problem+json": {"schema": {"$ref": "#/components/schemas/Problem"}}},
                    },
                )
    return result

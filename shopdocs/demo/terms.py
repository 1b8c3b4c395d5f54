"""What the two invented makers promise, as records of the shop: no code knows them. Nobody's real terms."""

from __future__ import annotations

from typing import Any


def promise(
    code: str, title: str, maker: str, use_classes: list[str], period: dict[str, int], excludes: list[str]
) -> dict[str, Any]:
    """One term in the schema of the coverage engine."""
    return {
        "id": code,
        "version": 1,
        "title": title,
        "giver": "maker",
        "giver_name": maker,
        "source": {
            "cite": f"{maker} warranty card (invented), section 1",
            "edition": "1 January 2024",
            "address": "printed card",
            "confidence": "invented",
        },
        "machines": {"makers": [maker]},
        "components": {"all": True, "except": excludes},
        "to": "first_owner",
        "use_classes": use_classes,
        "start": {"from": "sale"},
        "period": period,
        "causes": ["defect"],
        "requires": {"proof": ["receipt", "registration"]},
        "pays": {"parts": True, "labour": True, "diagnosis": False},
    }


WEARS = ["saw_chain", "spark_plug", "air_filter", "fuel_filter", "blade", "cutting_head", "starter_rope"]

TERMS = (
    ("kestrelline", promise("kestrelline-residential", "Kestrelline two years, household use", "Kestrelline", ["residential"], {"months": 24}, WEARS)),
    ("kestrelline", promise("kestrelline-commercial", "Kestrelline one year, commercial use", "Kestrelline", ["commercial"], {"months": 12}, WEARS)),
    ("kestrelline", promise("kestrelline-rental", "Kestrelline 90 days, rental use", "Kestrelline", ["rental"], {"days": 90}, WEARS)),
    ("quillmoor", promise("quillmoor-residential", "Quillmoor three years, household use", "Quillmoor", ["residential"], {"months": 36}, WEARS)),
    ("quillmoor", promise("quillmoor-working", "Quillmoor one year, commercial and rental use", "Quillmoor", ["commercial", "rental"], {"months": 12}, WEARS)),
)  # fmt: skip

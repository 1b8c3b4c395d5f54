"""Registers the papers of this room."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from shopdocs.documents import kinds
from shopdocs.documents.press.render import Drawn
from shopdocs.documents.press.sheets import from_json

from .papers import TITLE

CLAIM = "claim"
PART_TAG = "part_tag"


def draw_claim(sheet: dict[str, Any], pictures: Mapping[str, bytes]) -> Drawn:
    """The PDF of a frozen claim sheet."""
    from warranty.papers import claim

    return claim.draw(from_json(claim.ClaimSheet, sheet), pictures)


def draw_part_tag(sheet: dict[str, Any], pictures: Mapping[str, bytes]) -> Drawn:
    """The PDF of a frozen tag."""
    from warranty.papers import part_tag

    return part_tag.draw(from_json(part_tag.PartTagSheet, sheet), pictures)


def no_pictures(sheet: dict[str, Any]) -> Sequence[str]:
    """A tag shows none."""
    return []


def claim_pictures(sheet: dict[str, Any]) -> Sequence[str]:
    """The SHA-256 of each original that the claim shows."""
    return [photo["sha256"] for photo in sheet["photos"]]


def register_papers() -> None:
    """Called once when the app is ready."""
    kinds.register(kinds.Kind(CLAIM, TITLE, draw_claim, claim_pictures))
    kinds.register(kinds.Kind(PART_TAG, "Failed part", draw_part_tag, no_pictures))

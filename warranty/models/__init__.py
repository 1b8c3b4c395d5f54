"""Django finds an app's models here."""

from .claims import Claim, ClaimAnswer, Credit, PartsHold
from .decisions import CoverageDecision
from .terms import DistributorTerms, KnownDefectRecord, MakerTerm

__all__ = [
    "Claim",
    "ClaimAnswer",
    "CoverageDecision",
    "Credit",
    "DistributorTerms",
    "KnownDefectRecord",
    "MakerTerm",
    "PartsHold",
]

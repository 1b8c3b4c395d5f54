"""Django finds an app's models here."""

from .claims import Claim, ClaimAnswer, Credit, PartsHold, TurnOver
from .decisions import CoverageDecision, DecisionFacts, TermCopy
from .terms import DistributorTerms, KnownDefectRecord, MakerTerm

__all__ = [
    "Claim",
    "ClaimAnswer",
    "CoverageDecision",
    "Credit",
    "DecisionFacts",
    "DistributorTerms",
    "KnownDefectRecord",
    "MakerTerm",
    "PartsHold",
    "TermCopy",
    "TurnOver",
]

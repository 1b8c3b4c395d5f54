"""Django finds an app's models here."""

from .circumstances import Circumstances, RebuildRecord
from .claims import Claim, ClaimAnswer, Credit, PartsHold, TurnOver
from .decisions import CoverageDecision, DecisionFacts, TermCopy
from .plans import CampaignMark, PlanHeld
from .terms import DistributorTerms, KnownDefectRecord, MakerTerm

__all__ = [
    "CampaignMark",
    "Circumstances",
    "Claim",
    "ClaimAnswer",
    "CoverageDecision",
    "Credit",
    "DecisionFacts",
    "DistributorTerms",
    "KnownDefectRecord",
    "MakerTerm",
    "PartsHold",
    "PlanHeld",
    "RebuildRecord",
    "TermCopy",
    "TurnOver",
]

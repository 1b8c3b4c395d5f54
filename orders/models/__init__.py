"""Django finds an app's models here."""

from .catalogue import Distributor, LabourOperation, MachineModel, Maker, Part
from .estimates import Answer, AnswerLink, Estimate, EstimateOption, RefusalChoice, SafetyNote, Signature
from .findings import Check, Finding, Hold
from .invoices import CreditNote, Invoice, Payment, WriteOff
from .jobs import Job, JobLabour, JobPart, TimeEntry
from .orders import RepairOrder
from .people import Customer
from .units import Assembly, HourReading, Ownership, PurchaseProof, Unit

__all__ = [
    "Answer",
    "AnswerLink",
    "Assembly",
    "Check",
    "CreditNote",
    "Customer",
    "Distributor",
    "Estimate",
    "EstimateOption",
    "Finding",
    "Hold",
    "HourReading",
    "Invoice",
    "Job",
    "JobLabour",
    "JobPart",
    "LabourOperation",
    "MachineModel",
    "Maker",
    "Ownership",
    "Part",
    "Payment",
    "PurchaseProof",
    "RefusalChoice",
    "RepairOrder",
    "SafetyNote",
    "Signature",
    "TimeEntry",
    "Unit",
    "WriteOff",
]

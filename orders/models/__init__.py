"""Django finds an app's models here."""

from .catalogue import Distributor, LabourOperation, MachineModel, Maker, Part
from .estimates import Answer, AnswerLink, Estimate
from .findings import Check, Finding, Hold
from .invoices import Invoice, Payment
from .jobs import Job, JobLabour, JobPart, TimeEntry
from .orders import RepairOrder
from .people import Customer
from .units import Assembly, HourReading, Ownership, PurchaseProof, Unit

__all__ = [
    "Answer",
    "AnswerLink",
    "Assembly",
    "Check",
    "Customer",
    "Distributor",
    "Estimate",
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
    "RepairOrder",
    "TimeEntry",
    "Unit",
]

"""Customers, jobs, panels and pours; take-off rules; cover checks, load lists and reservations."""

from jobs.models.checks import CoverCheck, PlannedRun
from jobs.models.customers import Customer, Job
from jobs.models.loads import Delivery, LoadLine
from jobs.models.panels import Panel, Pour
from jobs.models.remedies import Chase, FitFirst, MillBar, RecutWish, RemedySearch, Supply
from jobs.models.rules import TakeOffRule

__all__ = [
    "Chase",
    "CoverCheck",
    "Customer",
    "Delivery",
    "FitFirst",
    "Job",
    "LoadLine",
    "MillBar",
    "Panel",
    "PlannedRun",
    "Pour",
    "RecutWish",
    "RemedySearch",
    "Supply",
    "TakeOffRule",
]

"""Customers, jobs, panels and pours; take-off rules; cover checks, load lists; hire terms, bills and payments."""

from jobs.models.bills import Bill, BillLine, BillTax, Payment
from jobs.models.checks import CoverCheck, PlannedRun
from jobs.models.customers import Customer, Job
from jobs.models.loads import Delivery, LoadLine, Pick
from jobs.models.panels import Panel, Pour
from jobs.models.parties import NumberSeries, Seller
from jobs.models.quotes import BillRun, Quotation
from jobs.models.remedies import Chase, FitFirst, MillBar, Ordered, RemedySearch, Supply
from jobs.models.rules import TakeOffRule
from jobs.models.sharing import BillLink
from jobs.models.terms import ChargePrice, Exchange, HireCharge, HireTerms, LossSettled, OffHire, StandDown, Waiver
from jobs.models.yards import YardRoad

__all__ = [
    "Bill",
    "BillLine",
    "BillLink",
    "BillRun",
    "BillTax",
    "ChargePrice",
    "Chase",
    "CoverCheck",
    "Customer",
    "Delivery",
    "Exchange",
    "FitFirst",
    "HireCharge",
    "HireTerms",
    "Job",
    "LoadLine",
    "LossSettled",
    "MillBar",
    "NumberSeries",
    "OffHire",
    "Ordered",
    "Panel",
    "Payment",
    "Pick",
    "PlannedRun",
    "Pour",
    "Quotation",
    "RemedySearch",
    "Seller",
    "StandDown",
    "Supply",
    "TakeOffRule",
    "Waiver",
    "YardRoad",
]

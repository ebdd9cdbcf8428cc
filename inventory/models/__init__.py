"""What is stored: gear, places, people, dockets, and the ledger of everything that happened."""

from inventory.models.awaited import Awaited
from inventory.models.brought_in import BroughtIn, Taking
from inventory.models.dockets import Docket, DocketLine, HandCount
from inventory.models.gear import GearType, HiredIn, Piece, Tag
from inventory.models.keeping import Missing, MissingNote, RepairOrder, RepairPart
from inventory.models.ledger import Batch, Event, GroupMember, Submission
from inventory.models.lives import CastSet, FiguresMark, Lot, LotMonth, PieceLife, PieceRun, SpanCount
from inventory.models.people import Device, Person
from inventory.models.photos import Photo
from inventory.models.places import Place
from inventory.models.planned_cuts import PlannedCut, PlannedPart
from inventory.models.review import ReviewItem
from inventory.models.stock import CountedStock
from inventory.models.stocktakes import Stocktake, StocktakeMark
from inventory.models.work import WorkerBeat
from inventory.models.yard import DamageReason, YardSettings

__all__ = [
    "Awaited",
    "Batch",
    "BroughtIn",
    "CastSet",
    "CountedStock",
    "DamageReason",
    "Device",
    "Docket",
    "DocketLine",
    "Event",
    "FiguresMark",
    "GearType",
    "GroupMember",
    "HandCount",
    "HiredIn",
    "Lot",
    "LotMonth",
    "Missing",
    "MissingNote",
    "Person",
    "Photo",
    "Piece",
    "PieceLife",
    "PieceRun",
    "Place",
    "PlannedCut",
    "PlannedPart",
    "RepairOrder",
    "RepairPart",
    "ReviewItem",
    "SpanCount",
    "Stocktake",
    "StocktakeMark",
    "Submission",
    "Tag",
    "Taking",
    "WorkerBeat",
    "YardSettings",
]

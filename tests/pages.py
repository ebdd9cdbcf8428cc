"""A small yard to look at every page with, and, for each URL that takes arguments, where an example comes from.

To add a page whose URL takes arguments, add its name to EXAMPLES: a function of the small yard that gives the URL's
arguments, such as `"docket": lambda yard: {"number": yard.docket.number}`. The role matrix, the query count and axe
then cover it by themselves. What the page lists belongs into `grow`, so that the query count sees more of it.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import timedelta
from typing import Any, NamedTuple

from django.urls import URLPattern, reverse
from django.utils import timezone

from inventory.lifecycle.kinds import PlaceKind
from inventory.models import Awaited, Device, PlannedCut, PlannedPart, Stocktake
from inventory.services.tagging import tag_of_place
from inventory.views.access import every_view
from jobs.models import BillRun, Chase, Delivery, HireTerms, Job, MillBar, Payment, Supply, TakeOffRule
from jobs.selectors.bill_links import token_of
from jobs.selectors.bill_sheet import BillSheet
from jobs.services.bill_links import make_link
from tests import factories
from tests.jobs.invoice.bills import whole_bill


@dataclass
class SmallYard:
    """One of everything, named, for EXAMPLES."""

    yard: Any
    site: Any
    type: Any
    piece: Any
    docket: Any
    customer: Any
    job: Any
    pour: Any
    panel: Any
    check: Any
    photo: Any
    crate: Any
    brought: Any
    review: Any
    bill: Any
    link: Any


def small_yard() -> SmallYard:
    yard = factories.PlaceFactory(name="North yard", kind=PlaceKind.YARD)
    gear = factories.GearTypeFactory(code="E150-30")
    piece = factories.TagFactory(piece__type=gear, piece__place=yard).piece
    job = factories.JobFactory(yard=yard)
    panel = factories.PanelFactory(pour__job=job)
    tag_of_place(panel.pour.place, factories.NOON)
    docket = factories.DocketFactory(from_place=yard, to_place=job.site)
    check = factories.CoverCheckFactory(job=job)
    photo, brought = factories.PhotoFactory(), factories.BroughtInFactory()
    crate, review = factories.CrateFactory(place=yard), factories.ReviewItemFactory(piece=piece)
    bill = whole_bill(factories.JobFactory(yard=yard))
    # held for a long time from today: the pages look at today's clock
    link = make_link(bill=bill, sent_to="Ann", days=366, by=None, now=timezone.now())
    things = (panel.pour, panel, check, photo, crate, brought, review, bill, link)
    made = SmallYard(yard, job.site, gear, piece, docket, job.customer, job, *things)
    Delivery.objects.create(job=job, load_on=job.starts_on)
    factories.RemedySearchFactory(check_asked=check)
    MillBar.objects.create(section_mm=150, length_mm=7000, cost=80)
    grow(made, times=1)
    return made


def grow(yard: SmallYard, times: int) -> None:
    """More of everything a page can list."""
    for _ in range(times):
        factories.TagFactory(piece__type=yard.type, piece__place=yard.yard)
        factories.TagFactory(piece__place=yard.yard, piece__dirty=True)
        factories.TagFactory(piece__place=None, piece__docket=yard.docket)
        factories.TagFactory(piece__crate=yard.crate, piece__place=yard.yard)
        factories.CrateFactory(place=yard.yard)
        goods = factories.CountedStockFactory(place=yard.yard)
        Awaited.objects.create(type=goods.type, place=yard.yard, quantity=50, due_on=factories.NOON.date())
        factories.PlaceFactory(parent=yard.yard, kind=PlaceKind.WASH_BAY)
        factories.BroughtInFactory()
        factories.DeviceFactory()
        factories.StocktakeFactory()
        factories.DocketFactory(from_place=yard.yard, to_place=yard.site)
        factories.JobFactory(yard=yard.yard)
        factories.PanelFactory(pour__job=yard.job)
        factories.PanelFactory(pour=yard.pour)
        factories.CoverCheckFactory(job=yard.job)
        Supply.objects.create(type=yard.type, cost=90)
        factories.ChaseFactory(wanted_for=yard.job)
        factories.ReviewItemFactory(piece=yard.piece)
        factories.PersonFactory()
        factories.RepairPartFactory()
        factories.MissingFactory()
        long = factories.TagFactory(piece__place=yard.yard).piece
        cut = PlannedCut.objects.create(
            piece=long, ready_on=factories.NOON.date(), why="for J1", asked_at=factories.NOON
        )
        PlannedPart.objects.create(cut=cut, type=yard.type)
        hire_grows(yard.bill)


def hire_grows(bill: Any) -> None:
    """More for the hire desk: terms, notes, drafts, payments, quotations."""
    job, day = bill.job, bill.period_from
    Job.objects.filter(pk=job.pk).update(stage=Job.Stage.RUNNING)
    HireTerms.objects.create(name="Terms", document={"rates": [{"day": "0.35"}]}, recorded_at=factories.NOON)
    number = f"OH-{job.off_hires.count() + 1:05}"
    job.off_hires.create(number=number, on=day, asked_by="Ann", recorded_at=factories.NOON)
    job.hire_charges.create(kind="delivery", description="By hand", on=day, unit_amount=5, recorded_at=factories.NOON)
    job.stand_downs.create(first=day, until=day + timedelta(days=1), share="0.5", reason="rain", agreed_by="Ann")
    piece = factories.TagFactory(piece__place=bill.job.yard).piece
    job.exchanges.create(came_back=piece, went_out=piece)
    job.losses_settled.create(piece=piece, on=day)
    job.waivers.create(charge="damage:1", reason="fair wear")
    job.charge_prices.create(charge="sale:1", unit_amount=2)
    money = {"customer": bill.customer, "amount": 5, "currency": "EUR", "recorded_at": factories.NOON}
    Payment.objects.create(bill=bill, received_on=day, **money)
    dates = {"made_at": factories.NOON, "first": day, "until": day + timedelta(days=9)}
    line = {"kind": "hire", "type": "E150-30", "quantity": "1", "net": "9.00", "why": "Nine days."}
    job.quotations.create(
        terms_name="Terms", source="the job's load list", currency="EUR", lines=[line], net=9, tax=0, gross=9, **dates
    )
    BillRun.objects.create(until=day, asked_at=factories.NOON, state="answered", left_out=[["J1", "No terms."]])


EXAMPLES: dict[str, Callable[[SmallYard], dict[str, Any]]] = {
    "customer": lambda yard: {"pk": yard.customer.pk},
    "customer-change": lambda yard: {"pk": yard.customer.pk},
    "job": lambda yard: {"pk": yard.job.pk},
    "job-change": lambda yard: {"pk": yard.job.pk},
    "job-flags": lambda yard: {"pk": yard.job.pk},
    "job-pours": lambda yard: {"pk": yard.job.pk},
    "job-panels": lambda yard: {"pk": yard.job.pk},
    "job-end": lambda yard: {"pk": yard.job.pk},
    "job-schedule": lambda yard: {"pk": yard.job.pk},
    "job-schedule-preview": lambda yard: {"pk": yard.job.pk},
    "job-cut-list": lambda yard: {"pk": yard.job.pk},
    "panel": lambda yard: {"pk": yard.panel.pk},
    "awaited-one": lambda yard: {"pk": Awaited.objects.first().pk},
    "level-sheet": lambda yard: {"pk": yard.pour.job_id, "number": yard.pour.panels.first().level},
    "pour-sheet": lambda yard: {"pk": yard.pour.pk},
    "pour-at": lambda yard: {"pk": yard.pour.place_id},
    "docket-picks": lambda yard: {"pk": yard.docket.pk},
    "delivery-picks": lambda yard: {"pk": yard.job.deliveries.get().pk},
    "pour-move": lambda yard: {"pk": yard.pour.pk},
    "job-check": lambda yard: {"pk": yard.job.pk},
    "job-load-rest": lambda yard: {"pk": yard.job.pk},
    "job-decline": lambda yard: {"pk": yard.job.pk},
    "check": lambda yard: {"pk": yard.check.pk},
    "check-part": lambda yard: {"pk": yard.check.pk},
    "check-still": lambda yard: {"pk": yard.check.pk},
    "check-cancel": lambda yard: {"pk": yard.check.pk},
    "supply": lambda yard: {"pk": Supply.objects.first().pk},
    "supply-orders": lambda yard: {"pk": Supply.objects.first().pk},
    "mill-bar": lambda yard: {"pk": MillBar.objects.first().pk},
    "chase": lambda yard: {"pk": Chase.objects.first().pk},
    "check-pour": lambda yard: {"pk": yard.check.pk, "name": "Pour 1"},
    "check-remedies": lambda yard: {"pk": yard.check.pk},
    "remedies-part": lambda yard: {"pk": yard.check.remedy_searches.get().pk},
    "remedies-cancel": lambda yard: {"pk": yard.check.remedy_searches.get().pk},
    "remedy": lambda yard: {"pk": yard.check.remedy_searches.get().pk, "name": "clean"},
    "check-accept": lambda yard: {"pk": yard.check.pk},
    "delivery-docket": lambda yard: {"pk": yard.job.deliveries.get().pk},
    "take-off-rule": lambda yard: {"pk": TakeOffRule.objects.first().pk},
    "docket": lambda yard: {"pk": yard.docket.pk},
    "docket-paper": lambda yard: {"pk": yard.docket.pk},
    "docket-press": lambda yard: {"pk": yard.docket.pk},
    "docket-want": lambda yard: {"pk": yard.docket.pk},
    "docket-leave": lambda yard: {"pk": yard.docket.pk},
    "docket-receive": lambda yard: {"pk": yard.docket.pk},
    "docket-count": lambda yard: {"pk": yard.docket.pk},
    "docket-goods": lambda yard: {"pk": yard.docket.pk},
    "docket-untagged": lambda yard: {"pk": yard.docket.pk},
    "docket-exception": lambda yard: {"pk": yard.docket.pk},
    "tag": lambda yard: {"code": yard.piece.label},
    "tag-typed-small": lambda yard: {"code": yard.piece.label.lower()},
    "piece": lambda yard: {"pk": yard.piece.pk},
    "piece-retag": lambda yard: {"pk": yard.piece.pk},
    "figures-type": lambda yard: {"pk": yard.type.pk},
    "docket-bundles": lambda yard: {"pk": yard.docket.pk},
    "repair-new": lambda yard: {"pk": yard.piece.pk},
    "piece-recut": lambda yard: {"pk": yard.piece.pk},
    "planned-cut": lambda yard: {"pk": PlannedCut.objects.first().pk},
    "repair": lambda yard: {"pk": factories.RepairOrderFactory(piece=yard.piece).pk},
    "repair-act": lambda yard: {"pk": factories.RepairOrderFactory(piece=yard.piece).pk, "act": "done"},
    "missing-case": lambda yard: {"pk": factories.MissingFactory(piece=yard.piece).pk},
    "missing-act": lambda yard: {"pk": factories.MissingFactory(piece=yard.piece).pk, "act": "found"},
    "piece-hired-in": lambda yard: {"pk": yard.piece.pk},
    "piece-details": lambda yard: {"pk": yard.piece.pk},
    "piece-press": lambda yard: {"pk": yard.piece.pk, "name": "damaged"},
    "type": lambda yard: {"pk": yard.type.pk},
    "place": lambda yard: {"pk": yard.yard.pk},
    "crate": lambda yard: {"pk": yard.crate.pk},
    "import": lambda yard: {"pk": yard.brought.pk},
    "import-kind": lambda yard: {"kind": "pieces"},
    "import-template": lambda yard: {"kind": "pieces"},
    "import-export": lambda yard: {"kind": "pieces", "ending": "csv"},
    "device": lambda yard: {"pk": Device.objects.first().pk},
    "device-revoke": lambda yard: {"pk": Device.objects.first().pk},
    "stocktake": lambda yard: {"pk": Stocktake.objects.first().pk},
    "stocktake-mark": lambda yard: {"pk": Stocktake.objects.first().pk},
    "stocktake-close": lambda yard: {"pk": Stocktake.objects.first().pk},
    "api-photo": lambda yard: {"scan": yard.photo.event_id, "pk": yard.photo.pk},
    "review-card": lambda yard: {"pk": yard.review.pk},
    "person": lambda _yard: {"pk": factories.PersonFactory().pk},
    "person-forget": lambda _yard: {"pk": factories.PersonFactory().pk},
    "photo": lambda yard: {"pk": yard.photo.pk},
    "customer-account": lambda yard: {"pk": yard.bill.customer_id},
    "job-hire": lambda yard: {"pk": yard.bill.job_id},
    "job-note": lambda yard: {"pk": yard.bill.job_id, "name": "stand-down"},
    "job-note-withdraw": lambda yard: {
        "pk": yard.bill.job_id,
        "name": "off-hire",
        "note": yard.bill.job.off_hires.first().pk,
    },
    "job-quote": lambda yard: {"pk": yard.bill.job_id},
    "quotation": lambda yard: {"pk": yard.bill.job.quotations.first().pk},
    "off-hire-confirm": lambda yard: {"pk": yard.bill.job.off_hires.first().pk},
    "terms-one": lambda yard: {"pk": HireTerms.objects.first().pk},
    "terms-correct": lambda yard: {"pk": HireTerms.objects.first().pk},
    "bill-run": lambda yard: {"pk": BillRun.objects.first().pk},
    "bill-run-cancel": lambda yard: {"pk": BillRun.objects.first().pk},
    "bill": lambda yard: {"pk": yard.bill.pk},
    "bill-issue": lambda yard: {"pk": yard.bill.pk},
    "bill-discard": lambda yard: {"pk": yard.bill.pk},
    "bill-credit": lambda yard: {"pk": yard.bill.pk},
    "bill-line": lambda yard: {"pk": yard.bill.pk, "position": 1},
    "bill-stay": lambda yard: {"pk": yard.bill.pk, "position": 1, "number": 0},
    "bill-paper": lambda yard: {"pk": yard.bill.pk},
    "bill-table": lambda yard: {"pk": yard.bill.pk},
    "bill-invoice": lambda yard: {"pk": yard.bill.pk},
    "bill-links": lambda yard: {"pk": yard.bill.pk},
    "bill-link-revoke": lambda yard: {"pk": yard.link.pk},
    "shared-bill": lambda yard: {"token": token_of(yard.link)},
    "shared-bill-paper": lambda yard: {"token": token_of(yard.link)},
    "shared-bill-table": lambda yard: {"token": token_of(yard.link)},
    "shared-bill-invoice": lambda yard: {"token": token_of(yard.link)},
    "shared-docket": lambda yard: {"token": token_of(yard.link), "number": BillSheet(yard.bill).dockets[0].number},
    "shared-photo": lambda yard: {"token": token_of(yard.link), "pk": BillSheet(yard.bill).photos[0].photo.pk},
}


class Page(NamedTuple):
    name: str
    path: str
    view: Any


def every_page(yard: SmallYard) -> Iterator[Page]:
    """Every URL of ours, with an example of its arguments."""
    for route, name, pattern in every_view():
        if not name:
            assert not pattern.pattern.converters, f"/{route} takes arguments, so it needs a name and an example."
            yield Page(f"/{route}", f"/{route}", pattern.callback)
            continue
        yield Page(name, reverse(name, kwargs=_arguments(route, name, pattern, yard)), pattern.callback)


def _arguments(route: str, name: str, pattern: URLPattern, yard: SmallYard) -> dict[str, Any]:
    if name in EXAMPLES:
        return EXAMPLES[name](yard)
    assert not pattern.pattern.converters, (
        f'/{route} takes arguments. Say where an example comes from: add "{name}" to EXAMPLES in tests/pages.py.'
    )
    return {}

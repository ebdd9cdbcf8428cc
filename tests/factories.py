"""One-line builders of what tests need. Fixed values, nothing random."""

from __future__ import annotations

import datetime as dt
from decimal import Decimal

import factory
from django.contrib.auth import get_user_model
from django.contrib.auth.models import Group

from inventory import models
from inventory.lifecycle.kinds import Kind, PlaceKind, Seen, Standing
from jobs.models import Chase, CoverCheck, Customer, Job, Panel, Pour, RemedySearch

PASSWORD = "pour-back-pass"


class UserFactory(factory.django.DjangoModelFactory):
    """`UserFactory(roles=["manager"])`; the password is `PASSWORD`."""

    class Meta:
        model = get_user_model()
        django_get_or_create = ("username",)
        skip_postgeneration_save = True

    username = factory.Sequence(lambda n: f"person{n}")
    password = factory.django.Password(PASSWORD)

    @factory.post_generation
    def roles(self, create, names, **kwargs):
        for name in names or ():
            self.groups.add(Group.objects.get_or_create(name=str(getattr(name, "value", name)))[0])


# A Wednesday, in working hours.
NOON = dt.datetime(2027, 3, 3, 12, 0, tzinfo=dt.UTC)


class PersonFactory(factory.django.DjangoModelFactory):
    """A yard hand with an account."""

    class Meta:
        model = models.Person

    name = factory.Sequence(lambda n: f"Person {n}")
    user = factory.SubFactory(UserFactory, roles=["hand"])


class PlaceFactory(factory.django.DjangoModelFactory):
    class Meta:
        model = models.Place

    name = factory.Sequence(lambda n: f"Place {n}")
    kind = PlaceKind.YARD


class GearTypeFactory(factory.django.DjangoModelFactory):
    class Meta:
        model = models.GearType
        django_get_or_create = ("code",)

    code = factory.Sequence(lambda n: f"E150-30-{n}")
    name = "edge form 150 x 3.0 m"
    kind = models.GearType.Kind.EDGE_FORM
    section_mm = 150
    length_mm = 3000
    splayed_ends = 1
    mass_kg = Decimal("14.700")
    clean_after_every_pour = True


class PieceFactory(factory.django.DjangoModelFactory):
    """A piece as the fold leaves it, without its events: for pages and lists, not for the ledger."""

    class Meta:
        model = models.Piece

    type = factory.SubFactory(GearTypeFactory)
    label = factory.Sequence(lambda n: f"P{n:05}")
    standing = Standing.HELD
    place = factory.SubFactory(PlaceFactory)
    since = NOON


class TagFactory(factory.django.DjangoModelFactory):
    class Meta:
        model = models.Tag

    piece = factory.SubFactory(PieceFactory)
    code = factory.SelfAttribute("piece.label")
    fixed_at = NOON


class CrateFactory(PieceFactory):
    type = factory.SubFactory(GearTypeFactory, code="CRATE", kind=models.GearType.Kind.CRATE, name="crate")
    label = factory.Sequence(lambda n: f"K{n:05}")


class CountedStockFactory(factory.django.DjangoModelFactory):
    class Meta:
        model = models.CountedStock

    type = factory.SubFactory(
        GearTypeFactory,
        code=factory.Sequence(lambda n: f"M12-{n}"),
        kind=models.GearType.Kind.BOLT,
        tracked=models.GearType.Tracked.BY_COUNT,
    )
    place = factory.SubFactory(PlaceFactory)
    quantity = 120


class BroughtInFactory(factory.django.DjangoModelFactory):
    """A file of pieces with a fault in each row."""

    class Meta:
        model = models.BroughtIn

    kind = "pieces"
    name = "fleet.csv"
    content = b"tag,own number,type,place\n,F-1,NONE,Nowhere\n,F-2,NONE,Nowhere\n"
    brought_at = NOON


class DeviceFactory(factory.django.DjangoModelFactory):
    """A handheld with a key."""

    class Meta:
        model = models.Device

    code = factory.Sequence(lambda n: f"key-{n:04}")
    name = factory.Sequence(lambda n: f"Handheld {n}")
    key_digest = factory.Sequence(lambda n: f"{n:064}")


class StocktakeFactory(factory.django.DjangoModelFactory):
    class Meta:
        model = models.Stocktake

    place = factory.SubFactory(PlaceFactory)
    opened_at = NOON


class PhotoFactory(factory.django.DjangoModelFactory):
    """A row without its file."""

    class Meta:
        model = models.Photo

    event_id = "0" * 8 + "-0000-4000-8000-" + "0" * 12
    image = "nowhere/photo.jpg"
    stored_at = NOON


class EventFactory(factory.django.DjangoModelFactory):
    """A row of the ledger past its only writer: for pages that show one."""

    class Meta:
        model = models.Event

    kind = Kind.CLEANED
    happened_at = said_at = recorded_at = NOON
    seen = Seen.SCANNED


class ReviewItemFactory(factory.django.DjangoModelFactory):
    class Meta:
        model = models.ReviewItem

    code = "seen-elsewhere"
    piece = factory.SubFactory(PieceFactory)
    event = factory.SubFactory(EventFactory, piece=factory.SelfAttribute("..piece"))
    opened_at = NOON


class RepairOrderFactory(factory.django.DjangoModelFactory):
    class Meta:
        model = models.RepairOrder
        django_get_or_create = ("piece",)

    piece = factory.SubFactory(PieceFactory)
    what = "straighten the flange"
    opened_at = NOON


class RepairPartFactory(factory.django.DjangoModelFactory):
    class Meta:
        model = models.RepairPart

    order = factory.SubFactory(RepairOrderFactory)
    type = factory.SubFactory(GearTypeFactory, code="M12-R", kind="bolt", tracked="by count")
    place = factory.SubFactory(PlaceFactory)
    quantity = 2
    unit_cost = Decimal("0.60")
    event_id = "0" * 8 + "-0000-4000-8000-" + "0" * 12


class MissingFactory(factory.django.DjangoModelFactory):
    class Meta:
        model = models.Missing
        django_get_or_create = ("piece",)

    piece = factory.SubFactory(PieceFactory)
    missed = models.Missing.Missed.RETURN
    place = factory.SelfAttribute("piece.place")
    opened_at = NOON


class DocketFactory(factory.django.DjangoModelFactory):
    class Meta:
        model = models.Docket

    number = factory.Sequence(lambda n: f"D{n:05}")
    direction = models.Docket.Direction.OUT
    from_place = factory.SubFactory(PlaceFactory)
    to_place = factory.SubFactory(PlaceFactory, kind=PlaceKind.SITE)
    opened_at = NOON


class CustomerFactory(factory.django.DjangoModelFactory):
    class Meta:
        model = Customer

    code = factory.Sequence(lambda n: f"C{n:03}")
    name = factory.Sequence(lambda n: f"Panel crew {n}")


class JobFactory(factory.django.DjangoModelFactory):
    class Meta:
        model = Job

    code = factory.Sequence(lambda n: f"J{n:03}")
    name = "Cold store, west wall"
    customer = factory.SubFactory(CustomerFactory)
    site = factory.SubFactory(PlaceFactory, kind=PlaceKind.SITE)
    yard = factory.SubFactory(PlaceFactory)
    starts_on = NOON.date()
    asked_at = NOON


class PourFactory(factory.django.DjangoModelFactory):
    class Meta:
        model = Pour

    job = factory.SubFactory(JobFactory)
    name = factory.Sequence(lambda n: f"Pour {n}")
    place = factory.SubFactory(PlaceFactory, kind=PlaceKind.POUR, parent=factory.SelfAttribute("..job.site"))
    cast_on = NOON.date()


class PanelFactory(factory.django.DjangoModelFactory):
    class Meta:
        model = Panel

    pour = factory.SubFactory(PourFactory)
    job = factory.SelfAttribute("pour.job")
    mark = factory.Sequence(lambda n: f"W{n}")
    stack = factory.Sequence(lambda n: f"S{n}")
    thickness_mm = 150
    width_mm = 6000
    height_mm = 3600


class CoverCheckFactory(factory.django.DjangoModelFactory):
    class Meta:
        model = CoverCheck

    job = factory.SubFactory(JobFactory)
    asked_at = NOON
    digest = "0" * 64
    request = factory.LazyFunction(dict)


class RemedySearchFactory(factory.django.DjangoModelFactory):
    """A search that found nothing of use."""

    class Meta:
        model = RemedySearch

    check_asked = factory.SubFactory(CoverCheckFactory)
    asked_at = answered_at = NOON
    digest = "0" * 64
    state = "answered"
    question = factory.LazyFunction(dict)
    answer = factory.LazyFunction(
        lambda: {
            "remedies": [
                {"name": "clean", "turns": False, "proved": True, "sentence": "Not enough.", "sure": "", "lines": []}
            ]
        }
    )


class ChaseFactory(factory.django.DjangoModelFactory):
    class Meta:
        model = Chase

    holder = factory.SubFactory(JobFactory)
    wanted_for = factory.SubFactory(JobFactory)
    lines = factory.LazyFunction(lambda: [{"code": "E150-30", "count": 2, "day": "2027-03-03"}])
    by_day = NOON.date()
    asked_at = NOON

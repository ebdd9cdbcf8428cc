"""Phones and handhelds that report, and the keys of those that have one."""

from __future__ import annotations

from typing import Any

import django_filters
import django_tables2 as tables
from django.contrib import messages
from django.db.models import Exists, Max, OuterRef, QuerySet
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_POST

from inventory.forms.devices import DeviceForm
from inventory.forms.filters import ListFilter
from inventory.lifecycle.sentences import clock_off
from inventory.models import Batch, Device, ReviewItem
from inventory.models.roles import Role
from inventory.services.devices import make_device, revoke
from inventory.views.access import allow
from inventory.views.listing import DayColumn, ListPage, ListTable
from inventory.views.markup import status

KEYS = [("with", "has a key"), ("revoked", "key withdrawn"), ("without", "signs in")]


def with_news() -> QuerySet[Device]:
    """Devices with when each was last heard, and whether its clock is in review."""
    doubt = ReviewItem.objects.open().filter(code="clock-off", submission__batch__device=OuterRef("pk"))
    last = Batch.objects.filter(device=OuterRef("pk")).order_by().values("device").annotate(at=Max("received_at"))
    return Device.objects.annotate(heard=last.values("at")[:1], clock_off=Exists(doubt))


class DeviceTable(ListTable):
    name = tables.Column(accessor="code", linkify=("device", {"pk": tables.A("pk")}), verbose_name="Device")
    key = tables.Column(empty_values=(), orderable=False, verbose_name="Key")
    heard = DayColumn(verbose_name="Last heard")
    clock_off = tables.Column(verbose_name="Clock")

    class Meta(ListTable.Meta):
        model = Device
        fields = ("name", "key", "heard", "clock_off")

    def render_name(self, record: Device) -> str:
        return str(record)

    def render_key(self, record: Device) -> str:
        return key_words(record)

    def render_clock_off(self, value: bool) -> str:
        return status("wrong", "stop") if value else ""

    def value_clock_off(self, value: bool) -> str:
        return "wrong" if value else ""


def key_words(device: Device) -> str:
    if not device.key_digest:
        return "none: it signs in"
    return "withdrawn" if device.revoked_at else "has a key"


class DeviceFilter(ListFilter):
    search_fields = ("name__icontains", "code__istartswith")
    search_label = "Name"
    key = django_filters.ChoiceFilter(choices=KEYS, method="by_key", label="Key", empty_label="any")

    class Meta:
        model = Device
        fields = ["key"]

    def by_key(self, rows: QuerySet, _name: str, value: str) -> QuerySet:
        if value == "without":
            return rows.filter(key_digest="")
        return rows.exclude(key_digest="").filter(revoked_at__isnull=value == "with")


@allow(Role.MANAGER)
class DeviceList(ListPage):
    title = "Devices"
    template_name = "devices/devices.html"
    table_class = DeviceTable
    filter_class = DeviceFilter
    export_name = "devices"
    order = ("name",)
    empty_heading = "No device has reported yet"
    empty_sentence = "Each phone is listed here once it has sent a scan; a handheld, once it has a key."

    def rows(self) -> QuerySet:
        return with_news()

    def get_context_data(self, **kwargs: Any) -> dict[str, Any]:
        doubted = ReviewItem.objects.open().filter(code="clock-off").values("submission__batch__device").distinct()
        return super().get_context_data(reporting=Device.objects.count(), wrong=doubted.count(), **kwargs)


@allow(Role.MANAGER)
@never_cache
def device_new(request: HttpRequest) -> HttpResponse:
    """The key is shown on this answer and never again."""
    form = DeviceForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        device, key = make_device(form.cleaned_data["name"])
        return render(request, "devices/key.html", {"title": f"The key of {device}", "device": device, "key": key})
    return render(request, "devices/new.html", {"title": "Give a handheld a key", "form": form})


@allow(Role.MANAGER)
def device(request: HttpRequest, pk: int) -> HttpResponse:
    found = get_object_or_404(with_news(), pk=pk)
    clock = "" if found.clock_off_s is None else clock_off(found.clock_off_s)
    context = {"title": str(found), "device": found, "key_words": key_words(found), "clock": clock}
    return render(request, "devices/device.html", context)


@allow(Role.MANAGER)
@require_POST
def device_revoke(request: HttpRequest, pk: int) -> HttpResponse:
    found = get_object_or_404(Device.objects.exclude(key_digest=""), pk=pk)
    revoke(found, now=timezone.now())
    messages.success(request, f"The key of {found} opens nothing from now on. What it reported stays.")
    return redirect("device", pk=found.pk)

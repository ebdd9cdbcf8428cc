"""The manager gives a handheld its key, sees what reports, and withdraws the key."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.urls import reverse

from inventory.lifecycle.kinds import Kind
from inventory.models import Device
from inventory.services.reports import Report
from tests.inventory.test_scan_surface import post, scan
from tests.inventory.yard import NOW, at


@pytest.fixture
def manager(yard, client_as):
    return client_as("manager")


def test_a_key_is_shown_once_works_and_can_be_withdrawn(yard, manager, client):
    yard.pieces("AAA")
    shown = manager.post(reverse("device-new"), {"name": "Gate handheld"})
    key, device = shown.context["key"], shown.context["device"]
    assert key in shown.content.decode()
    assert "no-store" in shown.headers["Cache-Control"]
    bearer = {"Authorization": f"Bearer {key}"}
    assert post(client, scan("cleaned", tag="AAA"), **bearer)["answers"][0]["answer"] == "recorded"
    page = manager.get(reverse("device", args=[device.pk])).content.decode()
    assert key not in page
    assert "has a key" in page
    manager.post(reverse("device-revoke", args=[device.pk]))
    assert post(client, status=401, **bearer)["code"] == "key-revoked"
    assert "withdrawn" in manager.get(reverse("device", args=[device.pk])).content.decode()


def test_two_devices_with_keys_cannot_be_called_alike(manager):
    manager.post(reverse("device-new"), {"name": "Gate handheld"})
    again = manager.post(reverse("device-new"), {"name": "gate handheld"})
    assert "has that name already" in again.content.decode()
    assert Device.objects.exclude(key_digest="").count() == 1


def test_the_list_says_whose_clock_is_wrong_and_when_each_was_heard(yard, manager):
    yard.pieces("AAA")
    report = Report(Kind.CLEANED, at(1), tag="AAA")
    yard.send(report, device_now=NOW + timedelta(minutes=9))
    rows = {str(row): row for row in manager.get(reverse("devices")).context["page"]}
    assert (rows["phone-1"].heard, rows["phone-1"].clock_off) == (NOW, True)
    assert "1 clock is" in manager.get(reverse("devices")).content.decode()
    own = manager.get(reverse("device", args=[rows["phone-1"].pk])).content.decode()
    assert "9 min 0 s fast" in own
    assert "wrong" in manager.get(reverse("devices")).content.decode()
    assert "it signs in" in manager.get(reverse("devices")).content.decode()

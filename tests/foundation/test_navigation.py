"""The words along the top: in groups, no dead ones, and for few pages one row."""

import pytest

from inventory.views.access import reverse_or_none
from inventory.views.navigation import FEW, NAVIGATION, groups
from tests.factories import UserFactory

pytestmark = pytest.mark.django_db


def shown_to(rf, *roles, path="/"):
    request = rf.get(path)
    request.user = UserFactory(roles=roles)
    return groups(request)


def test_every_word_leads_to_a_page():
    assert [name for _, pages in NAVIGATION for _, name in pages if reverse_or_none(name) is None] == []


def test_a_manager_sees_groups_and_is_in_one_of_them(rf):
    found = shown_to(rf, "manager", path="/pieces/")
    assert [group.label for group in found if group.here] == ["Gear"]
    assert all(group.label and group.pages for group in found)


def test_one_without_a_role_sees_one_short_row(rf):
    found = shown_to(rf)
    assert len(found) == 1 and found[0].label == "" and len(found[0].pages) <= FEW

import csv
import io

import openpyxl
import pytest
from django.contrib.auth import get_user_model
from django.db import connection
from django.test import RequestFactory
from django.test.utils import CaptureQueriesContext

from inventory.forms.filters import ListFilter
from inventory.models import Person
from inventory.models.roles import Role
from inventory.views import listing
from inventory.views.access import allow
from tests.factories import UserFactory

User = get_user_model()
pytestmark = pytest.mark.django_db


class PeopleTable(listing.ListTable):
    joined = listing.DayColumn(accessor="date_joined")

    class Meta(listing.ListTable.Meta):
        model = User
        fields = ("username", "last_name", "joined", "is_staff")


class PeopleFilter(ListFilter):
    search_fields = ("username__icontains",)

    class Meta:
        model = User
        fields = ["is_staff"]


@allow(Role.MANAGER)
class People(listing.ListPage):
    title = "People"
    table_class = PeopleTable
    filter_class = PeopleFilter
    order = ("last_name",)
    export_name = "people"
    empty_heading = "Nobody yet"
    empty_sentence = "People are listed here."

    def rows(self):
        return User.objects.exclude(username="reader")


def ask(query=""):
    request = RequestFactory().get(f"/people/?{query}")
    request.user = User.objects.filter(username="reader").first() or UserFactory(username="reader", roles=["manager"])
    return People.as_view()(request)


def shown(answer):
    return [row.username for row in answer.context_data["page"].object_list]


def fill(count, **fields):
    User.objects.bulk_create(User(username=f"p{n:05}", **fields) for n in range(count))


def test_an_empty_list_says_what_will_be_here():
    assert "People are listed here." in ask().render().content.decode()


def test_yes_and_no_are_said_in_words():
    fill(1, is_staff=True)
    page = ask("q=p0").render().content.decode()
    assert ">yes<" in page
    assert '<option value="false">no</option>' in page


def test_rows_that_tie_are_never_repeated_or_skipped_from_page_to_page():
    fill(120, last_name="Same")
    seen = [name for page in (1, 2, 3) for name in shown(ask(f"page={page}"))]
    assert seen == sorted(seen)
    assert len(set(seen)) == 120


def test_order_always_ends_with_the_key():
    for rows in (User.objects.all(), User.objects.order_by("-last_name"), User.objects.order_by("-pk")):
        assert '"id"' in str(listing.ended_with_key(rows).query).rpartition("ORDER BY")[2]


def test_sorting_by_a_head_and_searching_narrow_together():
    fill(12)
    assert shown(ask("sort=-username&q=p0001"))[:2] == ["p00011", "p00010"]


def test_a_search_across_relations_lists_a_row_once():
    class Across(ListFilter):
        search_fields = ("username__icontains", "groups__name__icontains", "person__name__icontains")

        class Meta:
            model = User
            fields = []

    both = UserFactory(username="both", roles=["manager", "hand"])
    named = Person.objects.create(name="Manager Ash", user=UserFactory(username="ash")).user
    UserFactory(username="other")
    found = Across({"q": "man"}, queryset=User.objects.all()).qs
    assert sorted(found, key=str) == [named, both]


def test_a_search_without_a_match_offers_the_whole_list():
    fill(2)
    assert "Show the whole list" in ask("q=zzz").render().content.decode()


def test_the_number_of_queries_does_not_grow_with_the_rows():
    ask()
    counts = []
    for first, total in ((0, 3), (3, 200)):
        User.objects.bulk_create(User(username=f"p{n:05}") for n in range(first, total))
        with CaptureQueriesContext(connection) as queries:
            ask().render()
        counts.append(len(queries))
    assert counts[0] == counts[1]


def test_beyond_the_cap_the_list_says_more_than_and_can_still_be_turned(monkeypatch):
    monkeypatch.setattr(listing, "COUNT_CAP", 60)
    fill(200)
    answer = ask("page=3")
    assert "of more than 10,000" in answer.render().content.decode()
    assert len(shown(answer)) == 50
    assert shown(ask("page=4")) != []


def test_the_csv_carries_every_row_asked_for_and_no_formula(monkeypatch):
    monkeypatch.setattr(listing, "EXPORT_CHUNK", 7)
    fill(60)
    User.objects.filter(username="p00000").update(last_name="=1+1")
    rows = list(csv.reader(io.StringIO(b"".join(ask("export=csv&q=p0").streaming_content).decode("utf-8-sig"))))
    assert rows[0] == ["Username", "Last name", "Joined", "Staff status"]
    assert len(rows) == 61
    assert ["p00000", "'=1+1"] in [row[:2] for row in rows]


def test_the_xlsx_carries_the_same_rows():
    fill(3, last_name="@SUM(A1)")
    book = openpyxl.load_workbook(io.BytesIO(b"".join(ask("export=xlsx").streaming_content)))
    rows = list(book.active.iter_rows(values_only=True))
    assert [row[0] for row in rows] == ["Username", "p00000", "p00001", "p00002"]
    assert rows[1][1] == "'@SUM(A1)"


@pytest.mark.parametrize("text", ["=1", "+1+1", "-1+cmd", "@a", "\tx", "\rx"])
def test_text_a_spreadsheet_would_run_is_neutralised(text):
    from inventory.views.exporting import neutralised

    assert neutralised(text) == f"'{text}"

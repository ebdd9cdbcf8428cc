"""The one machine behind every list: search, filter, sort, page, export, print; labelled rows on a phone.

A list page is a table, a filter, and a view that joins them:

    class PieceTable(ListTable):
        code = tables.Column(linkify=True, verbose_name="Tag")
        length_mm = tables.Column(attrs=NUMBER, verbose_name="Length")

        def render_length_mm(self, value):      # what the page shows
            return metres(value)

        def value_length_mm(self, value):       # what the export carries
            return value

        class Meta(ListTable.Meta):
            model = Piece
            fields = ("code", "type", "length_mm", "place")

    @allow(Role.MANAGER, Role.HAND)
    class PieceList(ListPage):
        title = "Pieces"
        table_class = PieceTable
        filter_class = PieceFilter               # see inventory.forms.filters.ListFilter
        export_name = "pieces"
        order = ("code",)                        # when the reader has chosen none
        empty_heading = "No pieces yet"
        empty_sentence = "Every tagged length and bracket, once it is registered or brought in."

        def rows(self):
            return Piece.objects.select_related("type", "place")

        def get_context_data(self, **kwargs):    # only if the page says more
            return super().get_context_data(standing=..., **kwargs)

The template is `lists/list.html`; extend it and fill the blocks `standing`, `beside` (above the table) or `after`.
`self.kwargs` and `self.request` are there, so a list can hang from another object (`rows` of one docket).

Promises: ORDER BY always ends with the primary key, so that no page repeats or skips a row; the count stops at
10,000, so that a list of 100,000 opens as fast as a short one; the number of queries does not grow with the rows,
as long as `rows` joins (select_related, prefetch_related, annotations) what its columns read. A page beyond the
counted ones can still be turned to. The export has the same rows, order and columns as the page, all of them.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterator
from functools import cached_property
from typing import Any

import django_filters
import django_tables2 as tables
from django.core.paginator import EmptyPage, Page, PageNotAnInteger, Paginator
from django.db.models import F, OrderBy, QuerySet
from django.http import HttpRequest
from django.views.generic import TemplateView

from inventory.views.exporting import csv_response, xlsx_response
from inventory.views.markup import both_ways

PAGE_ROWS = 50
COUNT_CAP = 10_000
EXPORT_CHUNK = 2_000
# Column attrs for figures: right-aligned, on one line.
NUMBER = {"th": {"class": "number"}, "td": {"class": "number"}}


class DayColumn(tables.Column):
    """A date or moment said both ways; the export carries the plain value."""

    def render(self, value: Any) -> str:
        return both_ways(value)

    def value(self, value: Any) -> Any:
        return value


@tables.columns.library.register
class YesNoColumn(tables.BooleanColumn):
    """Yes or no in words, for every field that is one or the other."""

    def __init__(self, null: bool = False, yesno: str = "yes,no", **kwargs: Any) -> None:
        super().__init__(null, yesno, **kwargs)

    def value(self, record: Any, value: Any, bound_column: Any) -> str:
        return str(self.yesno[0 if self._get_bool_value(record, value, bound_column) else 1])


class ListTable(tables.Table):
    class Meta:
        template_name = "parts/table.html"
        attrs = {"class": "table table-flows"}
        default = ""


class RowsPage(Page):
    def __init__(self, rows: list[Any], number: int, paginator: CappedPaginator, *, more: bool) -> None:
        super().__init__(rows, number, paginator)
        self.more = more
        self.first = (number - 1) * paginator.per_page + 1
        self.last = self.first + len(rows) - 1

    def has_next(self) -> bool:
        return self.more


class CappedPaginator(Paginator):
    """Counts no further than the cap; the next page is known from one row more than the page holds."""

    @cached_property
    def count(self) -> int:
        rows = self.object_list
        if isinstance(rows, QuerySet):
            return rows.order_by().values("pk")[: COUNT_CAP + 1].count()
        return len(rows)

    @property
    def more_than_counted(self) -> bool:
        return self.count > COUNT_CAP

    def validate_number(self, number: Any) -> int:
        try:
            number = int(number)
        except (TypeError, ValueError):
            raise PageNotAnInteger("a page is a whole number") from None
        if number < 1:
            raise EmptyPage("pages start at 1")
        if number > self.num_pages and not self.more_than_counted:
            raise EmptyPage("there is no such page")
        return number

    def page(self, number: Any) -> RowsPage:
        number = self.validate_number(number)
        first = (number - 1) * self.per_page
        rows = list(self.object_list[first : first + self.per_page + 1])
        return RowsPage(rows[: self.per_page], number, self, more=len(rows) > self.per_page)


def ended_with_key(rows: QuerySet) -> QuerySet:
    """The same order with the primary key last, in the direction of the last term so that one index serves both."""
    terms = list(rows.query.order_by or rows.model._meta.ordering)
    names = {term.lstrip("-") for term in terms if isinstance(term, str)}
    if {"pk", rows.model._meta.pk.name} & names:
        return rows
    last = terms[-1] if terms else ""
    down = last.startswith("-") if isinstance(last, str) else bool(isinstance(last, OrderBy) and last.descending)
    return rows.order_by(*terms, F("pk").desc() if down else F("pk").asc())


class ListPage(TemplateView):
    template_name = "lists/list.html"
    title = ""
    table_class: type[tables.Table] = ListTable
    filter_class: type[django_filters.FilterSet] | None = None
    order: tuple[str, ...] = ()
    export_name = "list"
    empty_heading = "Nothing here yet"
    empty_sentence = ""

    def rows(self) -> QuerySet:
        raise NotImplementedError

    def get(self, request: HttpRequest, *args: Any, **kwargs: Any) -> Any:
        wanted = request.GET.get("export")
        if wanted == "csv":
            return csv_response(self.export_rows(), self.export_name)
        if wanted == "xlsx":
            return xlsx_response(self.export_rows(), self.export_name)
        return self.render_to_response(self.get_context_data(**kwargs))

    @cached_property
    def filterset(self) -> Any:
        if self.filter_class is None:
            return None
        return self.filter_class(self.request.GET, queryset=self.rows(), request=self.request)

    @cached_property
    def table(self) -> tables.Table:
        """Over every row the reader asked for, in the order asked for; not read from the database yet."""
        rows = self.rows() if self.filterset is None else self.filterset.qs
        # Given the request, the library would page and count by itself, without the cap.
        table = self.table_class(data=rows)
        table.request = self.request
        table.order_by = [part for part in self.request.GET.getlist("sort") if part] or self.order
        table.data.data = ended_with_key(table.data.data)
        return table

    @property
    def filters_used(self) -> int:
        """How many filters besides the search are in use."""
        if self.filterset is None:
            return 0
        return sum(1 for name in self.filterset.filters if name != "q" and self.request.GET.get(name))

    def get_context_data(self, **kwargs: Any) -> dict[str, Any]:
        paginator = CappedPaginator(self.table.data.data, PAGE_ROWS)
        page = paginator.get_page(self.request.GET.get("page"))
        self.table.data.data = page.object_list
        return super().get_context_data(
            **{
                "title": self.title,
                "table": self.table,
                "page": page,
                "paginator": paginator,
                "filterset": self.filterset,
                "filters_used": self.filters_used,
                "narrowed": bool(self.filters_used or self.request.GET.get("q")),
                "empty_heading": self.empty_heading,
                "empty_sentence": self.empty_sentence,
            }
            | kwargs
        )

    def export_rows(self) -> Iterator[list[Any]]:
        """The head, then every row asked for, read in chunks."""
        rows = self.table.data.data.iterator(chunk_size=EXPORT_CHUNK)
        chunk = list(itertools.islice(rows, EXPORT_CHUNK))
        yield from self._values(chunk)
        while chunk := list(itertools.islice(rows, EXPORT_CHUNK)):
            yield from itertools.islice(self._values(chunk), 1, None)

    def _values(self, chunk: list[Any]) -> Iterator[list[Any]]:
        self.table.data.data = chunk
        return self.table.as_values()

"""People: who works here, as what, and who may sign in."""

from __future__ import annotations

from typing import Any

import django_filters
import django_tables2 as tables
from django.contrib import messages
from django.db.models import QuerySet
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_POST

from inventory.errors import Refused
from inventory.forms.filters import ListFilter
from inventory.forms.people import NewPersonForm, PersonForm
from inventory.models import Person
from inventory.models.roles import Role
from inventory.services.people import add_person, change_person, forget_person
from inventory.views.access import allow, joined
from inventory.views.listing import ListPage, ListTable


class PersonTable(ListTable):
    name = tables.Column(linkify=("person", {"pk": tables.A("pk")}), empty_values=(), verbose_name="Name")
    username = tables.Column(accessor="user__username", verbose_name="Signs in as")
    roles = tables.Column(accessor="user", verbose_name="Works as", orderable=False)
    active = tables.BooleanColumn(accessor="user__is_active", yesno="yes,no", verbose_name="May sign in")

    def render_name(self, record: Person) -> str:
        return str(record)

    def render_roles(self, value: Any) -> str:
        return joined(sorted(Role(group.name).label for group in value.groups.all() if group.name in Role), "and")

    class Meta(ListTable.Meta):
        model = Person
        fields = ("name", "username", "roles", "active")


class PersonFilter(ListFilter):
    search_fields = ("name__icontains", "user__username__icontains")
    search_label = "Name"
    role = django_filters.ChoiceFilter(
        field_name="user__groups__name", choices=[(role.value, role.label) for role in Role], label="Works as"
    )
    may_sign_in = django_filters.BooleanFilter(field_name="user__is_active", label="May sign in")

    class Meta:
        model = Person
        fields: tuple[str, ...] = ()


@allow(Role.MANAGER)
class PersonList(ListPage):
    title = "People"
    template_name = "account/people.html"
    table_class = PersonTable
    filter_class = PersonFilter
    export_name = "people"
    order = ("name",)
    empty_heading = "Nobody yet"
    empty_sentence = "Everyone who scans, plans or bills signs in as themselves, so that the record can say who."

    def rows(self) -> QuerySet:
        return Person.objects.select_related("user").prefetch_related("user__groups")


@allow(Role.MANAGER)
def person_new(request: HttpRequest) -> HttpResponse:
    form = NewPersonForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        try:
            made = add_person(**form.cleaned_data)
            messages.success(request, f"{made} may sign in now.")
            return redirect("people")
        except Refused as refused:
            form.add_error("username", refused.sentence)
    return render(request, "account/person.html", {"title": "Somebody new", "form": form})


@allow(Role.MANAGER)
def person(request: HttpRequest, pk: int) -> HttpResponse:
    found = get_object_or_404(Person.objects.select_related("user"), pk=pk)
    form = PersonForm(found, request.POST or None) if found.user else None
    if form is not None and request.method == "POST" and form.is_valid():
        try:
            messages.success(request, f"{change_person(person=found, **form.cleaned_data)} is kept.")
            return redirect("people")
        except Refused as refused:
            form.add_error(None, refused.sentence)
    return render(request, "account/person.html", {"title": str(found), "person": found, "form": form})


@allow(Role.MANAGER)
@require_POST
def person_forget(request: HttpRequest, pk: int) -> HttpResponse:
    try:
        forget_person(person=get_object_or_404(Person, pk=pk), now=timezone.now())
        messages.success(request, "Forgotten. What they recorded stands, and names nobody.")
    except Refused as refused:
        messages.error(request, refused.sentence)
    return redirect("people")

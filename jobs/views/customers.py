"""Who hires."""

from __future__ import annotations

import django_tables2 as tables
from django.db.models import Count, Q, QuerySet
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse

from inventory.forms.filters import ListFilter
from inventory.models.roles import Role
from inventory.views.access import allow
from inventory.views.listing import NUMBER, ListPage, ListTable
from jobs.forms.jobs import CustomerForm
from jobs.models import Customer, Job
from jobs.services.jobs import create_customer
from jobs.views.one_form import one_form

OFFICE = (Role.PLANNER, Role.MANAGER, Role.HIRE_DESK)
UNDER_WAY = Q(jobs__stage__in=[Job.Stage.ACCEPTED, Job.Stage.RUNNING])


class CustomerTable(ListTable):
    code = tables.Column(linkify=("customer", {"pk": tables.A("pk")}), verbose_name="Customer")
    job_count = tables.Column(verbose_name="Jobs", attrs=NUMBER)
    under_way = tables.Column(verbose_name="Under way", attrs=NUMBER)

    class Meta(ListTable.Meta):
        model = Customer
        fields = ("code", "name", "contact", "phone", "job_count", "under_way")


class CustomerFilter(ListFilter):
    search_fields = ("code__icontains", "name__icontains", "contact__icontains")
    search_label = "Code, name or contact"

    class Meta:
        model = Customer
        fields: list[str] = []


@allow(*OFFICE)
class CustomerList(ListPage):
    title = "Customers"
    template_name = "jobs/customers.html"
    table_class = CustomerTable
    filter_class = CustomerFilter
    export_name = "customers"
    order = ("name",)
    empty_heading = "No customers yet"
    empty_sentence = "Everyone gear is sent to, once entered with the press above."

    def rows(self) -> QuerySet:
        return Customer.objects.annotate(job_count=Count("jobs"), under_way=Count("jobs", UNDER_WAY))


@allow(*OFFICE)
def new(request: HttpRequest) -> HttpResponse:
    form = CustomerForm(request.POST or None)

    def does() -> tuple[str, str]:
        customer = create_customer(**form.cleaned_data)
        return f"{customer.name} is entered.", reverse("customer", args=[customer.pk])

    back = {"up": reverse("customers"), "up_words": "Customers"}
    return one_form(request, form, does, title="A new customer", press="Enter this customer", **back)


@allow(*OFFICE)
def customer(request: HttpRequest, pk: int) -> HttpResponse:
    found = get_object_or_404(Customer, pk=pk)
    jobs = list(found.jobs.select_related("site", "yard"))
    return render(request, "jobs/customer.html", {"title": found.name, "customer": found, "jobs": jobs})


@allow(*OFFICE)
def change(request: HttpRequest, pk: int) -> HttpResponse:
    found = get_object_or_404(Customer, pk=pk)
    form, its_page = CustomerForm(request.POST or None, instance=found), reverse("customer", args=[pk])

    def does() -> tuple[str, str]:
        form.save()
        return f"{found.name} is changed.", its_page

    back = {"up": its_page, "up_words": found.name}
    return one_form(request, form, does, title=f"Change {found.name}", press="Keep these changes", **back)

"""What a form refuses, it refuses in a sentence; the name of a constraint is for the database."""

import importlib
import pkgutil
from collections.abc import Iterator

import pytest
from django import forms
from django.db.models import UniqueConstraint

import inventory.forms
import jobs.forms
from inventory.forms.catalogue import PlaceForm, TypeForm
from inventory.models import Place

SINGLE_ROWS = {"there_is_one_row_of_yard_settings", "there_is_one_seller"}
SETTLED_ELSEWHERE = {"what_came_was_not_called_off"}


def model_forms(parent: type = forms.ModelForm) -> Iterator[type]:
    for each in parent.__subclasses__():
        yield from model_forms(each)
        if each.__module__.startswith(("inventory.", "jobs.")) and each._meta.model is not None:
            yield each


def test_every_constraint_that_a_form_can_break_says_what_to_do():
    for room in (inventory.forms, jobs.forms):
        for module in pkgutil.iter_modules(room.__path__):
            importlib.import_module(f"{room.__name__}.{module.name}")
    mute = {
        constraint.name
        for form in model_forms()
        for constraint in form._meta.model._meta.constraints
        if constraint.violation_error_message == constraint.default_violation_error_message
        and not (isinstance(constraint, UniqueConstraint) and constraint.condition is None)  # said field by field
    }
    assert mute == SINGLE_ROWS | SETTLED_ELSEWHERE


@pytest.mark.django_db
def test_a_second_place_of_a_name_and_a_third_splayed_end_are_refused_in_words():
    Place.objects.create(name="North yard", kind="yard")
    again = PlaceForm({"name": "North yard", "kind": "yard"})
    assert again.errors["__all__"] == ["There is a place of this name already: open that one, or choose another name."]
    three = TypeForm({"code": "E", "name": "E", "kind": "other", "tracked": "by tag", "splayed_ends": "3"})
    assert "A length has two ends: give 0, 1 or 2 splayed ends." in three.errors["__all__"]

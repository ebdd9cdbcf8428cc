"""Who works here: their names, roles and accounts."""

from __future__ import annotations

from typing import Any

from django import forms
from django.contrib.auth import get_user_model, password_validation
from django.contrib.auth.validators import UnicodeUsernameValidator

from inventory.models import Person
from inventory.models.roles import Role

NEW_PASSWORD = forms.PasswordInput(attrs={"autocomplete": "new-password"})


class _PersonForm(forms.Form):
    name = forms.CharField(max_length=120, label="Name", help_text="As it stands beside what they record.")
    roles = forms.MultipleChoiceField(
        choices=[(role.value, role.label) for role in Role], widget=forms.CheckboxSelectMultiple, label="Works as"
    )

    def clean_roles(self) -> list[Role]:
        return [Role(value) for value in self.cleaned_data["roles"]]

    def clean_password(self) -> str:
        password = self.cleaned_data["password"]
        if password:
            user = get_user_model()(username=self.cleaned_data.get("username", ""))
            password_validation.validate_password(password, user)
        return password


class NewPersonForm(_PersonForm):
    username = forms.CharField(max_length=60, validators=[UnicodeUsernameValidator()], label="Signs in as")
    password = forms.CharField(
        max_length=128, widget=NEW_PASSWORD, label="First password", help_text="They change it after signing in."
    )
    field_order = ("name", "username", "password", "roles")


class PersonForm(_PersonForm):
    may_sign_in = forms.BooleanField(required=False, label="May sign in")
    password = forms.CharField(
        max_length=128, required=False, widget=NEW_PASSWORD, label="New password", help_text="Empty: as it is."
    )

    def __init__(self, person: Person, data: Any = None) -> None:
        user: Any = person.user
        roles = list(user.groups.values_list("name", flat=True)) if user else []
        first = {"name": person.name, "roles": roles, "may_sign_in": bool(user and user.is_active)}
        super().__init__(data, initial=first)

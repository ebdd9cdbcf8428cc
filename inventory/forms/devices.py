"""A handheld that is to have a key of its own."""

from __future__ import annotations

from django import forms

from inventory.models import Device


class DeviceForm(forms.Form):
    name = forms.CharField(
        max_length=80, label="What you call it", help_text="So that you know it again, such as “gate handheld”."
    )

    def clean_name(self) -> str:
        name = self.cleaned_data["name"].strip()
        if Device.objects.filter(name__iexact=name, revoked_at=None).exclude(key_digest="").exists():
            raise forms.ValidationError("A device with a key has that name already. Give this one another.")
        return name

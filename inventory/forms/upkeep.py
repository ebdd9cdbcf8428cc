"""What is said of a piece that is damaged, inspected, mended, cut down or taken off the books."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from django import forms

from inventory.forms.filters import DayInput
from inventory.forms.pieces import TagField, places_for_gear
from inventory.forms.stock import CodesField
from inventory.lifecycle.kinds import Fitness
from inventory.models import DamageReason, Docket, GearType, Missing, Piece, Place
from inventory.selectors.upkeep import returns_of, shorter_types

MOST_PHOTOS = 6
NO_LIFT = "An unfit piece stays unfit until it is inspected."
GRADES = [
    (Fitness.SOUND.value, "sound: a mark that changes nothing"),
    (Fitness.WATCH.value, "watch: usable, look at it each time"),
    (Fitness.UNFIT.value, "unfit: not to be used until it is inspected"),
]


class PhotoInput(forms.ClearableFileInput):
    allow_multiple_selected = True

    def value_from_datadict(self, data: Any, files: Any, name: str) -> Any:
        return files.getlist(name) if hasattr(files, "getlist") else files.get(name)


class PhotosField(forms.ImageField):
    """Several photos at once; comes out as a list."""

    def __init__(self, **kwargs: Any) -> None:
        attrs = {"accept": "image/*", "capture": "environment", "multiple": True}
        super().__init__(widget=PhotoInput(attrs=attrs), required=False, **kwargs)

    def clean(self, data: Any, initial: Any = None) -> list[Any]:
        several = data if isinstance(data, list | tuple) else [data] if data else []
        if len(several) > MOST_PHOTOS:
            raise forms.ValidationError(f"At most {MOST_PHOTOS} photos at once.")
        return [super(PhotosField, self).clean(each, initial) for each in several]


class DamageForm(forms.Form):
    reason = forms.ModelChoiceField(
        DamageReason.objects.filter(withdrawn=False),
        required=False,
        empty_label="something else",
        label="What is wrong",
    )
    grade = forms.ChoiceField(choices=GRADES, widget=forms.RadioSelect, label="How bad", help_text=NO_LIFT)
    note = forms.CharField(max_length=200, required=False, label="In your words")
    photo = PhotosField(label="Photos")
    found_by = forms.CharField(max_length=80, required=False, label="Who found it", help_text="You, if left empty.")
    docket = forms.ModelChoiceField(
        Docket.objects.none(), required=False, empty_label="on no return", label="Found on which return"
    )
    charge = forms.ChoiceField(
        choices=[("", "as the terms say"), ("yes", "charge the job"), ("no", "do not charge: fair wear, or our own")],
        required=False,
        label="Charged to the job",
    )

    def __init__(self, piece: Piece, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["docket"].queryset = returns_of(piece)  # type: ignore[attr-defined]

    def clean(self) -> dict[str, Any]:
        said = super().clean() or {}
        if not said.get("reason") and not said.get("note"):
            self.add_error("note", "Choose what is wrong, or say it in your words.")
        return said

    def data_said(self) -> dict[str, Any]:
        said = self.cleaned_data
        reason = said["reason"].words if said["reason"] else ""
        charge = {"yes": True, "no": False}.get(said["charge"])
        words = {"grade": said["grade"], "reason": reason, "note": said["note"], "found_by": said["found_by"]}
        return words | ({} if charge is None else {"charge": charge})


class InspectForm(forms.Form):
    """Nothing lifts the lock on unfit gear but this: a named person, and what was checked."""

    grade = forms.ChoiceField(
        choices=[
            (Fitness.SOUND.value, "sound"),
            (Fitness.WATCH.value, "watch: usable, look at it each time"),
            (Fitness.UNFIT.value, "unfit: not to be used"),
        ],
        widget=forms.RadioSelect,
        label="Found to be",
    )
    by_name = forms.CharField(max_length=80, label="Inspected by", help_text="The competent person's name.")
    checked = forms.CharField(
        max_length=300,
        widget=forms.Textarea(attrs={"rows": 3}),
        label="What was checked, and by which rule",
        help_text="For example: welds, slots and thread; straight within the maker's figure.",
    )

    def data_said(self) -> dict[str, Any]:
        return dict(self.cleaned_data)


class RetireForm(forms.Form):
    HOW = [
        ("worn out", "worn out in use"),
        ("damaged", "damaged beyond mending"),
        ("sold", "sold"),
        ("other", "another reason"),
    ]
    how = forms.ChoiceField(choices=HOW, widget=forms.RadioSelect, label="How it leaves")
    reason = forms.CharField(max_length=200, label="Why")
    proceeds = forms.DecimalField(
        max_digits=12, decimal_places=2, min_value=Decimal(0), required=False, label="What it brought"
    )
    buyer = forms.CharField(max_length=120, required=False, label="Who bought it")

    def clean(self) -> dict[str, Any]:
        said = super().clean() or {}
        if said.get("how") == "sold" and said.get("proceeds") is None:
            self.add_error("proceeds", "Say what it was sold for; 0 if it was given away.")
        return said

    def data_said(self) -> dict[str, Any]:
        said = self.cleaned_data
        proceeds = "" if said["proceeds"] is None else str(said["proceeds"])
        return {"how": said["how"], "reason": said["reason"], "proceeds": proceeds, "buyer": said["buyer"]}


class WentBackForm(forms.Form):
    """Gear of somebody else: it is never retired or sold as ours."""

    reason = forms.CharField(max_length=200, label="How and why it went back")

    def data_said(self) -> dict[str, Any]:
        return {"how": "gone back", "reason": self.cleaned_data["reason"]}


def _money(label: str, **more: Any) -> forms.DecimalField:
    return forms.DecimalField(label=label, max_digits=12, decimal_places=2, min_value=Decimal(0), **more)


class OpenRepairForm(forms.Form):
    what = forms.CharField(max_length=200, label="What is to be done")
    place = forms.ModelChoiceField(Place.objects.none(), required=False, empty_label="where it is", label="Where")
    ready_on = forms.DateField(
        required=False, widget=DayInput(), label="Ready by", help_text="From that day on, planning counts it again."
    )
    estimate = _money("Estimated cost", required=False)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["place"].queryset = places_for_gear()  # type: ignore[attr-defined]


class DateRepairForm(forms.Form):
    ready_on = forms.DateField(required=False, widget=DayInput(), label="Ready by")
    estimate = _money("Estimated cost", required=False)
    work_cost = _money("Cost of the work so far")


class PartsForm(forms.Form):
    """Counted goods from a shelf."""

    type = forms.ModelChoiceField(
        GearType.objects.filter(tracked=GearType.Tracked.BY_COUNT, withdrawn=False), label="Goods"
    )
    place = forms.ModelChoiceField(Place.objects.none(), label="From")
    quantity = forms.IntegerField(min_value=1, max_value=100_000, label="How many")

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["place"].queryset = places_for_gear()  # type: ignore[attr-defined]


class DoneForm(forms.Form):
    words = forms.CharField(max_length=200, label="What was done")
    work_cost = _money("Cost of the work")


class WhyForm(forms.Form):
    why = forms.CharField(max_length=200, label="Why")


class RecutForm(forms.Form):
    """Up to eight parts: for each its type and the code of the tag that goes on it."""

    MOST = 8
    kerf_mm = forms.IntegerField(min_value=0, max_value=50, label="Saw cut (mm)")
    why = forms.CharField(max_length=200, label="Why it is cut")

    def __init__(self, piece: Piece, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for at in range(1, self.MOST + 1):
            self.fields[f"type_{at}"] = forms.ModelChoiceField(
                shorter_types(piece), required=False, empty_label="nothing", label=f"Part {at}"
            )
            self.fields[f"code_{at}"] = TagField(required=False, label=f"Its tag, part {at}")

    @property
    def part_fields(self) -> list[tuple[Any, Any]]:
        return [(self[f"type_{at}"], self[f"code_{at}"]) for at in range(1, self.MOST + 1)]

    @property
    def other_fields(self) -> list[Any]:
        return [self["kerf_mm"], self["why"]]

    def clean(self) -> dict[str, Any]:
        said = super().clean() or {}
        for at in range(1, self.MOST + 1):
            if said.get(f"type_{at}") and not said.get(f"code_{at}") and f"code_{at}" not in self.errors:
                self.add_error(f"code_{at}", "Every part gets a tag of its own.")
            if said.get(f"code_{at}") and not said.get(f"type_{at}"):
                self.add_error(f"type_{at}", "Say what this part is.")
        return said

    def parts_said(self) -> list[tuple[GearType, str]]:
        said = self.cleaned_data
        return [(said[f"type_{at}"], said[f"code_{at}"]) for at in range(1, self.MOST + 1) if said.get(f"type_{at}")]


class PlannedCutForm(forms.Form):
    """What has become of a planned cut that is not sawn: another day, or called off."""

    DONE = (("later", "its parts are ready on another day"), ("off", "called off: it is not cut"))
    done = forms.ChoiceField(choices=DONE, widget=forms.RadioSelect, initial="later", label="What is it")
    ready_on = forms.DateField(required=False, widget=DayInput(), label="On which day")

    def clean(self) -> dict[str, Any]:
        said = super().clean() or {}
        if said.get("done") == "later" and not said.get("ready_on") and "ready_on" not in self.errors:
            self.add_error("ready_on", "Needed for that.")
        return said


class AskedForm(forms.Form):
    words = forms.CharField(max_length=300, label="Who was asked, and what they said")


class LostForm(forms.Form):
    value = _money("Replacement value", required=False, help_text="Empty: as the job's terms say.")
    charge = forms.ChoiceField(
        choices=[("yes", "charge the job"), ("no", "do not charge the job")], widget=forms.RadioSelect, label="Who pays"
    )
    reason = forms.CharField(max_length=200, label="Why")

    def data_said(self) -> dict[str, Any]:
        said = self.cleaned_data
        value = "" if said["value"] is None else str(said["value"])
        return {"value": value, "charge": said["charge"] == "yes", "reason": said["reason"]}


class MissForm(forms.Form):
    """Which pieces should be there and are not."""

    missed = forms.ChoiceField(choices=Missing.Missed.choices, label="Missed")
    codes = CodesField(label="Tags of the missing pieces", help_text="One a line.")

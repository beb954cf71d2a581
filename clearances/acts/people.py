"""Entering people and changing what they may do."""

from typing import Any

from django import forms
from django.conf import settings
from django.http import Http404
from django.urls import reverse

from ..models import Person, Role
from .base import Act, ActForm, act


class PersonForm(ActForm):
    login = forms.CharField(label="Log-in name", max_length=150, help_text="It stays as it is for good.")
    first_name = forms.CharField(label="First name", max_length=150)
    last_name = forms.CharField(label="Last name", max_length=150)
    roles = forms.MultipleChoiceField(
        label="Roles", choices=Role.choices, widget=forms.CheckboxSelectMultiple, required=False
    )
    employer = forms.CharField(
        label="Employer",
        max_length=80,
        required=False,
        help_text=f"Not «{settings.UTILITY_NAME}», or left empty: counts as a contractor.",
    )
    phone = forms.CharField(label="Telephone", max_length=32, required=False)
    radio = forms.CharField(label="Radio", max_length=32, required=False)
    may_hold_until = forms.DateField(
        label="Qualified to hold a clearance until",
        required=False,
        widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
        help_text="The last day. Empty: not qualified.",
    )
    active = forms.BooleanField(label="May sign in", required=False, initial=True)
    new_password = forms.CharField(
        label="New password",
        required=False,
        widget=forms.PasswordInput(attrs={"autocomplete": "new-password"}),
        help_text="At least 12 characters. Empty: it stays as it is.",
    )

    def __init__(self, *args: Any, act: "SavePerson", **kwargs: Any) -> None:
        super().__init__(*args, act=act, **kwargs)
        self.new = act.whom is None
        self.fields["login"].disabled = not self.new

    def clean_login(self) -> str:
        login: str = self.cleaned_data["login"]
        if self.new and Person.objects.filter(username__iexact=login).exists():
            raise forms.ValidationError("Somebody signs in with this name already.")
        return login


@act
class SavePerson(Act):
    name = "save_person"
    form = PersonForm
    label = "Enter a person"
    button = "Save"
    sentence = "It counts at once, and stands in the log under your name."

    def find(self) -> None:
        super().find()
        login = self.param("person")
        self.whom = Person.objects.filter(username=login).first() if login else None
        if login and self.whom is None:
            raise Http404(f"There is no person {login}.")

    def title(self) -> str:
        return f"{self.whom} ({self.whom.username})" if self.whom else self.label

    def initial(self) -> dict[str, Any]:
        if self.whom is None:
            return {}
        names = ("first_name", "last_name", "roles", "employer", "phone", "radio", "may_hold_until")
        known = {name: getattr(self.whom, name) for name in names}
        return known | {"login": self.whom.username, "active": self.whom.is_active}

    def kwargs(self, data: dict[str, Any]) -> dict[str, Any]:
        kwargs = super().kwargs(data)
        return kwargs | {"person": kwargs.pop("login")}

    def back(self) -> str:
        return reverse("people")

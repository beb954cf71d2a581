"""Asking for a clearance, moving its promised end, calling the job off."""

import datetime
from typing import Any, cast

from django import forms
from django.utils import timezone

from ..models import Person, Role
from .base import Act, ActForm, act
from .fields import MomentField, PhasesField, PoleField


class AskForm(ActForm):
    from_pole = PoleField(label="From pole")
    to_pole = PoleField(label="To pole")
    phases = PhasesField(label="Phases")
    work = forms.CharField(label="The work", max_length=200)
    reason_for_customers = forms.CharField(
        label="What may customers be told",
        max_length=80,
        help_text="A few plain words, for example: a pole has to be replaced",
    )
    crew = forms.CharField(label="Crew", max_length=80)
    window_start = MomentField(label="Start")
    promised_end = MomentField(label="Promised end")
    latest_finish = MomentField(label="Latest acceptable finish")
    recall_minutes = forms.IntegerField(
        label="Recall time, minutes",
        min_value=1,
        max_value=240,
        help_text="How long to have people and grounds off the line",
    )
    alternate = forms.ModelChoiceField(
        Person.objects.none(),
        label="Alternate holder",
        required=False,
        empty_label="nobody",
        help_text="Who else may be asked for",
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        alternate = cast("forms.ModelChoiceField[Person]", self.fields["alternate"])
        alternate.queryset = Person.objects.filter(roles__contains=[Role.FOREMAN], is_active=True).exclude(
            pk=self.act.person.pk
        )


@act
class Ask(Act):
    name = "ask_for_clearance"
    form = AskForm
    label = "Ask for a clearance"
    sentence = (
        "The desk gets your request. Nothing is switched and nothing is yours before the desk "
        "gives it and you accept it."
    )

    def initial(self) -> dict[str, Any]:
        tomorrow = timezone.localtime().replace(
            hour=8, minute=0, second=0, microsecond=0
        ) + datetime.timedelta(days=1)
        return {
            "window_start": tomorrow,
            "promised_end": tomorrow.replace(hour=12),
            "latest_finish": tomorrow.replace(hour=15),
            "recall_minutes": 20,
            "phases": list("ABC"),
            "crew": self.person.employer,
        }


class MoveForm(ActForm):
    promised_end = MomentField(label="New promised end")
    why = forms.CharField(label="Why", max_length=200)


@act
class MovePromise(Act):
    name = "move_promised_end"
    form = MoveForm
    label = "Move the promised end"
    sentence = "Customers who were told the old time are told the new one."
    holders_own = True

    def initial(self) -> dict[str, Any]:
        return {"promised_end": self.clearance.promised_end}


class WhyForm(ActForm):
    why = forms.CharField(label="Why", max_length=200)


@act
class CallOff(Act):
    name = "call_off_job"
    form = WhyForm
    label = "Call the job off"
    sentence = (
        "Customers who were told are told that it is called off. What was already opened has to "
        "be restored, step by step."
    )
    danger = True
    versioned = True

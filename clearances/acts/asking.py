"""Asking for a clearance, moving its promised end, calling the job off."""

import datetime
from typing import Any, cast

from django import forms
from django.utils import timezone

from ..models import Person, Role
from .base import Act, ActForm, act
from .fields import MomentField, PhasesField, PoleField


def _own_clearance() -> forms.BooleanField:
    return forms.BooleanField(
        required=False,
        label="A clearance of our own beside another crew's",
        help_text="With our own tag at every point. Else your crew signs on under the other's clearance.",
    )


class BesideForm(ActForm):
    """Asks about another crew in the same limits, only once it is known that there is one."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if self.act.request.method == "POST":
            self.fields["own_clearance"] = _own_clearance()


class AskForm(BesideForm):
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


class NextStageForm(BesideForm):
    """Where: from pole to pole on some phases, or one transformer behind its own cutout."""

    from_pole = PoleField(label="From pole", required=False)
    to_pole = PoleField(label="To pole", required=False)
    phases = PhasesField(label="Phases", required=False)
    transformer = forms.CharField(
        label="Or one transformer",
        required=False,
        max_length=40,
        help_text="From its own cutout on, with its secondary, for example T-217. Then no poles.",
    )
    work = forms.CharField(label="The work of this stage", max_length=200)
    window_start = MomentField(label="Start")
    promised_end = MomentField(label="Promised end")
    latest_finish = MomentField(label="Latest acceptable finish")

    def clean(self) -> dict[str, Any]:
        data = super().clean() or self.cleaned_data
        run = bool(data.get("from_pole") and data.get("to_pole"))
        if run == bool(data.get("transformer")):
            raise forms.ValidationError("Name two poles with their phases, or one transformer, not both.")
        if run and not data.get("phases"):
            self.add_error("phases", "Which phases are inside?")
        return data if run else data | {"phases": ""}


@act
class AskNextStage(Act):
    name = "ask_for_next_stage"
    form = NextStageForm
    label = "Ask for the next stage"
    sentence = (
        "It gets a number, points and tags of its own. The clearance before it is released as a whole, once "
        "the protection of this one stands."
    )

    def initial(self) -> dict[str, Any]:
        before = self.clearance
        return {
            "window_start": before.promised_end,
            "promised_end": max(before.latest_finish, before.promised_end + datetime.timedelta(hours=2)),
            "latest_finish": before.latest_finish + datetime.timedelta(hours=3),
            "phases": list("ABC"),
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

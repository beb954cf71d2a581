"""What the desk says of an unplanned interruption."""

import datetime
from typing import Any

from django import forms
from django.utils import timezone

from ..models import Trouble
from ..services.switching import where
from ..templatetags.board import clock
from .base import Act, ActForm, Facts, act, one_or_404
from .fields import MomentField


class TroubleAct(Act):
    """An act on one trouble."""

    versioned = True

    def find(self) -> None:
        self._clearance = None
        rows = Trouble.objects.select_related("device__structure")
        self.trouble = one_or_404(rows, self.param("trouble"), "trouble")

    def version(self) -> int:
        return self.trouble.version

    def title(self) -> str:
        return f"{self.label}: trouble {self.trouble.pk}"

    def about(self) -> Facts:
        one = self.trouble
        out = one.interruptions.filter(on_at=None)
        care = out.filter(premises__care="life_support").count()
        facts: Facts = [
            ("Device", f"{one.device_id}, {where(one.device)}"),
            ("Since", clock(one.began_at)),
            ("Customers out", f"{out.count()}, of these {care} on life-support"),
            ("Cause", one.cause or "not known"),
            ("Crew", one.crew or "nobody sent"),
            ("Power back by", clock(one.back_by) or "not promised"),
        ]
        return facts

    def kwargs(self, data: dict[str, Any]) -> dict[str, Any]:
        return super().kwargs(data) | {"trouble": self.trouble.pk}


class CauseForm(ActForm):
    cause = forms.CharField(
        label="Cause",
        max_length=200,
        help_text="A few plain words; customers may be told: a limb on the line",
    )


@act
class SayCause(TroubleAct):
    name = "say_cause"
    form = CauseForm
    label = "Say the cause"

    def initial(self) -> dict[str, Any]:
        return {"cause": self.trouble.cause}


class CrewForm(ActForm):
    crew = forms.CharField(label="Who goes there", max_length=80)


@act
class SendCrew(TroubleAct):
    name = "send_crew"
    form = CrewForm
    label = "Send a crew"
    sentence = "Customers and customer service are not told who."

    def initial(self) -> dict[str, Any]:
        return {"crew": self.trouble.crew}


class PromiseForm(ActForm):
    back_by = MomentField(label="Power back by", required=False, help_text="Empty if nobody knows yet")
    next_word_at = MomentField(label="They hear more by", required=False)
    say = forms.CharField(
        label="What customer service may read out",
        max_length=300,
        required=False,
        widget=forms.Textarea(attrs={"rows": 3}),
        help_text="No names, and no word about the line itself",
    )


@act
class PromisePowerBack(TroubleAct):
    name = "promise_power_back"
    form = PromiseForm
    label = "Say when power is back"
    sentence = "Everybody who is out for it gets a notice."

    def initial(self) -> dict[str, Any]:
        one = self.trouble
        return {
            "back_by": one.back_by,
            "next_word_at": one.next_word_at or timezone.now() + datetime.timedelta(hours=1),
            "say": one.say,
        }

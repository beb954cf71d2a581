"""A call in one line, and the field's word of half bright, half dim."""

from typing import Any

from django import forms
from django.http import Http404
from django.utils import timezone

from circuits.models import Premises

from ..models import Call
from ..services.calls import TURN_OFF
from .base import Act, ActForm, Facts, act
from .fields import ClockField, PoleField


class CallForm(ActForm):
    kind = forms.ChoiceField(
        label="What the caller says", choices=Call.Kind.choices, widget=forms.RadioSelect
    )
    place = forms.CharField(label="From where", max_length=160, help_text="House and street, as it is said")
    words = forms.CharField(label="In their words", max_length=400, required=False)

    def __init__(self, *args: Any, act: "TakeCall", **kwargs: Any) -> None:
        super().__init__(*args, act=act, **kwargs)
        if act.home:
            del self.fields["place"]


@act
class TakeCall(Act):
    name = "take_call"
    form = CallForm
    label = "Take a call"
    button = "Send it to the desk"

    def find(self) -> None:
        self._clearance = None
        number = self.param("premises")
        self.home = Premises.objects.filter(pk=number).first()
        if number and self.home is None:
            raise Http404(f"There is no premises {number}.")

    def about(self) -> Facts:
        home = self.home
        facts: Facts = [("Where", f"{home.address} {home.unit}".strip())] if home else []
        say: dict[str, str] = {
            Call.Kind.HALF: TURN_OFF,
            Call.Kind.WIRE: "Stay away from it, and keep others away. We are told at once.",
        }
        return [*facts, *([("Say", say[kind])] if (kind := self.param("kind")) in say else [])]

    def initial(self) -> dict[str, Any]:
        return {"kind": self.param("kind"), "place": self.param("place")}

    def kwargs(self, data: dict[str, Any]) -> dict[str, Any]:
        return super().kwargs(data) | ({"premises": self.home.pk} if self.home else {})


class HalfForm(ActForm):
    place = PoleField(label="At which transformer or pole")
    done_at = ClockField(label="Seen at", initial=timezone.now)
    words = forms.CharField(label="In your own words", max_length=200, required=False)


@act
class ReportHalfBright(Act):
    name = "report_half_bright"
    form = HalfForm
    label = "Half bright, half dim"
    sentence = "A lost neutral until somebody has looked: whoever it is turns the main switch off."

    def kwargs(self, data: dict[str, Any]) -> dict[str, Any]:
        return {name: value for name, value in super().kwargs(data).items() if name != "clearance"}

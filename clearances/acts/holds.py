"""Hot-line holds: a crew works energized, and reclosing is off."""

from typing import Any

from django import forms
from django.utils import timezone

from .. import protections
from ..models import HoldReport, HotLineHold
from ..services.holds import ANSWERS, SEEN
from ..services.switching import where
from .asking import WhyForm
from .base import Act, ActForm, Facts, act
from .fields import ClockField, DeviceField, PhasesField, PoleField
from .of_one import ActOnOne

ENERGIZED = "It is not a clearance: the line stays energized."


class AskForm(ActForm):
    device = DeviceField(label="At which breaker or recloser")
    from_pole = PoleField(label="You work from pole")
    to_pole = PoleField(label="To pole")
    phases = PhasesField(label="Phases")
    work = forms.CharField(label="The work", max_length=200)
    crew = forms.CharField(label="Crew", max_length=80)


@act
class AskForHold(Act):
    name = "ask_for_hold"
    form = AskForm
    label = "Ask for a hot-line hold"
    sentence = (
        "You work energized beyond a device that can close by itself. Before the desk gives the hold, "
        f"reclosing is turned off there and a hold tag hung at its control. {ENERGIZED}"
    )

    def initial(self) -> dict[str, Any]:
        return {"device": self.param("device"), "phases": list("ABC"), "crew": self.person.employer}


class HoldAct(ActOnOne):
    model = HotLineHold
    parameter = "hold"
    row: HotLineHold

    def about(self) -> Facts:
        hold = self.row
        reach = ", ".join(part for part in (hold.holder.phone, hold.holder.radio) if part)
        return [
            ("Hot-line hold", f"{hold.number}, {hold.get_state_display()}. {ENERGIZED}"),
            ("Holder", f"{hold.holder}, {reach}"),
            ("Device", f"{hold.device_id}, {where(hold.device)}"),
            ("Reported", at_the_device(hold)),
            ("Works at", f"{hold.place_words}: {hold.work}"),
        ]


def at_the_device(hold: HotLineHold) -> str:
    """What is reported of reclosing and of the hold tag."""
    reclosing = "reported off" if protections.reclosing_off(hold) else "NOT reported off"
    tag = "reported hung" if protections.tagged(hold) else "NOT reported hung"
    return f"At {hold.device_id} reclosing is {reclosing}, hold tag {hold.number} {tag}."


def said_form(words: tuple[str, ...], question: str) -> type[ActForm]:
    choices = [(word, HoldReport.Said(word).label) for word in words]
    fields: dict[str, Any] = {
        "said": forms.ChoiceField(label=question, choices=choices, widget=forms.RadioSelect),
        "words": forms.CharField(label="In your own words", max_length=200, required=False),
        "done_at": ClockField(label="At", initial=timezone.now),
    }
    return type("SaidForm", (ActForm,), fields)


@act
class ReportHold(HoldAct):
    name = "report_hold"
    form = said_form(SEEN, "At the device")
    label = "Tell what is done at the device"
    sentence = "It is always taken down. If it is not what the board believes, the desk is told at once."

    def initial(self) -> dict[str, Any]:
        return {"said": self.param("said")}


@act
class AnswerHold(HoldAct):
    name = "answer_hold"
    form = said_form(ANSWERS, "The holder's answer")
    label = "Enter the holder's answer"
    sentence = "It counts for a short while only, and a yes only for an opening that the desk knows of."
    holders_own = True


@act
class GiveHold(HoldAct):
    name = "give_hold"
    label = "Give the hot-line hold"
    sentence = f"Reclosing is reported off and the hold tag hung. {ENERGIZED}"

    @property
    def press(self) -> str:
        return f"Give hot-line hold {self.row.number} to {self.row.holder}"


class AcceptForm(ActForm):
    read_back = forms.CharField(
        label="Read back the device and where you work",
        max_length=300,
        widget=forms.Textarea(attrs={"rows": 3}),
        help_text="In the holder's own words.",
    )


@act
class AcceptHold(HoldAct):
    name = "accept_hold"
    form = AcceptForm
    label = "Accept the hot-line hold"
    sentence = (
        f"You are called before the device is opened by order, and before it is closed again. {ENERGIZED}"
    )
    holders_own = True


@act
class WithdrawHold(HoldAct):
    name = "withdraw_hold"
    form = WhyForm
    label = "Withdraw it, not accepted"


class GiveBackForm(ActForm):
    told_everyone = forms.BooleanField(
        label="Everybody is off the conductors and told that reclosing goes back on", required=False
    )


@act
class GiveBackHold(HoldAct):
    name = "give_back_hold"
    form = GiveBackForm
    label = "Give the hot-line hold back"
    sentence = (
        "After this the device may close by itself again. A hold that is given back does not come back."
    )
    danger = True
    holders_own = True

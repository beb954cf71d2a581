"""Steps, and whatever is seen of a device."""

from typing import Any

from django import forms
from django.utils import timezone

from circuits.models import Device

from .. import early, guesses, leaning, rollcall
from ..models import LogEntry, RollCall, Step, VoltageTest
from ..rules.words import made_inoperable
from .asking import WhyForm
from .base import Act, ActForm, Facts, StepAct, act, clearance_or_404, one_or_404
from .fields import ClockField, PhasesField


class GiveForm(ActForm):
    given_to = forms.CharField(label="Given to", max_length=80)
    repeated_back = forms.BooleanField(label="Repeated back, and correct", required=False)


class RollCallForm(ActForm):
    agrees = forms.ChoiceField(
        label="Is everybody of yours clear of it",
        choices=[("yes", "Yes, all clear of it"), ("no", "No")],
        widget=forms.RadioSelect,
    )


@act
class GiveStep(StepAct):
    name = "give_step"
    form = GiveForm
    label = "Give the step"
    sentence = "Say it by voice, hear it repeated back, say that it is correct. Then press."
    versioned = True

    def about(self) -> Facts:
        restoring = self.step.half == Step.Half.RESTORE
        sooner = early.of(self.clearance) if restoring else None
        return [*super().about(), *([("Earlier than told", sooner.sentence)] if sooner else [])]

    def initial(self) -> dict[str, Any]:
        last = Step.objects.filter(order=self.step.order).exclude(given_to="").order_by("-given_at").first()
        return {"given_to": last.given_to if last else ""}


@act
class CallRoll(StepAct):
    name = "call_roll"
    label = "Call the roll"
    sentence = (
        "Each of these holders is asked on their sheet. Reach them by voice as well: silence is a no, and "
        "the step is not given without a yes of each."
    )

    def about(self) -> Facts:
        asked = [f"{hit.reach}, clearance {hit.clearance}: {hit.what}" for hit in rollcall.silent(self.step)]
        machines = list(rollcall.machines(self.step))
        facts = [*super().about(), ("To be asked", asked or "nobody")]
        return [*facts, ("Customers' machines that it would energize", machines or "none")]


@act
class AnswerRollCall(Act):
    name = "answer_roll_call"
    label = "Answer the roll-call"
    sentence = "Look that everybody of yours is clear of it, then answer. The desk hears either answer."
    form = RollCallForm
    holders_own = True

    def find(self) -> None:
        calls = RollCall.objects.select_related("step__device__structure", "clearance")
        self.call = one_or_404(calls, self.param("call"), "roll-call")
        self._clearance = clearance_or_404(str(self.call.clearance_id))

    def about(self) -> Facts:
        return [*super().about(), ("The desk asks", self.call.why), ("Asked by", str(self.call.asked_by))]

    def kwargs(self, data: dict[str, Any]) -> dict[str, Any]:
        return {"call": self.call.pk, "agrees": data["agrees"] == "yes"}


@act
class CallStepBack(StepAct):
    name = "call_step_back"
    form = WhyForm
    label = "Call the step back"
    versioned = True
    sentence = "Only before anything was operated, or once what was closed stands open again."


@act
class LeaveStepOut(StepAct):
    name = "leave_step_out"
    form = WhyForm
    label = "Leave the step out"
    sentence = (
        "The device stays as it is, and the rest of the order can go on: another order moves it, or what it "
        "was to pick up stays out."
    )
    danger = True
    versioned = True


class ReportForm(ActForm):
    """What was done is ticked and said by whoever did it: nothing is put in their mouth. Only what leaves no
    choice is ticked: a single phase.
    """

    phases = PhasesField(label="Done on")
    done_at = ClockField(label="Done at", initial=timezone.now)
    made_inoperable = forms.CharField(
        label="Made inoperable how",
        max_length=120,
        error_messages={
            "required": "Say how it is kept from being closed. If nothing keeps it, the step is not done: "
            "tell what you see at the device."
        },
    )
    tag = forms.BooleanField(label="Tag hung", required=False)

    def __init__(self, *args: Any, act: "ReportStep", **kwargs: Any) -> None:
        super().__init__(*args, act=act, **kwargs)
        step, number = act.step, act.step.tag_number
        left = [phase for phase in step.phases if phase not in step.reported_phases]
        untagging = step.operation == Step.Operation.REMOVE_TAG
        isolating = step.half == Step.Half.ISOLATE and step.point is not None
        if left and not untagging:
            ticked = left if len(left) == 1 else []
            self.fields["phases"] = PhasesField("".join(left), label="Done on", initial=ticked)
        else:
            del self.fields["phases"]
        if isolating and left:
            if usual := made_inoperable(step.device.kind):
                self.fields["made_inoperable"].help_text = f"Usually: {usual}"
        else:
            del self.fields["made_inoperable"]
        if isolating or untagging:
            said = f"Tag {number} {'off' if untagging else 'hung'}"
            must = untagging or not left  # nothing else is left to be reported
            missing = {"required": f"Tick it when tag {number} is {'off' if untagging else 'hung'}."}
            self.fields["tag"] = forms.BooleanField(label=said, required=must, error_messages=missing)
        else:
            del self.fields["tag"]


@act
class ReportStep(StepAct):
    name = "report_step"
    form = ReportForm
    label = "Report the step"

    @property
    def press(self) -> str:
        return {"close": "Closed, and it held", "remove_tag": "Tag is off"}.get(
            self.step.operation, "Done as ticked"
        )

    def kwargs(self, data: dict[str, Any]) -> dict[str, Any]:
        return {"phases": ""} | super().kwargs(data)


class PositionForm(ActForm):
    device = forms.CharField(
        label="Device number, as it stands on the pole",
        widget=forms.TextInput(attrs={"autocapitalize": "characters"}),
    )
    phases = PhasesField(label="Phases")
    position = forms.ChoiceField(
        choices=[
            ("open", "open"),
            ("operable", "open, but nothing keeps it from being closed"),
            ("closed", "closed"),
        ],
        widget=forms.RadioSelect,
        label="Stands",
    )
    made_inoperable = forms.CharField(
        label="Made inoperable how",
        max_length=120,
        required=False,
        help_text="Empty if it is open as it was before",
    )
    tag = forms.ChoiceField(
        choices=[
            ("seen", "it hangs there"),
            ("gone", "it is gone"),
            ("hung", "I have hung it"),
        ],
        widget=forms.RadioSelect,
        label="The tag",
    )
    tag_number = forms.CharField(
        label="Number on the tag", max_length=24, required=False, help_text="For example 41-1"
    )
    done_at = ClockField(label="Seen or done at", initial=timezone.now)
    remark = forms.CharField(label="In your own words", max_length=200, required=False)

    def __init__(self, *args: Any, act: Act, **kwargs: Any) -> None:
        super().__init__(*args, act=act, **kwargs)
        for name in ("made_inoperable",) if act.param("tag") else ("tag", "tag_number"):
            del self.fields[name]

    def clean_device(self) -> str:
        return str(self.cleaned_data["device"]).strip().upper()


TAG_SEEN = "Tell what I see of a tag"


@act
class ReportPosition(Act):
    """With `tag` in its address it asks for the tag, else for how the device is kept open."""

    name = "report_position"
    form = PositionForm
    label = "Tell what I see at a device"
    sentence = "It is always taken down. If it is not what the board believes, the desk is told at once."

    def initial(self) -> dict[str, Any]:
        return {"device": self.param("device")}

    def about(self) -> Facts:
        device = Device.objects.filter(pk=self.param("device")).select_related("structure").first()
        return (
            [
                (
                    "Device",
                    (
                        f"{device.pk} at {device.structure_id or ''} "
                        f"{device.structure.street if device.structure else ''}"
                    ),
                )
            ]
            if device
            else []
        )

    def title(self) -> str:
        return TAG_SEEN if self.param("tag") else self.label

    def kwargs(self, data: dict[str, Any]) -> dict[str, Any]:
        said = {name: value for name, value in super().kwargs(data).items() if name != "clearance"}
        return said | ({"position": "open", "operable": True} if said["position"] == "operable" else {})


@act
class ResumeOrder(Act):
    name = "resume_order"
    form = WhyForm
    label = "Go on with the order"
    sentence = "You have looked at what stopped it, and the next step still follows."
    danger = True
    versioned = True

    def about(self) -> Facts:
        return (
            [*super().about(), ("Paused because", self.clearance.order.paused_why)]
            if hasattr(self.clearance, "order")
            else super().about()
        )


class AnswerForm(ActForm):
    answer = forms.CharField(label="What was done about it", max_length=200)


@act
class AnswerIrregular(Act):
    name = "answer_irregular"
    form = AnswerForm
    label = "Answer it"

    def find(self) -> None:
        super().find()
        self.entry = one_or_404(LogEntry.objects.all(), self.param("entry"), "log entry")

    def title(self) -> str:
        return f"Answer entry {self.entry.number}"

    def about(self) -> Facts:
        against = self.entry.data.get("phone_clock", {}).get("against", [])
        since = list(LogEntry.objects.filter(pk__in=against).values_list("words", flat=True))
        return [
            ("Reported", self.entry.words),
            *([("Entered since", since)] if since else []),
            ("Out of the ordinary", self.entry.irregular),
            *self._leaning(),
        ]

    def _leaning(self) -> Facts:
        """Who leans on what it is about; of voltage that was found, what the record may have wrong."""
        found = list(leaning.of_entry(self.entry))
        leans: Facts = [("Leans on it", found)] if found else []
        clearance = self.entry.clearance
        if clearance is None or self.entry.data.get("result") != VoltageTest.Result.PRESENT:
            return leans
        others = guesses.other_plans(clearance)
        return [
            ("What it may be", guesses.about(clearance, str(self.entry.data["pole"]))),
            ("Planned on the same record", others or "nothing else"),
            *leans,
        ]

    def kwargs(self, data: dict[str, Any]) -> dict[str, Any]:
        return {"entry": self.entry.number, "answer": data["answer"]}

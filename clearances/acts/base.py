"""An act is a verb as a person meets it: a page with one question, what must be before the eyes, and one
button.

Every act of the board is served by one view (`clearances.views.act`) at /do/<name>/. What it changes is
decided by the verb's service and its
rules, never here.
"""

import uuid
from functools import cached_property
from typing import Any, ClassVar, TypeVar, cast
from urllib.parse import urlencode

from django import forms
from django.db.models import Model, QuerySet
from django.http import Http404, HttpRequest
from django.urls import reverse
from django.utils import timezone
from django.utils.dateparse import parse_datetime
from django.utils.http import url_has_allowed_host_and_scheme

from circuits import positions

from ..models import Clearance, Person, Role, Step
from ..rooms import room_of
from ..rules.queued import MAY_WAIT
from ..rules.words import letters
from ..services import VERBS
from ..services.phone import Phone
from ..services.switching import where, words_of
from ..services.verb import Who
from ..signing_in import WAIT, is_password_of

HOW = [("radio", "radio"), ("telephone", "telephone"), ("in person", "in person")]
M = TypeVar("M", bound=Model)
LONGEST_NUMBER = 19  # digits; what has as many is no number of a row

PHONE = ("phone_said_at", "phone_sent_at", "phone_sequence")
Facts = list[tuple[str, str | list[str]]]


class ActForm(forms.Form):
    """The fields of one act. `key` is the sender's idempotency key: the same press sent twice counts once."""

    key = forms.UUIDField(widget=forms.HiddenInput, initial=uuid.uuid4)

    def __init__(self, *args: Any, act: "Act", **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.act = act
        if act.versioned:
            self.fields["version"] = forms.IntegerField(widget=forms.HiddenInput, initial=act.version())
        if act.name in MAY_WAIT and room_of(act.person) == "field":
            for name in PHONE:  # filled in by static/js/phone.js; without it the report is a live one
                self.fields[name] = forms.CharField(widget=forms.HiddenInput, required=False)
        if act.for_another:
            people = act.speakers()
            self.fields["speaking_for"] = forms.ModelChoiceField(
                people, label="Who says so", initial=act.usual_speaker(), empty_label=None
            )
            self.fields["how"] = forms.ChoiceField(
                choices=HOW, widget=forms.RadioSelect, label="How did the word come", initial="radio"
            )
        if VERBS[act.name].again:
            self.fields["password"] = forms.CharField(
                widget=forms.PasswordInput(attrs={"autocomplete": "current-password"}),
                label=f"Your password, {act.person}",
                help_text="Asked again, so that nobody gives or releases under another's name.",
            )

    def clean_password(self) -> str:
        password: str = self.cleaned_data["password"]
        if not is_password_of(self.act.person, password, self.act.request):
            raise forms.ValidationError(f"That is not your password. {WAIT} Nothing was changed.")
        return password


class Act:
    """One act for one person. Subclasses say what it is; `kwargs` turns the cleaned form into the verb's
    arguments.
    """

    name: ClassVar[str]
    form: ClassVar[type[ActForm]] = ActForm
    label: ClassVar[str]
    sentence: ClassVar[str] = ""
    button: ClassVar[str] = ""
    danger: ClassVar[bool] = False
    versioned: ClassVar[bool] = False
    holders_own: ClassVar[bool] = False  # of field people only the holder of the clearance gets the page

    def __init__(self, request: HttpRequest) -> None:
        self.request = request
        self.person = cast(Person, request.user)
        self.find()

    def find(self) -> None:
        """Read what the address names (clearance, step ...); a number that is not there is a 404 with a
        sentence.
        """
        self._clearance = self._clearance_named()

    def _clearance_named(self) -> Clearance | None:
        number = self.param("clearance")
        return clearance_or_404(number) if number else None

    def version(self) -> int:
        """Of what it changes, as the page shows it."""
        return self.clearance.version

    def is_anothers(self) -> bool:
        """It belongs to the holder of the clearance, and this is neither the holder nor the desk for them."""
        return (
            self.holders_own
            and not self.person.has_role(Role.OPERATOR)
            and self.clearance.holder_id != self.person.pk
        )

    def belongs_to(self) -> str:
        """Whose it is, for somebody who may not do it."""
        return f"Work clearance {self.clearance.pk} is {self.clearance.holder}'s, not yours."

    def param(self, name: str) -> str:
        return self.request.GET.get(name, "")

    @property
    def clearance(self) -> Clearance:
        if self._clearance is None:
            raise Http404("This needs the number of a clearance.")
        return self._clearance

    @property
    def for_another(self) -> bool:
        """The desk enters somebody else's word."""
        if not VERBS[self.name].field_word or not self.person.has_role(Role.OPERATOR):
            return False
        return self._clearance is None or self._clearance.holder_id != self.person.pk

    def speakers(self) -> QuerySet[Person]:
        return Person.objects.filter(roles__overlap=[Role.FOREMAN, Role.CREW], is_active=True).order_by(
            "first_name", "last_name"
        )

    def usual_speaker(self) -> Person | None:
        return self._clearance.holder if self._clearance else None

    def title(self) -> str:
        return f"{self.label}: clearance {self._clearance.pk}" if self._clearance else self.label

    @property
    def press(self) -> str:
        """The words on the button."""
        return self.button or self.label

    def about(self) -> Facts:
        """What must be before the eyes of whoever does this. Customer service, which sees no names of crews,
        gets none of it.
        """
        if self._clearance is None or room_of(self.person) == "service":
            return []
        clearance = self._clearance
        return [
            ("Clearance", f"{clearance.pk}, {clearance.holder}, {clearance.get_state_display()}"),
            ("Limits", clearance.limits_words),
            ("Work", clearance.work),
        ]

    def initial(self) -> dict[str, Any]:
        return {}

    def kwargs(self, data: dict[str, Any]) -> dict[str, Any]:
        """The verb's arguments; by default the form's fields by name, with the clearance."""
        plain = {
            name: value
            for name, value in data.items()
            if name not in ("key", "speaking_for", "how", "password", *PHONE)
        }
        return plain | ({"clearance": self._clearance.pk} if self._clearance else {})

    def who(self, data: dict[str, Any]) -> Who:
        return Who(
            by=self.person,
            speaking_for=data.get("speaking_for") if self.for_another else None,
            how=data.get("how") or "board",
            key=data["key"],
            phone=phone_of(data),
        )

    def back(self) -> str:
        """Where this came from: `back` if it is a page of this board, else the clearance's page in the
        person's room.
        """
        wanted = self.param("back")
        if wanted and url_has_allowed_host_and_scheme(
            wanted, {self.request.get_host()}, self.request.is_secure()
        ):
            return wanted
        room = room_of(self.person)
        if self._clearance and room in ("desk", "field"):
            return f"/{room}/clearances/{self._clearance.pk}/"
        return f"/{room}/"


def phone_of(data: dict[str, Any]) -> Phone | None:
    """What the telephone said of its time; what can't be read is as good as nothing said."""
    try:
        said, sent = (parse_datetime(str(data.get(name) or "")) for name in PHONE[:2])
        number = int(data.get(PHONE[2]) or "")
    except ValueError:
        return None
    return Phone.of(said, sent, number)


def one_or_404(rows: QuerySet[M], number: str, called: str) -> M:
    """The row that an address names by its number; whatever is no number names none."""
    readable = number.isdecimal() and len(number) < LONGEST_NUMBER
    row = rows.filter(pk=number).first() if readable else None
    if row is None:
        raise Http404(f"There is no {called} {number}.")
    return row


def clearance_or_404(number: str) -> Clearance:
    rows = Clearance.objects.select_related("job", "holder", "alternate")
    return one_or_404(rows, number, "clearance")


class StepAct(Act):
    """An act on one step of an order."""

    def find(self) -> None:
        rows = Step.objects.select_related("device__structure", "point", "order")
        self.step = one_or_404(rows, self.param("step"), "step")
        self._clearance = clearance_or_404(str(self.step.order_id))

    @cached_property
    def stands_open(self) -> str:
        """The phases of the step's device that stand open, for a step that is still to be done."""
        done = self.step.state == Step.State.REPORTED
        return "" if done else positions.open_phases().get(self.step.device_id, "")

    def title(self) -> str:
        return f"{self.label}: order {self.step.order_id}, step {self.step.place}"

    def about(self) -> Facts:
        facts: Facts = [
            ("Step", words_of(self.step, self.stands_open)),
            ("Device", f"{self.step.device_id}, {where(self.step.device)}"),
        ]
        if self.step.given_at:
            at = timezone.localtime(self.step.given_at)
            facts.append(("Given", f"{at:%H:%M} to {self.step.given_to} by {self.step.given_by}"))
        if self.step.reported_phases:
            facts.append(("Reported so far", letters(self.step.reported_phases)))
        return facts

    def kwargs(self, data: dict[str, Any]) -> dict[str, Any]:
        return {name: value for name, value in super().kwargs(data).items() if name != "clearance"} | {
            "step": self.step.pk
        }


ACTS: dict[str, type[Act]] = {}


def act(kind: type[Act]) -> type[Act]:
    """Register an act under its verb's name."""
    if kind.name not in VERBS:
        raise LookupError(f"{kind.name} is not a verb")
    ACTS[kind.name] = kind
    return kind


def allowed(person: Person, name: str) -> bool:
    return person.has_role(*VERBS[name].roles)


def link(name: str, label: str = "", *, danger: bool = False, **params: object) -> dict[str, Any]:
    """What a page needs to offer an act: its address with what it is about, and the words to press."""
    query = urlencode({key: value for key, value in params.items() if value not in (None, "")})
    url = reverse("act", args=[name]) + (f"?{query}" if query else "")
    return {"label": label or ACTS[name].label, "url": url, "danger": danger or ACTS[name].danger}

"""Form fields of the trade: a clock time, a set of phases."""

import datetime
from typing import Any

from django import forms
from django.utils import timezone

from circuits.models import Structure

from ..rules.words import in_order


class ClockField(forms.Field):
    """HH:MM, 24 hours, as it is said on the radio: the last time that the clock stood there (or stands there
    in a minute).

    A minute that is over counts by its end, so that of two things said of it the one entered later is the
    later one.
    """

    widget = forms.TimeInput(format="%H:%M")

    def prepare_value(self, value: Any) -> Any:
        return timezone.localtime(value).strftime("%H:%M") if isinstance(value, datetime.datetime) else value

    def to_python(self, value: Any) -> datetime.datetime | None:
        if value in self.empty_values:
            return None
        text = str(value).strip().replace(".", ":")
        if ":" not in text and len(text) in (3, 4):
            text = f"{text[:-2]}:{text[-2:]}"
        try:
            clock = datetime.time.fromisoformat(text.zfill(5))
        except ValueError:
            raise forms.ValidationError("Write the time as HH:MM, for example 08:41.") from None
        now = timezone.localtime()
        begins = now.replace(hour=clock.hour, minute=clock.minute, second=0, microsecond=0)
        if begins > now:
            soon = begins <= now + datetime.timedelta(minutes=30)
            begins = begins if soon else begins - datetime.timedelta(days=1)
        ends = begins.replace(second=59, microsecond=999_999)
        return begins if begins > now else min(ends, now)


class MomentField(forms.SplitDateTimeField):
    """A day and an HH:MM."""

    def __init__(self, **kwargs: Any) -> None:
        widget = forms.SplitDateTimeWidget(
            date_attrs={"type": "date", "aria-label": "day"},
            date_format="%Y-%m-%d",
            time_attrs={"placeholder": "HH:MM", "aria-label": "time, HH:MM"},
            time_format="%H:%M",
        )
        super().__init__(widget=widget, input_time_formats=["%H:%M"], **kwargs)


class PhasesField(forms.MultipleChoiceField):
    """One tick a phase; gives the letters in order."""

    widget = forms.CheckboxSelectMultiple

    def __init__(self, phases: str = "ABC", **kwargs: Any) -> None:
        super().__init__(choices=[(phase, f"phase {phase}") for phase in phases], **kwargs)

    def clean(self, value: Any) -> str:
        return in_order("".join(super().clean(value)))


class DeviceField(forms.CharField):
    """A device's number as it stands on the pole; small and capital letters do not matter."""

    def __init__(self, **attrs: Any) -> None:
        super().__init__(widget=forms.TextInput(attrs={"autocapitalize": "characters"}), **attrs)

    def clean(self, value: Any) -> str:
        typed: str = super().clean(value)
        return typed.upper()


class PoleField(forms.CharField):
    """A pole's number as it is typed; gives it as the network has it: case and a missing dash do not matter.
    What is not on the network stays as it was typed.
    """

    def __init__(self, **attrs: Any) -> None:
        super().__init__(widget=forms.TextInput(attrs={"autocapitalize": "characters"}), **attrs)

    def clean(self, value: Any) -> str:
        typed: str = super().clean(value)
        wanted = typed.upper()
        found = Structure.objects.filter(id__in={wanted, f"P-{wanted}", wanted.replace("P", "P-", 1)})
        return found.values_list("id", flat=True).first() or typed

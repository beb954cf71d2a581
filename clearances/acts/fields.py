"""Form fields of the trade: a clock time, a set of phases."""

import datetime
from typing import Any

from django import forms
from django.utils import timezone

from ..rules.words import in_order


class ClockField(forms.Field):
    """HH:MM, 24 hours, as it is said on the radio: the last time that the clock stood there (or stands there
    in a minute).
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
        at = now.replace(hour=clock.hour, minute=clock.minute, second=0, microsecond=0)
        if (at.hour, at.minute) == (now.hour, now.minute):
            return (
                now  # said just now: keep the second, so that it does not come before what was just reported
            )
        return at if at <= now + datetime.timedelta(minutes=30) else at - datetime.timedelta(days=1)


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

"""The holder's answer to a broken proof."""

from typing import Any

from django import forms

from ..models import BrokenProof
from .base import Act, ActForm, Facts, act, clearance_or_404, one_or_404


class OffForm(ActForm):
    people_off = forms.ChoiceField(
        label="Is everybody off the line",
        choices=[("yes", "Yes, everybody is off"), ("no", "No, people are still on")],
        widget=forms.RadioSelect,
    )


@act
class AnswerBrokenProof(Act):
    name = "answer_broken_proof"
    label = "Answer the broken proof"
    button = "Tell the desk"
    sentence = (
        "A source may reach your limits. Everybody off the line, treat it as energized, then answer. The "
        "desk asks on until everybody is off."
    )
    form = OffForm
    holders_own = True

    def find(self) -> None:
        self.row = one_or_404(BrokenProof.objects.all(), self.param("broken_proof"), "broken proof")
        self._clearance = clearance_or_404(str(self.row.clearance_id))

    def about(self) -> Facts:
        return [*super().about(), ("What broke it", self.row.words)]

    def kwargs(self, data: dict[str, Any]) -> dict[str, Any]:
        return {"broken_proof": self.row.pk, "people_off": data["people_off"] == "yes"}

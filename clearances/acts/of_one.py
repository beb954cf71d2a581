"""Acts on one hot-line hold, one do-not-operate or one field clearance, named in the address."""

from typing import Any, ClassVar

from django.db.models import QuerySet

from ..models import DoNotOperate, FieldClearance, HotLineHold, Person, Role
from ..services import VERBS
from .base import Act, one_or_404

Row = HotLineHold | DoNotOperate | FieldClearance


class ActOnOne(Act):
    """`parameter` is the name in the address and the verb's argument; with `holders_own` it belongs to the
    holder, or to the operator who enters the holder's word.
    """

    model: ClassVar[type[Row]]
    parameter: ClassVar[str]
    row: Row

    @property
    def called(self) -> str:
        return self.parameter.replace("_", " ")

    @property
    def holder(self) -> Person | None:
        """None for a do-not-operate, whose person has no log-in."""
        return None if isinstance(self.row, DoNotOperate) else self.row.holder

    def find(self) -> None:
        self._clearance = None
        rows: QuerySet[Any] = self.model._default_manager.select_related("device__structure")
        self.row = one_or_404(rows, self.param(self.parameter), self.called)

    def is_anothers(self) -> bool:
        return self.holders_own and not self.person.has_role(Role.OPERATOR) and self.holder != self.person

    def belongs_to(self) -> str:
        return f"The {self.called} {self.row.number} is {self.holder}'s, not yours."

    @property
    def for_another(self) -> bool:
        enters = VERBS[self.name].field_word and self.person.has_role(Role.OPERATOR)
        return enters and self.holder != self.person

    def speakers(self) -> QuerySet[Person]:
        field = super().speakers()
        return field.filter(pk=self.holder.pk) if self.holders_own and self.holder else field

    def usual_speaker(self) -> Person | None:
        return self.holder

    def title(self) -> str:
        return f"{self.label}: {self.row.number}"

    def kwargs(self, data: dict[str, Any]) -> dict[str, Any]:
        return super().kwargs(data) | {self.parameter: self.row.pk}

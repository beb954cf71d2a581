"""Power that comes back before the hour that its customers were told: nothing is refused, they are named."""

import datetime
from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from .flags import Flag

# Less is on time (common practice).
ON_TIME = datetime.timedelta(minutes=15)


@dataclass(frozen=True, slots=True)
class Early:
    """An order whose restore half gives power back early: how many were told until when, in local time, and
    the customers' machines among them, in words with their address."""

    order: int
    told: tuple[tuple[datetime.datetime, int], ...]
    machines: tuple[str, ...] = ()

    @property
    def sentence(self) -> str:
        hours = " and ".join(
            f"{number} {'customer was' if number == 1 else 'customers were'} told until {hour:%H:%M}"
            for hour, number in self.told
        )
        text = f"Order {self.order} puts power back earlier than told: {hours}."
        if self.machines:
            text += (
                f" Before the first close reach whoever has a machine that may run until then: "
                f"{'; '.join(self.machines)}."
            )
        return text


def early(orders: Iterable[Early]) -> Iterator[Flag]:
    """The desk is told of each."""
    for one in orders:
        yield Flag("back_early", str(one.order), one.sentence, "soon", one.order)

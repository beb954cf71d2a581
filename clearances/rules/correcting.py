"""May the holder take back that a ground set went on?"""

from collections.abc import Collection

from .clauses import HOLDER_RELEASES, RELEASE_DUTIES, TWO_SAY_SO
from .refusal import Refusal


def may_take_back(
    label: str,
    *,
    stands_on: Collection[str],
    holder: str,
    is_holder: bool,
    second: str,
    crew: Collection[str],
) -> tuple[Refusal, ...]:
    """That set `label` never went on: said by the holder and by a `second` of the `crew` (everybody who is or
    was signed on). `stands_on`: the numbers of the sets that are reported on.
    """
    out: list[Refusal] = []
    if label not in stands_on:
        text = f"Ground set {label} is not reported on."
        out.append(Refusal("set_not_on", label, text, RELEASE_DUTIES, "Read the number on the set again."))
    if not is_holder:
        text = f"Only {holder} can say that ground set {label} never went on."
        way = f"Reach {holder}; the desk can enter it in that name, as it is said."
        out.append(Refusal("not_the_holder", holder, text, HOLDER_RELEASES, way))
    if second == holder or second not in crew:
        text = f"No second crew member says that ground set {label} never went on."
        way = "Name somebody else who is or was signed on under the clearance, and who says so as well."
        out.append(Refusal("no_second_person", second, text, TWO_SAY_SO, way))
    return tuple(out)

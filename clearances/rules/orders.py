"""Is a written order fit to be checked, and by whom?"""

from collections.abc import Iterable, Mapping

from .clauses import ALL_OPENED, PICTURE, SECOND_PERSON
from .facts import Clearance, Path, Step
from .refusal import Refusal
from .words import are, in_order, letters


def expected_positions(steps: Iterable[Step], open_now: Mapping[str, str]) -> tuple[tuple[str, str], ...]:
    """For each step in order, the phases expected open before and after it, as two strings of letters."""
    state = dict(open_now)
    out = []
    for step in steps:
        before = in_order(set(state.get(step.device, "")) & set(step.phases))
        done = "" if step.state == "left_out" else step.operation
        after = {"open": step.phases, "close": ""}.get(done, before)
        others = set(state.get(step.device, "")) - set(step.phases)
        state[step.device] = in_order(others | set(after))
        out.append((before, after))
    return tuple(out)


def order_faults(
    clearance: Clearance,
    *,
    open_now: Mapping[str, str],
    stay_open: Mapping[str, str],
    planned_paths: tuple[Path, ...],
) -> tuple[Refusal, ...]:
    """Why the order may not be checked: both halves, or, of a clearance that is not only asked for, the way
    back that was written again.

    `open_now`: phases that stand open per device; `stay_open`: phases per device that another clearance holds
    open or that are normally
    open and so are not closed by the restore half; `planned_paths`: what would still feed the limits with
    every point open and tagged.
    """
    out = []
    for path in planned_paths:
        out.append(
            Refusal(
                "plan_leaves_source",
                path.source,
                f"With every point of this order open and tagged, {are(path.phases)} still fed: "
                f"{path.words}.",
                ALL_OPENED,
                "Add a point on that way, or have somebody look and report by name that the way is not "
                "there.",
            )
        )
    isolate = clearance.half("isolate")
    for point in clearance.points:
        covered = "".join(step.phases for step in isolate if step.device == point.device)
        if missing := in_order(set(point.phases) - set(covered)):
            out.append(
                Refusal(
                    "point_without_step",
                    point.device,
                    f"No step opens or checks {point.device} phase {letters(missing)}.",
                    ALL_OPENED,
                    "Write the order again from the points.",
                )
            )
    ahead = isolate if clearance.state == "asked" else ()
    steps = ahead + tuple(step for step in clearance.half("restore") if step.state == "waiting")
    for step, (before, _after) in zip(steps, expected_positions(steps, open_now), strict=True):
        open_before = before == step.phases
        if step.operation == "open" and before:
            out.append(
                _does_not_follow(
                    step.device, f"{step.device} {letters(before)} would already stand open when it is opened"
                )
            )
        if step.operation in ("check_open", "close") and not open_before:
            closed = letters(in_order(set(step.phases) - set(before)))
            out.append(
                _does_not_follow(
                    step.device, f"{step.device} {closed} would stand closed before «{step.operation}»"
                )
            )
    if not clearance.half("restore"):
        out.append(_does_not_follow(str(clearance.number), "the order has no restore half"))
    for device, phases in stay_open.items():
        if any(
            step.operation == "close" and step.device == device and set(step.phases) & set(phases)
            for step in steps
        ):
            out.append(
                _does_not_follow(
                    device,
                    f"{device} {letters(phases)} is held open or normally open, yet the restore half "
                    "closes it",
                )
            )
    return tuple(out)


def _does_not_follow(about: str, text: str) -> Refusal:
    return Refusal(
        "step_does_not_follow",
        about,
        f"{text[0].upper()}{text[1:]}.",
        PICTURE,
        "Write the order again on the network as it stands.",
    )


def may_check(*, writer: str, checker: str, same_person: bool, state: str) -> tuple[Refusal, ...]:
    """A second person checks a draft."""
    if same_person:
        return (
            Refusal(
                "checker_is_writer",
                checker,
                f"{writer} wrote this order; another person has to check it.",
                SECOND_PERSON,
                "Ask a second operator or the line supervisor, by telephone if need be, to check it "
                "under their own name.",
            ),
        )
    if state != "draft":
        return (
            Refusal(
                "order_not_draft",
                checker,
                f"The order is {state}, not a draft.",
                SECOND_PERSON,
                "Look at the order as it stands.",
            ),
        )
    return ()

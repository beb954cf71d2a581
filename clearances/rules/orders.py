"""Is a written order fit to be checked, and by whom?"""

from collections.abc import Iterable, Iterator, Mapping

from .clauses import ALL_OPENED, LIKE_PHASES, PICK_UP, PICTURE, SECOND_PERSON
from .facts import Clearance, Hit, Path, Step
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
    joins: tuple[tuple[str, str], ...] = (),
    meets: tuple[Hit, ...] = (),
) -> tuple[Refusal, ...]:
    """Why the order may not be checked: both halves, or, of a clearance that is not only asked for, the way
    back that was written again.

    `open_now`: phases that stand open per device; `stay_open`: phases per device that another clearance holds
    open or that are normally
    open and so are not closed by the restore half; `planned_paths`: what would still feed the limits with
    every point open and tagged; `joins`: devices whose close, in its turn, would join what may never be
    joined, with what that is in words; `meets`: the other clearances of these hours with which what is
    picked up by a tie would be out although nobody counts it, each with what is wrong in words.
    """
    out = [
        Refusal(
            "joins_unlike_phases",
            device,
            f"The close of {device} can't be ordered where it stands: {words}.",
            LIKE_PHASES,
            "Put the step elsewhere in the order, or choose the points again without it.",
        )
        for device, words in joins
    ]
    out += [
        Refusal(
            "pick_up_meets_other",
            str(hit.clearance),
            f"{hit.what} (clearance {hit.clearance}, {hit.reach}).",
            PICK_UP,
            "Move the window of one of them, or choose points and ties that keep apart.",
        )
        for hit in meets
    ]
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
    out += _out_of_step(steps, open_now)
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


def _out_of_step(steps: tuple[Step, ...], open_now: Mapping[str, str]) -> Iterator[Refusal]:
    """Each step that does not follow from those before it."""
    tagged = {step.device for step in steps if step.operation == "remove_tag"}
    for step, (before, _after) in zip(steps, expected_positions(steps, open_now), strict=True):
        device = step.device
        if step.operation == "remove_tag":
            tagged.discard(device)
        if step.operation == "close" and device in tagged:
            yield _does_not_follow(device, f"{device} would be closed before its tag is taken off")
        if step.operation == "open" and before:
            yield _does_not_follow(
                device, f"{device} {letters(before)} would already stand open when it is opened"
            )
        if step.operation in ("check_open", "close") and before != step.phases:
            closed = letters(in_order(set(step.phases) - set(before)))
            yield _does_not_follow(device, f"{device} {closed} would stand closed before «{step.operation}»")


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


def may_move_step(*, writer: str, mover: str, same_person: bool, state: str) -> tuple[Refusal, ...]:
    """Whoever wrote a draft puts its steps into another turn, so that its checker had no hand in it."""
    if state != "draft":
        return (
            Refusal(
                "steps_stand",
                mover,
                f"The order is {state}, not a draft: its steps stand where they are.",
                SECOND_PERSON,
                "Take the check back first, as long as no step has been given.",
            ),
        )
    if not same_person:
        return (
            Refusal(
                "not_the_writer",
                mover,
                f"{writer} wrote this order, so nobody else moves its steps.",
                SECOND_PERSON,
                f"Ask {writer}, or write the order again under your own name.",
            ),
        )
    return ()

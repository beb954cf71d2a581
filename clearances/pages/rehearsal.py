"""The orders of a job played forward and back over the one-line, and the slips that would hit somebody."""

from typing import Any

from django.http import Http404

from circuits import oneline
from circuits.core.rehearsing.beside import concerns
from circuits.core.rehearsing.rehearsal import Frame, Order, rehearse
from circuits.core.rehearsing.slips import slips

from .. import facts, network, rehearsing
from ..models import Clearance, Step
from ..services.switching import words_of
from . import words
from .picture import Row

SHOWN = 12  # of the slips that hit somebody; the others are there to be opened


def context(number: int, at: int) -> dict[str, Any]:
    """What templates/desk/rehearsal.html names; `at` is the number of the frame that is drawn."""
    row = _clearance(number)
    played = rehearsing.of_job(row)
    frames = rehearse(played.order)
    if not 0 <= at < len(frames):
        raise Http404(f"This rehearsal has no state {at}.")
    rows = [_frame(played.order, frame, step) for frame, step in zip(frames, played.steps, strict=True)]
    shown = frames[at]
    return {
        "plan": _plan(row),
        "clearance": row,
        "said": played.said,
        "frames": rows,
        "shown": rows[at],
        "earlier": at - 1 if at else None,
        "later": at + 1 if at + 1 < len(frames) else None,
        "oneline": _drawing(row, shown),
        "oneline_plain": True,
    }


def worst(number: int) -> dict[str, Any]:
    """What templates/desk/slips.html and slips_whole.html name."""
    row = _clearance(number)
    found = slips(rehearsing.of_job(row).order)
    hits = [slip.sentence for slip in found if slip.hits]
    return {
        "plan": _plan(row),
        "clearance": row,
        "hit_count": len(hits),
        "hits": hits[:SHOWN],
        "more_hits": hits[SHOWN:],
        "concerns": [slip.sentence for slip in found if slip.concerns and not slip.hits],
        "joins": [slip.sentence for slip in found if slip.joined and not (slip.hits or slip.concerns)],
        "customers": [slip.sentence for slip in found if not (slip.hits or slip.concerns or slip.joined)],
    }


def _clearance(number: int) -> Clearance:
    row = Clearance.objects.select_related("holder", "order").filter(pk=number).first()
    if row is None or not hasattr(row, "order"):
        raise Http404(f"There is no switching order {number}.")
    return row


def _plan(row: Clearance) -> Row:
    return {"for": f"{words.day(row.window_start)}, a rehearsal"}


def _frame(order: Order, frame: Frame, step: Step | None) -> Row:
    return {
        "number": frame.number,
        "step": f"Step {frame.done[0].step}" if frame.done else "After the work" if frame.number else "Now",
        "words": words_of(step) if step else _begins(frame),
        "out": len(frame.out),
        "newly_out": len(frame.newly_out) if frame.before else 0,
        "back": len(frame.back),
        "does": _does(order, frame),
    }


def _begins(frame: Frame) -> str:
    return "before the restore half" if frame.number else "as the devices are reported to stand"


def _does(order: Order, frame: Frame) -> list[str]:
    """What a step does that somebody must know of, in sentences."""
    said = [f"{one.words[0].upper()}{one.words[1:]}." for one in concerns(order.beside, frame)]
    said += [f"On what changes stands {crew.name}: phases {', '.join(on)}." for crew, on in frame.stood_on]
    if frame.before:  # what is joined now is no doing of the order's
        said += [f"{joined[0].upper()}{joined[1:]}." for joined in frame.made.sentences]
    if lost := len(frame.single_phased):
        customers = "customer is" if lost == 1 else "customers are"
        said.append(f"{lost} {customers} on part of the phases: motors single-phased.")
    return said


def _drawing(row: Clearance, frame: Frame) -> oneline.OneLine | None:
    compiled = frame.trace.compiled
    job = Clearance.objects.filter(job=row.job_id).prefetch_related("limits", "sign_ons").order_by("pk")
    nodes = {node for one in job for node, _ in facts.limits_of(one, compiled)}
    if not nodes:
        return None
    return oneline.draw(
        compiled=compiled,
        state=frame.trace,
        around=nodes,
        width=900,
        tags={},
        bands=network.bands(job, compiled),
        notes={},
    )

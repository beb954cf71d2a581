"""What lies next to a device on each of its sides."""

from collections import deque

from circuits.core.network import Compiled

NEAREST = 8


def neighbours(compiled: Compiled, device: str) -> list[tuple[str, list[str]]]:
    """Each side of a device by its node, with the next devices that one comes to, the nearest first.

    Nearest by the number of spans; at most `NEAREST`. The search goes through lines, regulators and joining
    transformers, and stops at every device. Cost: the links of the section on that side.
    """
    found = []
    own = compiled.network.device[device]
    for node in (own.from_node, own.to_node):
        waiting = deque(compiled.point(node, phase) for phase in own.phases)
        seen = set(waiting)
        at: dict[int, list[str]] = {}
        for section in {int(compiled.section[point]) for point in waiting}:
            for number, beyond in compiled.graph.ways[section]:
                link = compiled.crossing(number, section, beyond)
                at.setdefault(link.start, []).append(link.id)
        nearest: dict[str, None] = {}
        while waiting and len(nearest) < NEAREST:
            here = waiting.popleft()
            nearest |= dict.fromkeys(one for one in at.get(here, ()) if one != device)
            for link in compiled.inside.get(here, ()):
                if link.end not in seen:
                    seen.add(link.end)
                    waiting.append(link.end)
        found.append((node, list(nearest)[:NEAREST]))
    return found

"""A feeder of 600 devices, as a utility has one: a long main, a lateral with its cutout at every second pole,
and on each pole of a lateral a transformer behind its own cutout."""

from circuits.core.network import (
    Circuit,
    Compiled,
    Device,
    Line,
    Network,
    Node,
    Premises,
    Source,
    Structure,
    Transformer,
    compile_network,
)

MAIN = 80
LATERAL = 14


def feeder() -> Compiled:
    nodes = [Node("ST", "ABC", structure="ST"), Node("P-1", "ABC", structure="P-1")]
    structures = [Structure("ST", "Dock Street station", "Dock Street", "station"), Structure("P-1", "P-1")]
    devices = [Device("B-9", "ST", "P-1", "ABC", "ABC", "breaker", circuit="9", structure="P-1")]
    lines, transformers, premises = [], [], []

    def pole(number: int, before: str, phases: str, street: str) -> str:
        name = f"P-{number}"
        structures.append(Structure(name, name, street))
        nodes.append(Node(name, phases, structure=name))
        lines.append(Line(f"L-{number}", before, name, phases, circuit="9"))
        return name

    main = "P-1"
    for place in range(2, MAIN + 1):
        main = pole(place, main, "ABC", "Dock Street")
        if place % 2:
            continue
        phase = "ABC"[place // 2 % 3]
        nodes.append(Node(f"{main}c", phase, structure=main))
        devices.append(Device(f"C-{place}", main, f"{main}c", phase, phase, circuit="9", structure=main))
        here = f"{main}c"
        for nth in range(1, LATERAL + 1):
            number = 100 * place + nth
            here = pole(number, here, phase, f"Street {place}")
            nodes += [
                Node(f"{here}t", phase, structure=here),
                Node(f"{here}s", phase, 0.24, here),
            ]
            cutout = Device(f"F-{number}", here, f"{here}t", phase, phase, circuit="9", structure=here)
            devices.append(cutout)
            unit = Transformer(f"T-{number}", f"{here}t", f"{here}s", phase, "single", structure=here)
            transformers.append(unit)
            premises.append(Premises(f"H-{number}", f"T-{number}"))
    return compile_network(
        Network(
            circuits=(Circuit("9", "feeder 9"),),
            structures=tuple(structures),
            nodes=tuple(nodes),
            lines=tuple(lines),
            devices=tuple(devices),
            transformers=tuple(transformers),
            premises=tuple(premises),
            sources=(Source("ST", "ST", "station", "ABC"),),
        )
    )

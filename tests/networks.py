"""Small networks, each drawn in its docstring.

In the drawings `==` is a three-phase line, `--` a line of the phases named, `[x]` a device that is normally
closed, `<x>` one that is normally open, `(x)` a transformer, `*x` a source and `n:x` n customers at x.
Nodes are named after their poles, with `a` for the far side of a device on the same pole.
"""

from circuits.core.network import (
    Capacitor,
    Circuit,
    Compiled,
    Device,
    Line,
    Load,
    Network,
    Node,
    Premises,
    Regulator,
    Source,
    Structure,
    Transformer,
    compile_network,
)


def poles(*numbers: int) -> tuple[Structure, ...]:
    return tuple(Structure(f"S{number}", label=f"P-{number}") for number in numbers)


def node(name: str, phases: str = "ABC", kv: float = 12.47) -> Node:
    """A node named after its pole: "P-1" and "P-1a" are both on structure S1."""
    return Node(name, phases, kv, structure=f"S{name.rstrip('abct')[2:]}")


def low(name: str, phases: str) -> Node:
    """A secondary node, on no pole."""
    return Node(name, phases, 0.24)


def customers(transformer: str, count: int, phases: str = "") -> tuple[Premises, ...]:
    return tuple(
        Premises(f"{transformer}/{number}", transformer, phases=phases) for number in range(1, count + 1)
    )


def radial_tap() -> Compiled:
    """
    *ST == P-1 == P-2
           |
         [C-301] -B- P-1a -B- P-3 -[F-3]- (T-3) 3:
                              |
                             P-4 -[F-4]- (T-4) 2:
    """
    return compile_network(
        Network(
            circuits=(Circuit("F30", "feeder 30"),),
            structures=poles(1, 2, 3, 4),
            nodes=(
                node("P-1"), node("P-2"), node("P-1a", "B"), node("P-3", "B"), node("P-4", "B"),
                node("P-3t", "B"), node("P-4t", "B"), low("T-3s", "B"), low("T-4s", "B"),
            ),
            lines=(
                Line("L1", "P-1", "P-2", "ABC", circuit="F30"),
                Line("L3", "P-1a", "P-3", "B", circuit="F30"),
                Line("L4", "P-3", "P-4", "B", circuit="F30"),
            ),
            devices=(
                Device("C-301", "P-1", "P-1a", "B", closed="B", circuit="F30", structure="S1"),
                Device("F-3", "P-3", "P-3t", "B", closed="B", circuit="F30", structure="S3"),
                Device("F-4", "P-4", "P-4t", "B", closed="B", circuit="F30", structure="S4"),
            ),
            transformers=(
                Transformer("T-3", "P-3t", "T-3s", "B", "single"),
                Transformer("T-4", "P-4t", "T-4s", "B", "single"),
            ),
            sources=(Source("ST", "P-1", "station", "ABC"),),
            premises=customers("T-3", 3) + customers("T-4", 2),
        )
    )  # fmt: skip


def two_feed_section() -> Compiled:
    """
    *ST == P-1 == P-2 ======================== P-9
                   |                            |
                [C-208]                      [C-221]
                   |                            |
                 P-2a == P-3 == P-4 == P-5 == P-9a
                          A             B
                        (T-3) 2:      (T-5) 3:
    """
    return compile_network(
        Network(
            circuits=(Circuit("F12", "feeder 12"),),
            structures=poles(1, 2, 3, 4, 5, 9),
            nodes=(
                node("P-1"), node("P-2"), node("P-9"), node("P-2a"), node("P-3"), node("P-4"), node("P-5"),
                node("P-9a"), low("T-3s", "A"), low("T-5s", "B"),
            ),
            lines=(
                Line("L12", "P-1", "P-2", "ABC", circuit="F12"),
                Line("L29", "P-2", "P-9", "ABC", 400, circuit="F12"),
                Line("L23", "P-2a", "P-3", "ABC", circuit="F12"),
                Line("L34", "P-3", "P-4", "ABC", circuit="F12"),
                Line("L45", "P-4", "P-5", "ABC", circuit="F12"),
                Line("L59", "P-5", "P-9a", "ABC", circuit="F12"),
            ),
            devices=(
                Device("C-208", "P-2", "P-2a", "ABC", closed="ABC", circuit="F12", structure="S2"),
                Device("C-221", "P-9", "P-9a", "ABC", closed="ABC", circuit="F12", structure="S9"),
            ),
            transformers=(
                Transformer("T-3", "P-3", "T-3s", "A", "single"),
                Transformer("T-5", "P-5", "T-5s", "B", "single"),
            ),
            sources=(Source("ST", "P-1", "station", "ABC"),),
            premises=customers("T-3", 2) + customers("T-5", 3),
        )
    )  # fmt: skip


def three_cutouts(
    connection: str = "wye_grounded-wye_grounded", *, common_core: bool = False, load: str = ""
) -> Compiled:
    """The bank has a load in `load` (delta or wye) on its secondary.

    *ST == P-1 =[C-330]= P-1a == P-2 == P-3
                                  A      |
                                (T-2) 4: (T-340) 1: bank of `connection`
    """
    return compile_network(
        Network(
            circuits=(Circuit("F30", "feeder 30"),),
            structures=poles(1, 2, 3),
            nodes=(
                node("P-1"),
                node("P-1a"),
                node("P-2"),
                node("P-3"),
                low("T-2s", "A"),
                low("T-340s", "ABC"),
            ),
            lines=(
                Line("L2", "P-1a", "P-2", "ABC", circuit="F30"),
                Line("L3", "P-2", "P-3", "ABC", circuit="F30"),
            ),
            devices=(Device("C-330", "P-1", "P-1a", "ABC", closed="ABC", circuit="F30", structure="S1"),),
            transformers=(
                Transformer("T-2", "P-2", "T-2s", "A", "single"),
                Transformer("T-340", "P-3", "T-340s", "ABC", connection, common_core=common_core),
            ),
            loads=(Load("motor", "T-340s", "ABC", load),) if load else (),
            sources=(Source("ST", "P-1", "station", "ABC"),),
            premises=customers("T-2", 4) + customers("T-340", 1),
        )
    )


def customer_machines() -> Compiled:
    """
    *ST == P-1 =[C-1]= P-1a == P-2 ------- P-3 ------- P-4 ------- P-5
                                A           A           B           C
                              (T-2)       (T-3)       (T-4)       (T-5)
                                |           |         [D-4]       [D-5]
                              *known     *unknown     *seen       *roof
                            interlocked                visible     inverter, none
    """
    return compile_network(
        Network(
            circuits=(Circuit("F15", "feeder 15"),),
            structures=poles(1, 2, 3, 4, 5),
            nodes=(
                node("P-1"), node("P-1a"), node("P-2"), node("P-3"), node("P-4"), node("P-5"),
                low("T-2s", "A"), low("T-3s", "A"), low("T-4s", "B"), low("T-5s", "C"),
                low("T-4g", "B"), low("T-5g", "C"),
            ),
            lines=(
                Line("L2", "P-1a", "P-2", "ABC", circuit="F15"),
                Line("L3", "P-2", "P-3", "ABC", circuit="F15"),
                Line("L4", "P-3", "P-4", "ABC", circuit="F15"),
                Line("L5", "P-4", "P-5", "ABC", circuit="F15"),
            ),
            devices=(
                Device("C-1", "P-1", "P-1a", "ABC", closed="ABC", circuit="F15", structure="S1"),
                Device("D-4", "T-4s", "T-4g", "B", closed="B", kind="service_disconnect"),
                Device("D-5", "T-5s", "T-5g", "C", closed="C", kind="service_disconnect"),
            ),
            transformers=(
                Transformer("T-2", "P-2", "T-2s", "A", "single"),
                Transformer("T-3", "P-3", "T-3s", "A", "single"),
                Transformer("T-4", "P-4", "T-4s", "B", "single"),
                Transformer("T-5", "P-5", "T-5s", "C", "single"),
            ),
            sources=(
                Source("ST", "P-1", "station", "ABC", "visible"),
                Source("known", "T-2s", "standby", "A", "interlocked"),
                Source("unknown", "T-3s", "standby", "A", "unknown"),
                Source("seen", "T-4g", "standby", "B", "visible", device="D-4"),
                Source("roof", "T-5g", "inverter", "C", "none"),
            ),
            premises=customers("T-2", 1) + customers("T-3", 1) + customers("T-4", 1) + customers("T-5", 1),
        )
    )  # fmt: skip


def two_stations(transfer: str = "open", first: str = "station 1", second: str = "station 2") -> Compiled:
    """A hospital has both transformers and goes from one to the other by `transfer`; `first` and `second` are
    the stations' parallel groups.

    *ST-1 == P-1 =[B-1]= P-1a == P-2 ==<N-7>== P-2a == P-3 =[B-2]= P-4 == *ST-2
                                  A                     B
                                (T-2) 2:              (T-3) 2:
    """
    return compile_network(
        Network(
            circuits=(Circuit("F12", "feeder 12"), Circuit("F14", "feeder 14")),
            structures=poles(1, 2, 3, 4),
            nodes=(
                node("P-1"), node("P-1a"), node("P-2"), node("P-2a"), node("P-3"), node("P-4"),
                low("T-2s", "A"), low("T-3s", "B"),
            ),
            lines=(
                Line("L12", "P-1a", "P-2", "ABC", circuit="F12"),
                Line("L23", "P-2a", "P-3", "ABC", circuit="F14"),
            ),
            devices=(
                Device("B-1", "P-1", "P-1a", "ABC", closed="ABC", kind="breaker", circuit="F12"),
                Device("N-7", "P-2", "P-2a", "ABC", closed="", kind="gang_switch", structure="S2"),
                Device("B-2", "P-3", "P-4", "ABC", closed="ABC", kind="breaker", circuit="F14"),
            ),
            transformers=(
                Transformer("T-2", "P-2", "T-2s", "A", "single"),
                Transformer("T-3", "P-3", "T-3s", "B", "single"),
            ),
            sources=(
                Source("ST-1", "P-1", "station", "ABC", parallel_group=first),
                Source("ST-2", "P-4", "station", "ABC", parallel_group=second),
            ),
            premises=(
                *customers("T-2", 2),
                *customers("T-3", 2),
                Premises("hospital", "T-2", second_transformer="T-3", care="critical", transfer=transfer),
            ),
        )
    )  # fmt: skip


def couplings(*extra: Capacitor | Load | Regulator | Premises) -> Compiled:
    """
    *ST == P-1 =[C-1]= P-1a == P-2        what is coupled, at P-2, is `extra`
                                |
                              A,B (T-2) phase to phase, [D-2] on its secondary, 1:
    """
    return compile_network(
        Network(
            structures=poles(1, 2),
            nodes=(
                node("P-1"),
                node("P-1a"),
                node("P-2"),
                node("P-2b"),
                low("T-2s", "AB"),
                low("T-2d", "AB"),
            ),
            lines=(Line("L2", "P-1a", "P-2", "ABC"),),
            regulators=tuple(row for row in extra if isinstance(row, Regulator)),
            devices=(
                Device("C-1", "P-1", "P-1a", "ABC", closed="ABC"),
                Device("D-2", "T-2s", "T-2d", "AB", closed="AB"),
            ),
            transformers=(Transformer("T-2", "P-2", "T-2s", "AB", "phase_to_phase"),),
            capacitors=tuple(row for row in extra if isinstance(row, Capacitor)),
            loads=tuple(row for row in extra if isinstance(row, Load)),
            sources=(Source("ST", "P-1", "station", "ABC"),),
            premises=customers("T-2", 1),
        )
    )


def secondary_tie(*, only_the_tie: bool = False, machine: str = "") -> Compiled:
    """`machine` is the means of disconnection of an inverter on the secondary of T-7, none if empty.

    *ST == P-1 -B-[F-7]- P-1a (T-7) 3: ---<tie>--- 2: (T-9) P-1b -[F-9]-B- P-1
                   ^ not there with `only_the_tie`
    """
    return compile_network(
        Network(
            circuits=(Circuit("F12", "feeder 12"),),
            structures=poles(1),
            nodes=(node("P-1"), node("P-1a", "B"), node("P-1b", "B"), low("T-7s", "B"), low("T-9s", "B")),
            devices=(
                *(() if only_the_tie else (Device("F-7", "P-1", "P-1a", "B", closed="B", circuit="F12"),)),
                Device("F-9", "P-1", "P-1b", "B", closed="B", circuit="F12"),
                Device("tie", "T-7s", "T-9s", "B", closed="", kind="secondary_tie"),
            ),
            transformers=(
                Transformer("T-7", "P-1a", "T-7s", "B", "single"),
                Transformer("T-9", "P-1b", "T-9s", "B", "single"),
            ),
            sources=(
                Source("ST", "P-1", "station", "ABC"),
                *((Source("roof", "T-7s", "inverter", "B", machine),) if machine else ()),
            ),
            premises=customers("T-7", 3) + customers("T-9", 2),
        )
    )


def gang_switch() -> Compiled:
    """
    *ST == P-1 ==[G-1: one handle]== P-1a
    """
    return compile_network(
        Network(
            structures=poles(1),
            nodes=(node("P-1"), node("P-1a")),
            devices=(
                Device("G-1", "P-1", "P-1a", "ABC", closed="ABC", kind="gang_switch", operation="gang"),
            ),
            sources=(Source("ST", "P-1", "station", "ABC"),),
        )
    )


def sized() -> Compiled:
    """
    *ST == P-1 ==[C-1]== P-2 -A- (T-2) 25 kVA
                          |
                        (T-3) bank of 75 kVA
    """
    return compile_network(
        Network(
            structures=poles(1, 2),
            nodes=(node("P-1"), node("P-2"), low("T-2s", "A"), low("T-3s", "ABC")),
            devices=(Device("C-1", "P-1", "P-2", "ABC", closed="ABC"),),
            transformers=(
                Transformer("T-2", "P-2", "T-2s", "A", "single", kva=25),
                Transformer("T-3", "P-2", "T-3s", "ABC", "wye_grounded-wye_grounded", kva=75),
            ),
            sources=(Source("ST", "P-1", "station", "ABC"),),
        )
    )


def unlike_tie(phases: str = "B") -> Compiled:
    """
    *ST == P-1 -C-[F-7]- P-1a (T-7) 3: ---[tie]--- 2: (T-9) P-1b -[F-9]-B- P-1

    The line tap of T-7 was moved from B to C; the tie, which is on record with `phases`, stands closed.
    """
    return compile_network(
        Network(
            circuits=(Circuit("F12", "feeder 12"),),
            structures=poles(1),
            nodes=(node("P-1"), node("P-1a", "C"), node("P-1b", "B"), low("T-7s", "C"), low("T-9s", "B")),
            devices=(
                Device("F-7", "P-1", "P-1a", "C", closed="C", circuit="F12"),
                Device("F-9", "P-1", "P-1b", "B", closed="B", circuit="F12"),
                Device("tie", "T-7s", "T-9s", phases, closed=phases, kind="secondary_tie"),
            ),
            transformers=(
                Transformer("T-7", "P-1a", "T-7s", "C", "single"),
                Transformer("T-9", "P-1b", "T-9s", "B", "single"),
            ),
            sources=(Source("ST", "P-1", "station", "ABC"),),
            premises=customers("T-7", 3) + customers("T-9", 2),
        )
    )


def ring() -> Compiled:
    """
    *ST == P-1 =[B-1]= P-1a == P-2 == P-3 == P-4
                                |_____________|
    """
    return compile_network(
        Network(
            circuits=(Circuit("F12", "feeder 12"),),
            structures=poles(1, 2, 3, 4),
            nodes=(node("P-1"), node("P-1a"), node("P-2"), node("P-3"), node("P-4")),
            lines=(
                Line("L12", "P-1a", "P-2", "ABC", circuit="F12"),
                Line("L23", "P-2", "P-3", "ABC", circuit="F12"),
                Line("L34", "P-3", "P-4", "ABC", circuit="F12"),
                Line("L42", "P-4", "P-2", "ABC", 90, circuit="F12"),
            ),
            devices=(Device("B-1", "P-1", "P-1a", "ABC", closed="ABC", kind="breaker", circuit="F12"),),
            sources=(Source("ST", "P-1", "station", "ABC"),),
        )
    )

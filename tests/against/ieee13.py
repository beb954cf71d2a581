"""The loads and connections of the IEEE 13-node test feeder, with a cutout before each part of it.

Source: "Radial Distribution Test Feeders", IEEE Distribution System Analysis Subcommittee (Kersting, 2001):
kW and kvar by phase, wye or delta. All loads are taken as constant impedances, and the lines as those
of the made-up feeders, since their own impedances hardly matter here. Node 670 stands for the load that is
spread along the line to 671. The cutouts are ours; the switch from 671 to 692 is the feeder's.
"""

from circuits.core.network import Capacitor, Device, Line, Load, Network, Node, Regulator, Source, Transformer
from tests.against.opendss_circuit import Model

# node, phases, connection, kW, kvar
LOADS = [
    ("634", "A", "wye", 160, 110),
    ("634", "B", "wye", 120, 90),
    ("634", "C", "wye", 120, 90),
    ("645", "B", "wye", 170, 125),
    ("646", "BC", "delta", 230, 132),
    ("652", "A", "wye", 128, 86),
    ("671", "ABC", "delta", 1155, 660),
    ("675", "A", "wye", 485, 190),
    ("675", "B", "wye", 68, 60),
    ("675", "C", "wye", 290, 212),
    ("692", "AC", "delta", 170, 151),
    ("611", "C", "wye", 170, 80),
    ("670", "A", "wye", 17, 10),
    ("670", "B", "wye", 66, 38),
    ("670", "C", "wye", 117, 68),
]
PHASES = {"645": "BC", "646": "BC", "684": "AC", "611": "C", "652": "A"}


def feeder() -> Model:
    """
    650 == RG60 == 632 =[671]= 670 == 671 =[692]= 692 == 675
                    |                  |
                  [633] 633 (634)    [684] 684 -C- 611
                    |                       |
                  [645] 645 -BC- 646        A 652
    """
    loads = [Load(f"{node}{phases}", node, phases, way) for node, phases, way, _, _ in LOADS]
    sizes = {f"{node}{phases}": (kw, kvar) for node, phases, _, kw, kvar in LOADS}
    names = ["650", "RG60", "632", "633", "645", "646", "670", "671", "692", "675", "684", "611", "652"]
    network = Network(
        nodes=(*(Node(name, PHASES.get(name, "ABC"), 4.16) for name in names), Node("634", "ABC", 0.48)),
        lines=(
            Line("650-632", "RG60", "632", "ABC"),
            Line("645-646", "645", "646", "BC"),
            Line("670-671", "670", "671", "ABC"),
            Line("692-675", "692", "675", "ABC"),
            Line("684-611", "684", "611", "C"),
            Line("684-652", "684", "652", "A"),
        ),
        regulators=(Regulator("RG60", "650", "RG60", "ABC"),),
        devices=(
            Device("633", "632", "633", "ABC", closed="ABC"),
            Device("645", "632", "645", "BC", closed="BC"),
            Device("671", "632", "670", "ABC", closed="ABC"),
            Device("684", "671", "684", "AC", closed="AC"),
            Device("692", "671", "692", "ABC", closed="ABC"),
        ),
        transformers=(Transformer("XFM-1", "633", "634", "ABC", "wye_grounded-wye_grounded", kva=500 / 3),),
        capacitors=(
            Capacitor("C675", "675", "ABC", "wye_grounded"),
            Capacitor("C611", "611", "C", "wye_grounded"),
        ),
        loads=tuple(loads),
        sources=(Source("650", "650", "station", "ABC"),),
    )
    return Model(
        network,
        kw={name: kw for name, (kw, _) in sizes.items()} | {"C675": 600, "C611": 100},
        kvar={name: kvar for name, (_, kvar) in sizes.items()},
    )

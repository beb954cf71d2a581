"""The fixed words of a network package, once: the tables check them and the Table Schema publishes them."""

GROUNDING = ("multigrounded_wye", "unigrounded_wye", "delta")
STRUCTURE_KINDS = ("pole", "pad", "vault", "cabinet", "station")
PLACEMENTS = ("overhead", "underground")
NEUTRALS = ("continuous", "none")
DEVICE_KINDS = (
    "breaker",
    "recloser",
    "sectionalizer",
    "cutout",
    "disconnect",
    "gang_switch",
    "enclosed_switch",
    "elbow",
    "jumper",
    "secondary_tie",
    "service_disconnect",
    "transfer_switch",
)
OPERATIONS = ("gang", "single")
CONNECTIONS = (
    "single",
    "phase_to_phase",
    "wye_grounded-wye_grounded",
    "wye_grounded-wye",
    "wye-wye",
    "wye-delta",
    "wye_grounded-delta",
    "delta-wye_grounded",
    "delta-delta",
    "open_wye-open_delta",
    "autotransformer",
)
CAPACITOR_CONNECTIONS = ("wye_grounded", "wye", "delta")
LOAD_CONNECTIONS = ("wye", "delta")
LOAD_MODELS = ("power", "current", "impedance")
SOURCE_KINDS = ("station", "generator", "inverter", "standby", "mobile")
MEANS_OF_DISCONNECTION = ("visible", "interlocked", "none", "unknown")
TRANSFERS = ("open", "closed", "automatic")
CARES = ("none", "critical", "life_support")
CHANNELS = ("email", "sms", "voice", "post", "web")

PHASES = "ABC"
POSITIONS = ("open", "closed")
HOW_REPORTED = ("board", "radio", "telephone", "in person")

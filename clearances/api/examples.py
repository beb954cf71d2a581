"""Bodies of the main calls, as the schema shows them: the invented job of the demo network."""

from typing import Any

_KEY = "3f0c9a4e-5d1b-4c86-9a53-7f1f2f3b6f10"

EXAMPLES: dict[str, dict[str, Any]] = {
    "ask_for_clearance": {
        "key": _KEY,
        "from_pole": "P-213",
        "to_pole": "P-218",
        "phases": "ABC",
        "work": "Set gang switch N-15 in the span P-214 to P-215",
        "reason_for_customers": "new switch on the line",
        "crew": "line 1",
        "window_start": "2026-05-14T08:30:00-04:00",
        "promised_end": "2026-05-14T12:00:00-04:00",
        "latest_finish": "2026-05-14T15:00:00-04:00",
        "recall_minutes": 20,
        "alternate": "bo",
    },
    "choose_points": {
        "key": _KEY,
        "clearance": 101,
        "version": 1,
        "devices": ["C-208", "C-221", "D-219", "D-212"],
    },
    "tell_customers": {"key": _KEY, "clearance": 101, "count": 62},
    "give_step": {"key": _KEY, "step": 7, "version": 9, "given_to": "Max Lindner", "repeated_back": True},
    "report_step": {
        "key": _KEY,
        "step": 7,
        "phases": "AB",
        "done_at": "2026-05-14T08:43:00-04:00",
        "made_inoperable": "barrels out, secured",
        "tag": True,
        "speaking_for": "max",
        "how": "radio",
    },
    "report_position": {
        "key": _KEY,
        "device": "C-221",
        "phases": "A",
        "position": "open",
        "done_at": "2026-05-14T08:41:00-04:00",
        "remark": "barrel hangs down, link blown",
    },
    "give_clearance": {"key": _KEY, "clearance": 101, "version": 14, "password": "your own, again"},
    "report_test": {
        "key": _KEY,
        "clearance": 101,
        "pole": "P-214",
        "phases": "ABC",
        "result": "none",
        "instrument": "contact tester 12",
        "tester_proven": True,
        "done_at": "2026-05-14T09:03:00-04:00",
    },
    "release_clearance": {
        "key": _KEY,
        "clearance": 101,
        "version": 23,
        "told_everyone": True,
        "all_off": True,
        "password": "your own, again",
    },
}

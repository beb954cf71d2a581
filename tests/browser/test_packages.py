"""The network engineer hands in a package, sees what is wrong with it or what it would do, and imports it."""

import re
from collections.abc import Callable
from pathlib import Path

import pytest
from playwright.sync_api import Page, expect

from circuits import packagefile, snapshot
from circuits.models import HandedIn
from tests.cast import Cast
from tests.circuits.packages import changed, edited, without

from .conftest import DESK, Seat, Shot
from .people import AtDesk
from .test_pages import look, none


def zipped(folder: Path, name: str) -> Path:
    path = folder.parent / name
    packagefile.write(path, [(file.name, file.read_bytes()) for file in sorted(folder.iterdir())])
    return path


@pytest.fixture
def spoilt(tmp_path: Path) -> Path:
    """A device of no known kind, a span without length, a service on a transformer that is not there."""
    (tmp_path / "spoilt").mkdir()
    folder = edited(
        tmp_path / "spoilt",
        devices=changed("C-221", kind="knife", recloses="perhaps"),
        lines=changed("L-214-215", length_m="-42.1"),
        premises=changed("1140", transformer_id="T-999"),
    )
    return zipped(folder, "spring survey.zip")


@pytest.fixture
def mended(tmp_path: Path) -> Path:
    """A span measured anew, a machine gone, a pole more."""
    (tmp_path / "mended").mkdir()
    folder = edited(
        tmp_path / "mended",
        lines=changed("L-283-284", length_m="58.4"),
        structures=lambda rows: [*rows, rows[1] | {"structure_id": "P-288", "label": "P-288"}],
        contacts=without(premises_id="1001"),
    )
    return zipped(folder, "spring survey mended.zip")


def hand_in(jon: AtDesk, package: Path) -> str:
    """Hand it in and wait until it is checked: the address of its page."""
    jon.press("Network packages")
    jon.page.get_by_label("Zip file or tables").set_input_files(package)
    jon.press("Hand it in to be checked")
    jon.sees("Check it again")
    return jon.page.url


def test_a_package_from_its_faults_to_the_network(
    cast: Cast,
    seat: Seat,
    spoilt: Path,
    mended: Path,
    faults: Callable[[Page], list[str]],
    shot: Shot,
) -> None:
    before = snapshot.revision()
    jon = AtDesk(seat(), "jon").sign_in()
    first = hand_in(jon, spoilt)
    jon.sees("4 faults")
    wrong = jon.page.get_by_role("listitem").filter(has_text="devices, row 5, column kind")
    expect(wrong).to_contain_text("“knife”; expected one of breaker, recloser")
    expect(wrong.get_by_text("C-221", exact=True)).to_be_visible()
    second = hand_in(jon, mended)
    jon.sees("58.4")
    jon.page.get_by_label("What this revision is about").fill("spring survey")
    found = [fault for at in ("/desk/packages/", first, second) for fault in look(jon.page, at, faults)]
    jon.page.set_viewport_size({"width": DESK[0], "height": DESK[1]})
    shot(jon.page, "package", dark=True, whole=True)
    for at in (first, "/desk/packages/"):
        jon.page.goto(at)
        shot(jon.page, "package", dark=True, whole=True)
    jon.page.goto(second)
    jon.page.get_by_label("What this revision is about").fill("spring survey")
    jon.press("Make this the network in use")
    jon.sees(re.compile("Imported. This is network revision"))
    none(found + look(jon.page, second, faults))
    assert snapshot.revision() > before
    assert "P-288" in snapshot.compiled().network.structure


def test_it_needs_no_script(cast: Cast, seat: Seat, mended: Path) -> None:
    jon = AtDesk(seat(java_script_enabled=False), "jon").sign_in()
    jon.press("Network packages")
    jon.page.get_by_label("Zip file or tables").set_input_files(mended)
    jon.press("Hand it in to be checked")
    for _ in range(100):
        if HandedIn.objects.get().state == "checked":
            break
        jon.page.wait_for_timeout(200)
    jon.page.reload()
    jon.press("Make this the network in use")
    for _ in range(100):
        if HandedIn.objects.get().state == "imported":
            break
        jon.page.wait_for_timeout(200)
    jon.page.reload()
    jon.sees("Imported.")


def test_what_stands_against_it_is_named(
    cast: Cast, seat: Seat, mended: Path, faults: Callable[[Page], list[str]], shot: Shot
) -> None:
    one = cast.asked(holder=cast.bo, from_pole="P-283", to_pole="P-285", phases="A", work="Trim trees")
    cast.job("working")
    jon = AtDesk(seat(), "jon").sign_in()
    address = hand_in(jon, mended)
    jon.sees(re.compile(f"which is inside the limits of clearance {one.pk} .Lindqvist."))
    jon.sees_not("Make this the network in use")
    none(look(jon.page, address, faults))
    jon.page.set_viewport_size({"width": DESK[0], "height": DESK[1]})
    shot(jon.page, "refused", dark=True, whole=True)

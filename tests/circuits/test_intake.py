"""A package is handed in on a page, checked and imported by a worker, and decided on by a person."""

import datetime
import io
import zipfile
from collections.abc import Callable
from html import unescape
from pathlib import Path
from typing import Any

import pytest
from django.contrib.auth import get_user_model
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import connection
from django.test import Client
from django.utils import timezone
from pytest_django import Settings

from circuits import intake, packagefile, snapshot
from circuits.models import HandedIn, Line, NetworkRevision
from circuits.tasks import take_in
from circuits.upward import Proposal, Verdict
from tests.circuits.conftest import DEMO
from tests.circuits.packages import Edit, changed, edited, load, without

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def _alone(settings: Settings, monkeypatch: pytest.MonkeyPatch) -> None:
    """The network on its own, and no worker to be told."""
    settings.NETWORK_MAY_CHANGE = settings.NETWORK_MAY_IMPORT = settings.NETWORK_IMPORTED = ""
    monkeypatch.setattr(intake, "_hint", lambda: None)


@pytest.fixture
def jon(db: None) -> Any:
    return get_user_model().objects.create_user("jon", first_name="Jon", last_name="Castellan")


@pytest.fixture
def client(jon: Any) -> Client:
    signed_in = Client(raise_request_exception=False)
    signed_in.force_login(jon)
    return signed_in


def zipped(folder: Path) -> bytes:
    out = io.BytesIO()
    packagefile.pack(out, ((path.name, path.read_bytes()) for path in sorted(folder.iterdir())))
    return out.getvalue()


def hand_in(client: Client, *files: tuple[str, bytes]) -> Any:
    sent = [SimpleUploadedFile(name, content) for name, content in files]
    return client.post("/desk/packages/", {"files": sent})


def page_of(client: Client, folder: Path) -> str:
    """Hand in what is in a folder and have it checked: its page."""
    address = hand_in(client, ("network.zip", zipped(folder))).headers["Location"]
    take_in()
    return said(client.get(address))


def said(answer: Any, status: int = 200) -> str:
    assert answer.status_code == status
    return " ".join(unescape(answer.content.decode()).split())


def decide(client: Client, decision: str, **sent: object) -> Any:
    package = HandedIn.objects.get()
    sent = {"decision": decision, "on": package.checked_on} | sent
    return client.post(f"/desk/packages/{package.pk}/", sent)


class TestFromHandToNetwork:
    def test_first_it_waits(self, client: Client) -> None:
        answer = hand_in(client, ("network.zip", zipped(DEMO)))
        page = said(client.get(answer.headers["Location"]))
        assert "To be checked." in page
        assert "It waits for a worker." in page
        assert "Make this the network in use" not in page
        assert "waits to be checked" in said(client.get("/desk/packages/"))

    def test_then_it_says_what_would_change_and_changes_nothing(self, client: Client, tmp_path: Path) -> None:
        load(DEMO)
        page = page_of(
            client,
            edited(
                tmp_path,
                lines=changed("L-214-215", length_m="42.10"),
                contacts=without(premises_id="1001"),
                structures=lambda rows: [*rows, rows[0] | {"structure_id": "P-new"}],
            ),
        )
        assert "<b>structures</b> 1 new, 0 changed, 0 left out <small>of 64 rows" in page
        assert "P-new" in page
        row = '<th scope="row" class="ids num"><span>L-214-215</span></th><td>length_m</td>'
        assert f'{row}<td class="num">42.1</td><td class="num">42.10</td>' in page
        assert "1001 email ulla.underhay@example.org" in page
        assert NetworkRevision.objects.count() == 1

    def test_then_a_person_decides_and_it_is_the_network(self, client: Client, tmp_path: Path) -> None:
        load(DEMO)
        page_of(client, edited(tmp_path, lines=changed("L-214-215", length_m="42.10")))
        answer = decide(client, "import", note="measured in May")
        assert "To be imported." in said(client.get(answer.headers["Location"]))
        take_in()
        page = said(client.get(answer.headers["Location"]))
        revision = NetworkRevision.objects.latest("pk")
        assert f"Imported.</b> This is network revision {revision.pk}: measured in May." in page
        assert (revision.imported_by, revision.note) == ("Jon Castellan", "measured in May")
        assert str(Line.objects.get(pk="L-214-215").length_m) == "42.10"
        assert bytes(HandedIn.objects.get().content) == b""
        assert "Jon Castellan" in said(client.get("/desk/packages/"))

    def test_loose_tables_are_a_package_as_well(self, client: Client) -> None:
        files = [(path.name, path.read_bytes()) for path in DEMO.glob("*.csv")]
        hand_in(client, *files)
        take_in()
        assert "Make this the network in use" in said(
            client.get(f"/desk/packages/{HandedIn.objects.get().pk}/")
        )

    def test_the_package_in_use_changes_nothing_and_says_so(self, client: Client) -> None:
        load(DEMO)
        page = page_of(client, DEMO)
        assert "Nothing would change" in page
        assert "Make this the network in use" not in page

    def test_thousands_of_changes_are_counted_and_the_first_are_shown(self, client: Client) -> None:
        page = page_of(client, DEMO)
        assert "<b>premises</b> 198 new, 0 changed, 0 left out" in page
        HandedIn.objects.all().delete()
        with pytest.MonkeyPatch.context() as few:
            few.setattr("circuits.findings.MOST_IDS", 3)
            few_of_them = "<span>1001</span>, <span>1002</span>, <span>1003</span> and others: 198 in all"
            assert few_of_them in page_of(client, DEMO)

    def test_what_the_new_network_joins_is_told(self, client: Client, tmp_path: Path) -> None:
        second = {"source_id": "ST-2", "node_id": "P-286", "kind": "station", "phases": "ABC"}
        second["means_of_disconnection"] = "visible"
        page = page_of(
            client, edited(tmp_path, sources=lambda rows: [*rows, dict.fromkeys(rows[0], "") | second])
        )
        assert "sources ST-1, ST-2 are joined in normal position" in page


class TestFaults:
    def test_each_stands_beside_its_row(self, client: Client, tmp_path: Path) -> None:
        page = page_of(client, edited(tmp_path, devices=changed("C-208", kind="knife", recloses="maybe")))
        assert "2 faults" in page
        assert "<b>devices, row 4, column kind:</b> “knife”; expected one of breaker, recloser" in page
        assert '<div class="wrong"><dt>kind</dt><dd>knife</dd></div>' in page
        assert "<div><dt>from_node</dt><dd>P-208</dd></div>" in page
        assert "Make this the network in use" not in page

    def test_so_does_one_of_the_electricity(self, client: Client, tmp_path: Path) -> None:
        page = page_of(client, edited(tmp_path, lines=changed("L-214-215", to_node="P-214")))
        assert '<div class="wrong"><dt>to_node</dt><dd>P-214</dd></div>' in page
        assert "<dt>length_m</dt><dd>42.1</dd>" in page

    def test_very_many_have_pages(self, client: Client, tmp_path: Path) -> None:
        spoil: Edit = lambda rows: [row | {"care": "much"} for row in rows]  # noqa: E731
        page = page_of(client, edited(tmp_path, premises=spoil))
        assert "198 faults" in page
        assert "Rows 1 to 100 of 198" in page
        page = said(client.get(f"/desk/packages/{HandedIn.objects.get().pk}/?page=2"))
        assert "Rows 101 to 198 of 198" in page
        assert "premises, row 199, column care" in page

    @pytest.mark.parametrize(
        ("spoil", "sentence"),
        [
            (lambda package: package[:-30], "expected a folder or a zip file, whole and not encrypted"),
            (lambda package: package.replace(b"PK\3\4", b"PK\3\5"), "whole and not encrypted"),
            (lambda package: b"PK\5\6" + bytes(18), "a file that lists the tables as resources"),
        ],
    )
    def test_of_a_zip_file_that_is_none(
        self, client: Client, spoil: Callable[[bytes], bytes], sentence: str
    ) -> None:
        content = spoil(zipped(DEMO))
        package = HandedIn.objects.create(
            name="network.zip",
            content=content,
            by=get_user_model().objects.get(),
            handed_in_at=timezone.now(),
        )
        take_in()
        assert sentence in said(client.get(f"/desk/packages/{package.pk}/"))

    def test_text_of_other_letters_and_nul_are_shown_as_far_as_they_can_be(
        self, client: Client, tmp_path: Path
    ) -> None:
        folder = edited(tmp_path, circuits=changed("12", name="feeder\0twelve"))
        (folder / "nodes.csv").write_bytes(b"\xff\xfe")
        page = page_of(client, folder)
        assert "“feeder\ufffdtwelve”; expected a text" in page
        assert "<b>nodes:</b> “nodes.csv”; expected UTF-8 text" in page

    def test_markup_in_a_cell_is_text(self, client: Client, tmp_path: Path) -> None:
        page_of(client, edited(tmp_path, circuits=changed("12", grounding="<script>alert(1)</script>")))
        raw = client.get(f"/desk/packages/{HandedIn.objects.get().pk}/").content.decode()
        assert "&lt;script&gt;alert(1)" in raw
        assert "<script>alert" not in raw


class TestNotTaken:
    @pytest.mark.parametrize(
        ("files", "sentence"),
        [
            ([], "Choose a zip file, or the CSV files of a package."),
            ([("notes.txt", b"12")], "notes.txt is neither a zip file nor a table of a network package"),
            ([("../nodes.csv", b"1"), ("nodes.csv", b"1")], "nodes.csv is there twice."),
            ([("nodes.csv", b"1"), ("lines.xlsx", b"1")], "lines.xlsx is neither a zip file nor a table"),
            ([("a.zip", b"PK\5\6" + bytes(18)), ("nodes.csv", b"1")], "a.zip is neither a zip file nor"),
        ],
    )
    def test_says_why(self, client: Client, files: list[tuple[str, bytes]], sentence: str) -> None:
        assert sentence in said(hand_in(client, *files), 422)
        assert not HandedIn.objects.exists()

    def test_too_much(self, client: Client, monkeypatch: pytest.MonkeyPatch) -> None:
        monkeypatch.setattr(intake, "MOST_BYTES", 1_000_000)
        page = said(hand_in(client, ("nodes.csv", bytes(2_000_000))), 422)
        assert "This is 2 MB, and at most 1 MB are taken here." in page


def against(proposal: Proposal) -> Verdict:
    return Verdict(against=("It changes line L-214-215.",), consequences=("Order 42 no longer holds.",))


class TestDecisions:
    def test_refusals_are_shown_and_leave_nothing_to_decide(
        self, client: Client, tmp_path: Path, settings: Settings
    ) -> None:
        settings.NETWORK_MAY_IMPORT = "tests.circuits.test_intake.against"
        page = page_of(client, DEMO)
        assert "1 reason against this import" in page
        assert 'It changes line <span class="keep">L-214</span>-215.' in page
        assert "Order 42 no longer holds." in page
        assert "Make this the network in use" not in page

    def test_what_stands_against_it_only_later_stops_it_too(self, client: Client, settings: Settings) -> None:
        page_of(client, DEMO)
        settings.NETWORK_MAY_IMPORT = "tests.circuits.test_intake.against"
        address = decide(client, "import").headers["Location"]
        take_in()
        assert "Not imported. Something stands against it by now." in said(client.get(address))
        assert snapshot.revision() == 0

    def test_the_network_has_changed_since(self, client: Client, tmp_path: Path) -> None:
        page_of(client, edited(tmp_path, lines=changed("L-214-215", length_m="42.10")))
        load(DEMO)
        before = snapshot.revision()
        address = decide(client, "import", note="kept").headers["Location"]
        take_in()
        page = said(client.get(address))
        assert "Not imported. The network has changed since the package was checked" in page
        assert "0 new, 1 changed, 0 left out" in page
        assert 'value="kept"' in page
        assert snapshot.revision() == before
        decide(client, "import")
        take_in()
        assert snapshot.revision() > before

    @pytest.mark.parametrize("on", ["", "x", "-1", "9" * 30, "²", "12345"])
    def test_nobody_decides_on_another_revision_than_was_shown(self, client: Client, on: str) -> None:
        page_of(client, DEMO)
        assert "Look again." in said(decide(client, "import", on=on), 409)
        assert HandedIn.objects.get().state == "checked"

    def test_a_package_with_faults_is_never_imported(self, client: Client, tmp_path: Path) -> None:
        page_of(client, edited(tmp_path, circuits=changed("12", name="")))
        decide(client, "import", on="0")
        take_in()
        assert HandedIn.objects.get().state == "checked"
        assert snapshot.revision() == 0

    def test_it_can_be_checked_again_and_taken_back(self, client: Client) -> None:
        assert "new" in page_of(client, DEMO)
        load(DEMO)
        decide(client, "again")
        take_in()
        assert "Nothing would change" in said(client.get(f"/desk/packages/{HandedIn.objects.get().pk}/"))
        assert decide(client, "back").headers["Location"] == "/desk/packages/"
        assert not HandedIn.objects.exists()

    def test_one_that_is_to_be_imported_is_not_taken_back(self, client: Client) -> None:
        page_of(client, DEMO)
        decide(client, "import")
        assert decide(client, "back").status_code == 409
        assert decide(client, "again").status_code == 409

    def test_there_is_no_such_package(self, client: Client) -> None:
        assert client.get("/desk/packages/99/").status_code == 404
        assert client.post("/desk/packages/99/", {"decision": "import", "on": "0"}).status_code == 404


class TestTheWorker:
    def test_a_stumble_is_a_sentence(self, client: Client, monkeypatch: pytest.MonkeyPatch) -> None:
        def stumble(*args: object) -> None:
            raise ZeroDivisionError

        monkeypatch.setattr("circuits.checks.check", stumble)
        assert "The board stumbled over this package" in page_of(client, DEMO)

    def test_it_gives_up_after_some_attempts(self, client: Client) -> None:
        hand_in(client, ("network.zip", zipped(DEMO)))
        HandedIn.objects.update(attempts=intake.ATTEMPTS, progress="lines: checking every cell")
        take_in()
        page = said(client.get(f"/desk/packages/{HandedIn.objects.get().pk}/"))
        assert "Nothing came of it in 3 attempts; the last one ended at: lines: checking every cell" in page

    def test_what_is_older_than_a_day_is_forgotten(self, client: Client) -> None:
        page_of(client, DEMO)
        HandedIn.objects.update(handed_in_at=timezone.now() - datetime.timedelta(hours=25))
        take_in()
        assert not HandedIn.objects.exists()

    @pytest.mark.django_db(transaction=True)
    def test_its_progress_is_seen_before_it_is_done(
        self, client: Client, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        monkeypatch.setattr(intake, "_PAUSE", 0)
        hand_in(client, ("network.zip", zipped(DEMO)))
        seen: list[str] = []

        def look(statement: str, *parameters: str | int) -> None:
            beside(statement, *parameters)
            other = connection.copy()
            with other.cursor() as cursor:
                cursor.execute("SELECT progress FROM circuits_handedin")
                seen.append(cursor.fetchone()[0])
            other.close()

        beside = intake._beside
        monkeypatch.setattr(intake, "_beside", look)
        take_in()
        assert seen[1] == "circuits: checking every cell"
        assert seen[-1] == "Comparing with the network in use."
        assert HandedIn.objects.get().attempts == 1

    @pytest.mark.django_db(transaction=True)
    def test_two_workers_do_not_take_the_same_one(self, client: Client) -> None:
        hand_in(client, ("network.zip", zipped(DEMO)))
        other = connection.copy()
        with other.cursor() as cursor:
            number = HandedIn.objects.get().pk
            cursor.execute("SELECT pg_advisory_lock(%s, %s)", [intake._WORK_LOCK, number])
            take_in()
            assert HandedIn.objects.get().state == "waiting"
            cursor.execute("SELECT pg_advisory_unlock(%s, %s)", [intake._WORK_LOCK, number])
        other.close()
        take_in()
        assert HandedIn.objects.get().state == "checked"


class TestTakenOut:
    def test_the_network_in_use_is_a_package(self, client: Client, tmp_path: Path) -> None:
        load(DEMO)
        answer = client.get("/desk/packages/network.zip")
        out = io.BytesIO(b"".join(answer.streaming_content))  # type: ignore[attr-defined]
        with zipfile.ZipFile(out) as archive:
            assert {name: archive.read(name) for name in archive.namelist()} == {
                path.name: path.read_bytes() for path in DEMO.iterdir()
            }

    def test_so_are_the_schemas_of_all_tables(self, client: Client) -> None:
        answer = client.get("/desk/packages/datapackage.json")
        assert answer.headers["Content-Disposition"] == 'attachment; filename="datapackage.json"'
        assert [one["name"] for one in answer.json()["resources"]][:3] == ["circuits", "structures", "nodes"]


def nobody(user: object) -> bool:
    return False


@pytest.mark.parametrize("method", ["get", "post"])
def test_only_those_who_may_change_the_network(client: Client, settings: Settings, method: str) -> None:
    assert getattr(Client(), method)("/desk/packages/").status_code == 302
    settings.NETWORK_MAY_CHANGE = "tests.circuits.test_intake.nobody"
    answer = getattr(client, method)("/desk/packages/")
    assert "The network is imported by a network engineer." in said(answer, 403)

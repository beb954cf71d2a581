"""What must hold of every file that is committed, and of the project's own papers."""

import re
import subprocess
from pathlib import Path

import pytest

from config import env

ROOT = Path(__file__).resolve().parents[2]


def _tracked() -> list[Path]:
    listed = subprocess.run(["git", "ls-files", "-z"], cwd=ROOT, capture_output=True, text=True, check=True)
    return [ROOT / name for name in listed.stdout.split("\0") if name and (ROOT / name).is_file()]


# Written so that this file is not its own finding.
FORBIDDEN = {
    "a path of one machine": r"(?<![\w.~-])/(?:work|root|tmp|home/\w+)/",
    "a folder that users don't have": r"\.\./shared\b",
    "the address of a package index": r"(?:pypi|pythonhosted|npmjs)\.or[g]|index-ur[l][ =]http",
    "a private key": r"BEGIN [A-Z ]*PRIVATE KE[Y]",
    "where a story came from": r"(?i)transcrip[t]|seed documen[t]",
}


@pytest.mark.parametrize("what", FORBIDDEN)
def test_no_tracked_file_holds(what: str) -> None:
    wrong = []
    for file in _tracked():
        try:
            text = file.read_text()
        except UnicodeDecodeError:
            continue  # a picture
        wrong += [f"{file.relative_to(ROOT)}: {hit.group()}" for hit in re.finditer(FORBIDDEN[what], text)]
    assert not wrong


def test_no_third_party_code_is_committed() -> None:
    assert not [file for file in _tracked() if re.search(r"\.min\.(js|css)$|node_modules/", str(file))]


def test_every_requirement_is_locked_by_hashes_and_names_no_address() -> None:
    files = sorted(ROOT.glob("requirements*.txt"))
    assert [file.name for file in files] == [
        "requirements-demo.txt",
        "requirements-dev.txt",
        "requirements-mutate.txt",
        "requirements.txt",
    ]
    for file in files:
        text = file.read_text()
        assert "://" not in text, file.name
        entries = re.split(r"\n(?=\S)", text.strip().replace("\\\n", " "))
        locked = re.compile(r"[\w.-]+(\[[\w, -]+\])?==[\w.]+.*--hash=sha256:[0-9a-f]{64}")
        loose = [entry for entry in entries if not locked.match(entry)]
        assert not loose, file.name


def test_every_make_target_says_what_it_does() -> None:
    makefile = (ROOT / "Makefile").read_text()
    targets = set(re.findall(r"^\.PHONY: (\S+)", makefile, re.MULTILINE))
    said = set(re.findall(r"^([a-z-]+):.*##", makefile, re.MULTILINE))
    written = set(re.findall(r"^([a-z-]+):", makefile, re.MULTILINE))
    assert targets == said == written
    # Under `make test` a make inside make would say where it is.
    command = ["make", "--no-print-directory", "help"]
    helped = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, check=True).stdout
    assert targets == {line.split()[0] for line in helped.splitlines()}


def test_every_setting_is_explained() -> None:
    explained = (ROOT / "DEVELOPERS.md").read_text()
    assert not [name for name in env.READERS if f"`{name}`" not in explained]


def test_ci_runs_the_test_command_of_the_readme() -> None:
    command = (ROOT / ".ci" / "run").read_text().splitlines()[-1]
    assert command == "make test"
    assert re.search(rf"^\s*{command}\b", (ROOT / "README.md").read_text(), re.MULTILINE)

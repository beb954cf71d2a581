"""`make mutate`: change the core's code a little, thousands of times, and see whether any test notices.

Never in the working tree: the project is copied to build/mutate/tree, and there cosmic-ray changes one
module at a time. What was tried is kept in a session for each module and each content of it, so a run that
was stopped goes on where it was, and a changed module begins anew. A mutant that no test notices survives: it
wants a test, or a reason in docs/mutation.md.

    python -m tests.mutate [--minutes 30] [--again] [circuits/core/trace.py ...]
"""

import argparse
import hashlib
import shutil
import sqlite3
import subprocess
import sys
import time
from collections import Counter
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
PLACE = ROOT / "build" / "mutate"
TREE = PLACE / "tree"
MODULES = ("trace", "isolation", "network", "couplings")
# The quick judges of the core. Those by other people's programs say nothing that these don't, later.
TESTS = "circuits/core " + " ".join(
    f"tests/core/test_{name}.py" for name in ("scenarios", "example", "against_networkx")
)
CONFIG = """\
[cosmic-ray]
module-path = "{module}"
timeout = 120
test-command = "{python} -m pytest -x -q -p no:cacheprovider --hypothesis-profile=mutants {tests}"
[cosmic-ray.distributor]
name = "local"
"""


def copy_the_project() -> None:
    """As it stands, without what git ignores; also what a stopped run has left mutated is whole again."""
    shutil.rmtree(TREE, ignore_errors=True)
    listed = ["git", "ls-files", "-z", "--cached", "--others", "--exclude-standard"]
    names = subprocess.run(listed, cwd=ROOT, capture_output=True, text=True, check=True).stdout.split("\0")
    for name in filter(None, names):
        if (ROOT / name).is_file():
            (TREE / name).parent.mkdir(parents=True, exist_ok=True)
            shutil.copyfile(ROOT / name, TREE / name)


class Session:
    """What is to be tried on one module, and what became of it."""

    def __init__(self, module: str) -> None:
        self.module = module
        name = f"{Path(module).stem}-{hashlib.sha256((TREE / module).read_bytes()).hexdigest()[:8]}"
        self.file = PLACE / f"{name}.sqlite"
        self.config = PLACE / f"{name}.toml"
        self.config.write_text(CONFIG.format(module=module, python=sys.executable, tests=TESTS))
        if not self.file.exists():
            self.cosmic_ray("init").wait()

    def cosmic_ray(self, command: str) -> "subprocess.Popen[bytes]":
        tool = Path(sys.executable).with_name("cosmic-ray")
        return subprocess.Popen([tool, command, self.config, self.file], cwd=TREE)

    def rows(self, query: str) -> list[tuple[str, ...]]:
        with sqlite3.connect(self.file, timeout=60) as session:
            return session.execute(query).fetchall()

    def forget_survivors(self) -> None:
        self.rows("DELETE FROM work_results WHERE test_outcome = 'SURVIVED'")

    def counts(self) -> tuple[int, int, int]:
        """How many mutants there are, how many were tried, how many of these survived."""
        ((total,),) = self.rows("SELECT count(*) FROM work_items")
        found = Counter(outcome for (outcome,) in self.rows("SELECT test_outcome FROM work_results"))
        return int(total), found.total(), found["SURVIVED"]

    def say(self) -> None:
        total, tried, survived = self.counts()
        print(f"{self.module}: {tried} of {total} mutants tried, {survived} survived", flush=True)

    def run(self, until: float) -> None:
        self.say()
        work = self.cosmic_ray("exec")
        said = time.monotonic()
        while work.poll() is None:
            time.sleep(1)
            if time.monotonic() > until:
                work.terminate()
            elif time.monotonic() > said + 60:
                self.say()
                said = time.monotonic()

    def report(self) -> None:
        total, tried, survived = self.counts()
        for line, operator, diff in self.rows(
            "SELECT start_pos_row, operator_name, diff FROM mutation_specs JOIN work_results USING (job_id) "
            "WHERE test_outcome = 'SURVIVED' ORDER BY start_pos_row"
        ):
            changed = [row for row in diff.splitlines() if row[:1] in "+-" and row[:3] not in ("+++", "---")]
            print(f"\n{self.module}:{line}: {operator.removeprefix('core/')}", *changed, sep="\n    ")
        score = f"{(tried - survived) / tried:.1%}" if tried else "nothing"
        print(
            f"\n{self.module}: {score} of {tried} noticed, {survived} survived, {total - tried} to be tried"
        )


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("modules", nargs="*", default=[f"circuits/core/{name}.py" for name in MODULES])
    parser.add_argument("--minutes", type=float, default=24 * 60, help="then stop; the next run goes on")
    parser.add_argument("--again", action="store_true", help="try those that survived once more")
    asked = parser.parse_args()
    copy_the_project()
    until = time.monotonic() + asked.minutes * 60
    sessions = [Session(module) for module in asked.modules]
    for session in sessions:
        if asked.again:
            session.forget_survivors()
        session.run(until)
    for session in sessions:
        session.report()


if __name__ == "__main__":
    main()

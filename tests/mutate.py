"""`make mutate`: change the core's code a little, thousands of times, and see whether any test notices.

Never in the working tree: the project is copied to build/mutate/tree, and there one module is changed at a
time, as cosmic-ray says. What was tried is kept in a session for each module and each content of it, so a run
that was stopped goes on where it was, and a changed module begins anew. A mutant that no test notices
survives: it wants a test, or a reason in DEVELOPERS.md.

    python -m tests.mutate [--minutes 30] [--first | --again] [circuits/core/trace.py ...]
"""

import argparse
import hashlib
import importlib
import os
import resource
import shutil
import sqlite3
import subprocess
import sys
import time
from collections import Counter
from difflib import unified_diff
from functools import cache
from pathlib import Path
from typing import Any

import pytest

ROOT = Path(__file__).resolve().parent.parent
PLACE = ROOT / "build" / "mutate"
TREE = PLACE / "tree"
MODULES = (
    *("trace", "isolation", "network", "couplings", "joins", "standing"),
    *(f"proving/{name}" for name in ("proof", "waysin", "outward", "opens", "measures")),
    *(f"rehearsing/{name}" for name in ("slips", "rehearsal", "lookalikes")),
)
# The quick judges of a module, or of all in a folder, quickest first: examples in docstrings, then tests.
JUDGES = {
    "circuits/core/proving": (
        "circuits/core/proving",
        "proof_says",
        "proof_ways",
        "waysin",
        "against/all_states",
    ),
    "circuits/core/rehearsing": (
        "circuits/core/rehearsing",
        "lookalikes",
        "rehearsal_small",
        "slips_small",
        "rehearsal",
        "slips",
        "against/all_slips",
    ),
    "circuits/core/joins.py": (
        "circuits/core/rehearsing",
        "joins",
        "slips_small",
        "slips",
        "parallels",
        "against/all_slips",
    ),
    "circuits/core/standing.py": (
        "circuits/core/standing.py",
        "rehearsal_small",
        "rehearsal",
        "proof_says",
        "proof_ways",
        "slips",
        "against/all_slips",
        "against/all_states",
    ),
    "circuits/core": (
        "circuits/core",
        "scenarios",
        "example",
        "trace",
        "whatif",
        "against/networkx",
        "parallels",
        "step",
    ),
}
# Most mutants die of a scenario or of the first made-up networks; only those that live see all of them.
PROFILES = "mutants_first", "mutants"
# Without Django's set-up, which takes longer than most mutants live. Hence not the project's own options.
OPTIONS = """\
[pytest]
pythonpath = .
addopts = -x -q -p no:cacheprovider -p no:django --doctest-modules --import-mode=importlib
"""
# What is slow to load and holds no code of ours is loaded once; each mutant is tried in a fork.
LOADED_ONCE = (
    "django.test",
    "hypothesis.strategies",
    "networkx",
    "psycopg",
    "scipy.sparse.csgraph",
    "uvicorn",
)


def copy_the_project() -> None:
    """As it stands, without what git ignores; what a stopped run has left mutated is whole again."""
    shutil.rmtree(TREE, ignore_errors=True)
    listed = ["git", "ls-files", "-z", "--cached", "--others", "--exclude-standard"]
    names = subprocess.run(listed, cwd=ROOT, capture_output=True, text=True, check=True).stdout.split("\0")
    for name in filter(None, names):
        if (ROOT / name).is_file():
            (TREE / name).parent.mkdir(parents=True, exist_ok=True)
            shutil.copyfile(ROOT / name, TREE / name)
    (TREE / "mutate.ini").write_text(OPTIONS)


def judges(module: str) -> tuple[str, ...]:
    """The tests that are asked about a module."""
    examples, *tests = next(found for place, found in JUDGES.items() if module.startswith(place))
    return examples, *(
        f"tests/{folder or 'core'}/test_{file}.py"
        for folder, _, file in (name.rpartition("/") for name in tests)
    )


def pass_tests(tests: tuple[str, ...], profile: str, seconds: int, *, keep: bool = False) -> bool:
    """Run tests in the tree, in a fork, with so many seconds of processor time.

    A mutant that loops for ever is noticed by these, and no other, however busy the machine is. What is
    compiled is kept only of the code as it is: two mutants of one second and one size would be taken for one.
    """
    child = os.fork()
    if child == 0:
        sys.dont_write_bytecode = not keep
        resource.setrlimit(resource.RLIMIT_CPU, (seconds, seconds))
        nowhere = os.open(os.devnull, os.O_WRONLY)
        os.dup2(nowhere, 1)
        os.dup2(nowhere, 2)
        os.chdir(TREE)
        for name in [
            name for name in sys.modules if name.partition(".")[0] in ("tests", "circuits", "config")
        ]:
            del sys.modules[name]
        sys.path[:] = [str(TREE), *(place for place in sys.path if Path(place or ".").resolve() != ROOT)]
        os._exit(pytest.main(["-c", "mutate.ini", f"--hypothesis-profile={profile}", *tests]))
    _, status = os.waitpid(child, 0)
    return status == 0


@cache
def seconds_for(tests: tuple[str, ...], profile: str) -> int:
    """The processor time that a mutant has for some tests, by what they take when nothing is changed."""
    before = resource.getrusage(resource.RUSAGE_CHILDREN).ru_utime
    if not pass_tests(tests, profile, 3600, keep=True):
        sys.exit(f"The tests fail before anything is changed: {', '.join(tests)}.")
    return 5 + int(2 * (resource.getrusage(resource.RUSAGE_CHILDREN).ru_utime - before))


class Session:
    """What is to be tried on one module, and what became of it."""

    def __init__(self, module: str) -> None:
        self.module = module
        digest = hashlib.sha256((TREE / module).read_bytes()).hexdigest()[:8]
        self.file = PLACE / f"{Path(module).stem}-{digest}.sqlite"
        if not self.file.exists():
            config = self.file.with_suffix(".toml")
            config.write_text(
                f'[cosmic-ray]\nmodule-path = "{module}"\ntimeout = 1\ntest-command = "none"\n'
                '[cosmic-ray.distributor]\nname = "local"\n'
            )
            tool = Path(sys.executable).with_name("cosmic-ray")
            subprocess.run([tool, "init", config, self.file], cwd=TREE, check=True)

    def rows(self, query: str, *values: object) -> list[tuple[Any, ...]]:
        with sqlite3.connect(self.file) as session:
            return session.execute(query, values).fetchall()

    def forget_survivors(self) -> None:
        self.rows("DELETE FROM work_results WHERE test_outcome = 'SURVIVED'")

    def counts(self) -> tuple[int, int, int]:
        """How many mutants there are, how many were tried, how many of these survived."""
        ((total,),) = self.rows("SELECT count(*) FROM work_items")
        found = Counter(outcome for (outcome,) in self.rows("SELECT test_outcome FROM work_results"))
        return total, found.total(), found["SURVIVED"]

    def say(self) -> None:
        total, tried, survived = self.counts()
        print(f"{self.module}: {tried} of {total} mutants tried, {survived} survived", flush=True)

    def run(self, until: float, profiles: tuple[str, ...]) -> None:
        # Only here, since this is installed for `make mutate` alone.
        from cosmic_ray.plugins import get_operator

        self.say()
        said = time.monotonic()
        untried = self.rows(
            "SELECT job_id, operator_name, occurrence FROM mutation_specs "
            "WHERE job_id NOT IN (SELECT job_id FROM work_results) ORDER BY start_pos_row"
        )
        for job, operator, occurrence in untried:
            if time.monotonic() > until:
                break
            self.try_one(job, get_operator(operator)(), occurrence, profiles)
            if time.monotonic() > said + 60:
                self.say()
                said = time.monotonic()

    def try_one(self, job: str, operator: Any, occurrence: int, profiles: tuple[str, ...]) -> None:
        from cosmic_ray.mutating import mutate_code

        tests = judges(self.module)
        allowed = [(profile, seconds_for(tests, profile)) for profile in profiles]
        file = TREE / self.module
        code = file.read_text()
        mutant = mutate_code(code, operator, occurrence)
        file.write_text(mutant)
        try:
            lives = all(pass_tests(tests, profile, seconds) for profile, seconds in allowed)
        finally:
            file.write_text(code)
        changed = "\n".join(unified_diff(code.splitlines(), mutant.splitlines(), lineterm="", n=0))
        values = "NORMAL", "SURVIVED" if lives else "KILLED", changed, job
        query = "INSERT INTO work_results (worker_outcome, test_outcome, diff, job_id) VALUES (?, ?, ?, ?)"
        self.rows(query, *values)

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
    parser.add_argument(
        "--first", action="store_true", help="only the first made-up networks: to see what is left"
    )
    parser.add_argument("--again", action="store_true", help="try those that survived once more")
    asked = parser.parse_args()
    until = time.monotonic() + asked.minutes * 60
    copy_the_project()
    for name in LOADED_ONCE:
        importlib.import_module(name)
    sessions = [Session(module) for module in asked.modules]
    for session in sessions:
        if asked.again:
            session.forget_survivors()
        session.run(until, PROFILES[:1] if asked.first else PROFILES)
    for session in sessions:
        session.report()


if __name__ == "__main__":
    main()

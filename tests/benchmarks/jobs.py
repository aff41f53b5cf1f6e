"""What can be measured, by name: `routed 60 ranges,stops 3`, `published ESC07`, `batch 100`."""

from __future__ import annotations

import re
import shutil
from dataclasses import dataclass
from pathlib import Path

from sequencer.solve.problem import Problem
from tests.benchmarks.shop_jobs import FAMILIES, FEATURES, shop_job
from tests.solve.published import OPTIMA, PART_OPTIMUM, part_first_setup, part_problem, sop_problem

EXAMPLES = Path(__file__).resolve().parents[2] / "examples"

BATCHED = "tea-boxes"
"""The example whose batch is changed."""


@dataclass(frozen=True)
class Job:
    """A generated job: family, lots, kind of job, seed.

    The kind is "plain", "all", or features with commas between them; "12-choices" is choices, and how many.
    """

    family: str
    lots: int
    kind: str
    seed: int

    @property
    def name(self) -> str:
        """What `read` reads."""
        return f"{self.family} {self.lots} {self.kind} {self.seed}"

    @classmethod
    def read(cls, name: str) -> Job | None:
        """The job of this name; None if it is not the name of a generated job. Raises ValueError if it is nearly."""
        words = name.split()
        if words[0] not in FAMILIES:
            return None
        if len(words) != 4:
            raise ValueError(f"{name!r}: a generated job is named by family, lots, kind and seed")
        job = cls(words[0], int(words[1]), words[2], int(words[3]))
        job.features()
        return job

    def features(self) -> tuple[frozenset[str], int | None]:
        """The features switched on, and how many choices where that is said."""
        if self.kind == "plain":
            return frozenset(), None
        count = None
        features = set()
        words = list(FEATURES) if self.kind == "all" else self.kind.split(",")
        for word in words:
            counted = re.fullmatch(r"(\d+)-choices", word)
            if counted:
                count, word = int(counted[1]), "choices"
            if word not in (*FEATURES, "plain", "all"):
                raise ValueError(f"{word!r} is no feature of a job; there are {', '.join(FEATURES)}")
            features.add(word)
        for word in sorted({"plain", "all"} & features):
            raise ValueError(
                f"{word!r} is a kind of job by itself, and stands alone, not as in {self.kind!r}"
            )
        return frozenset(features), count

    def problem(self) -> Problem:
        """The job itself."""
        features, choices = self.features()
        return shop_job(self.family, self.lots, self.seed, features, choices)


def problem_of(name: str) -> Problem:
    """The problem of a generated or published job's name. Raises ValueError for any other name."""
    job = Job.read(name)
    if job is not None:
        return job.problem()
    words = name.split()
    if words[0] == "published" and words[1:] == ["part"]:
        return part_problem()
    if words[0] == "published" and words[1] in OPTIMA:
        return sop_problem(words[1])
    raise ValueError(f"no job is named {name!r}")


def known_cost(name: str) -> int | None:
    """The published optimum, with what our model has paid for the part's first setup; None for other jobs."""
    words = name.split()
    if words[0] != "published":
        return None
    return PART_OPTIMUM + part_first_setup() if words[1] == "part" else OPTIMA[words[1]]


def batched_example(pieces: int, folder: Path) -> Path:
    """The example with this batch, written into the folder with its shop; the job's path."""
    shutil.copy(EXAMPLES / "shop.toml", folder)
    shutil.copytree(EXAMPLES / BATCHED, folder / BATCHED)
    path = folder / BATCHED / "job.toml"
    text, changed = re.subn(r"(?m)^batch = \d+$", f"batch = {pieces}", path.read_text(encoding="utf-8"))
    assert changed == 1, "the example no longer says its batch in a line of its own"
    path.write_text(text, encoding="utf-8")
    return path

"""The generated jobs are what they say they are: the same every time, sound, and with the features asked for."""

from __future__ import annotations

from pathlib import Path

import networkx as nx
import pytest

from sequencer import load_job
from sequencer.solve import Problem
from sequencer.solve.price import is_order, price
from tests.benchmarks import jobs
from tests.benchmarks.__main__ import CHOICE_KIND, CHOICE_SIZES, KINDS, main
from tests.benchmarks.shop_jobs import FAMILIES, FEATURES, shop_job

EVERY = [
    (family, size, kind) for family in FAMILIES for size in (20, 60, 200) for kind in (*KINDS, *FEATURES)
]


def some_order(problem: Problem) -> tuple[int, ...]:
    """An order of the first option of every choice, mates one right after the other, by networkx alone."""
    options = (0,) * len(problem.choices)
    made = problem.made(options)
    head = {lot: min(group.lots) for group in problem.mates for lot in group.lots}
    ground: nx.DiGraph = nx.DiGraph()
    ground.add_nodes_from(head.get(lot, lot) for lot in made)
    inside: nx.DiGraph = nx.DiGraph()
    inside.add_nodes_from(made)
    for a, b in problem.precedence:
        if a in made and b in made:
            inside.add_edge(a, b)
            if head.get(a, a) != head.get(b, b):
                ground.add_edge(head.get(a, a), head.get(b, b))
    place = {lot: k for k, lot in enumerate(nx.topological_sort(inside))}
    place_of_head = {lot: k for k, lot in enumerate(nx.topological_sort(ground))}
    return tuple(sorted(made, key=lambda lot: (place_of_head[head.get(lot, lot)], place[lot])))


@pytest.mark.parametrize(("family", "size", "kind"), EVERY)
def test_generated_jobs_have_an_order_and_their_size(family: str, size: int, kind: str) -> None:
    """A job has exactly the lots asked for, and an order that keeps precedence and mates and can be priced."""
    problem = jobs.Job(family, size, kind, 3).problem()
    assert len(problem.lots) == size
    order = some_order(problem)
    assert is_order(problem, order, (0,) * len(problem.choices))
    assert price(problem, order) is not None


@pytest.mark.parametrize("family", FAMILIES)
def test_the_same_name_is_the_same_job(family: str) -> None:
    """A seed gives the same job every time, another seed another."""
    name = f"{family} 40 all 1"
    assert jobs.problem_of(name) == jobs.problem_of(name)
    assert jobs.problem_of(name) != jobs.problem_of(f"{family} 40 all 2")


@pytest.mark.parametrize("family", FAMILIES)
def test_a_job_of_a_thousand_lots_can_be_drawn_up(family: str) -> None:
    """The largest size is drawn up with all features, lots part by part."""
    problem = jobs.problem_of(f"{family} 1000 all 1")
    assert len(problem.lots) == 1000
    assert len(problem.choices) == 100


@pytest.mark.parametrize("family", FAMILIES)
@pytest.mark.parametrize("feature", FEATURES)
def test_a_feature_changes_nothing_but_what_it_says(family: str, feature: str) -> None:
    """Stations, precedence and the dials' number stay as they are when a feature is switched on, and it shows."""
    plain, with_it = shop_job(family, 60, 1), shop_job(family, 60, 1, frozenset([feature]))
    assert plain != with_it
    if feature == "choices":
        return
    assert [lot.station for lot in plain.lots] == [lot.station for lot in with_it.lots]
    assert plain.precedence == with_it.precedence
    assert len(with_it.dials) - len(plain.dials) == (feature == "forgets")


def test_features_show() -> None:
    """Ranges lie side by side on about a third of the settings, some tables break the triangle inequality."""
    ranged = shop_job("routed", 400, 1, frozenset(["ranges"]))
    accepted = [
        need.stay
        for lot in ranged.lots
        for d, need in lot.needs.items()
        if ranged.dials[d].label.split()[-1] not in ("gauge", "stop", "bit")
    ]
    wide = [mask for mask in accepted if mask.bit_count() > 1]
    assert 0.1 < len(wide) / len(accepted) < 0.4
    assert all(mask // (mask & -mask) in (0b11, 0b111) for mask in wide)
    detours = 0
    for seed in range(8):
        for dial in shop_job("routed", 40, seed, frozenset(["tables"])).dials:
            values = range(dial.values)
            table = [[paid or 0 for paid in row] for row in dial.move]
            detours += any(
                table[a][b] + table[b][c] < table[a][c] for a in values for b in values for c in values
            )
    assert detours > 0


def test_the_routed_family_has_eleven_dials_on_three_stations() -> None:
    """Four at the saw, four at the mortiser, three at the router, of two to five values each; few setups of each."""
    for seed in range(5):
        problem = shop_job("routed", 200, seed)
        assert [sum(dial.station == station for dial in problem.dials) for station in range(3)] == [4, 4, 3]
        assert all(2 <= dial.values <= 5 for dial in problem.dials)
        for dial in range(len(problem.dials)):
            named = {lot.needs[dial].stay for lot in problem.lots if dial in lot.needs}
            assert len(named) <= 4


@pytest.mark.parametrize("family", FAMILIES)
@pytest.mark.parametrize("size", CHOICE_SIZES)
def test_twelve_choices_are_twelve(family: str, size: int) -> None:
    """The jobs of twelve choices have twelve, of two ways each that share no lot."""
    for seed in range(6):
        problem = jobs.Job(family, size, CHOICE_KIND, seed).problem()
        assert len(problem.choices) == 12
        assert all(len(choice) == 2 and choice[0] and choice[1] for choice in problem.choices)
        optional = [lot for choice in problem.choices for option in choice for lot in option]
        assert len(optional) == len(set(optional))


def test_names_of_jobs_are_read_as_written() -> None:
    """A job's name gives the job back, and its problem the job's."""
    for family in FAMILIES:
        for kind in (*KINDS, CHOICE_KIND):
            job = jobs.Job(family, 30, kind.replace("12-", "3-"), 7)
            assert jobs.Job.read(job.name) == job
            assert jobs.problem_of(job.name) == job.problem()


@pytest.mark.parametrize(
    "name", ["routed 30 plain", "routed 30 rangs 1", "dense 30 -choices 1", "published none", "batch 10", "x"]
)
def test_names_of_no_job_are_refused(name: str) -> None:
    """A name that is nearly one is refused, not measured as another."""
    with pytest.raises(ValueError, match=r"job|feature"):
        jobs.problem_of(name)


def test_every_job_of_the_default_run_can_be_named(capsys: pytest.CaptureFixture[str]) -> None:
    """`--list` prints names that can be read, of all sizes, and measures nothing."""
    main(["--list", "--published"])
    names = capsys.readouterr().out.split("\n")[:-1]
    assert len(names) == len(set(names)) > 200
    for name in names:
        assert name.startswith("batch ") or jobs.Job.read(name) is not None


def test_a_batch_changes_the_pieces_and_nothing_else(tmp_path: Path) -> None:
    """The example with another batch is the same job but for the batch."""
    changed = load_job(jobs.batched_example(1000, tmp_path))
    original = load_job(jobs.EXAMPLES / jobs.BATCHED / "job.toml")
    assert changed.batch == 1000 != original.batch
    assert [part.id for part in changed.parts] == [part.id for part in original.parts]

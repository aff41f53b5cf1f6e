"""The short table says what the rows say; rows are made up here, nothing is timed."""

from __future__ import annotations

import json
import re
import sys
from dataclasses import replace
from pathlib import Path

import pytest

from sequencer.solve import Limits
from sequencer.solve.price import price
from tests.benchmarks import __main__ as command
from tests.benchmarks.answer import Answer
from tests.benchmarks.jobs import problem_of
from tests.benchmarks.measuring import OURS, Row, judge, measure_problem
from tests.benchmarks.peers import PEERS, habit
from tests.benchmarks.reach import Reached, ninth, reach
from tests.benchmarks.tables import head, line, machine_line, short_table
from tests.solve.published import ABSENT, THERE


def row(job: str, seconds: float, gap: float = 0.0, engine: str = OURS, limit: float = 60.0) -> Row:
    """A made-up measurement; no gap means proven."""
    status = "feasible" if gap else "proven"
    return Row(job, engine, limit, status, 100.0, 100.0 - gap, gap, gap, seconds, first_plan=seconds / 100)


def only(rows: list[Row], work: str) -> list[Reached]:
    """The lines of this work."""
    return [reached for reached in reach(rows) if reached.work == work]


def test_a_line_counts_and_sorts_its_rows() -> None:
    """Proven, median, nine in ten, worst and worst gap are those of the rows of the right size and family alone."""
    rows = [row(f"routed 60 plain {n}", seconds) for n, seconds in enumerate([5, 1, 9, 2, 8, 3, 7, 4, 6])]
    rows += [row("routed 60 plain 10", 60.0, gap=3.5), row("routed 80 plain 1", 99.0)]
    rows += [row("dense 20 plain 1", 0.1), row("routed 60 plain 1", 777.0, engine="circuit")]
    routed, dense = only(rows, "up to 60 lots")
    assert (routed.jobs, routed.proven, routed.of) == ("routed", 9, 10)
    assert (routed.median, routed.ninth, routed.worst, routed.worst_gap) == (5.5, 9, 60.0, 3.5)
    assert routed.holds is False
    assert (dense.jobs, dense.proven, dense.of, dense.holds) == ("dense", 1, 1, True)


@pytest.mark.parametrize(("count", "place"), [(1, 1), (9, 9), (10, 9), (11, 10), (20, 18), (21, 19)])
def test_nine_in_ten_lie_within_the_ninth(count: int, place: int) -> None:
    """It is the least of the values that at least nine in ten do not exceed."""
    values = [float(n) for n in range(count, 0, -1)]
    assert ninth(values) == place
    assert sum(value <= place for value in values) >= 0.9 * count > sum(value < place for value in values)


def test_a_line_without_rows_is_not_measured() -> None:
    """Nothing measured is neither reached nor missed, and the table says so."""
    for reached in reach([]):
        assert (reached.of, reached.median, reached.holds) == (0, None, None)
    assert short_table(reach([])).count("not measured") == len(reach([]))


@pytest.mark.parametrize(
    ("seconds", "holds"),
    [
        ([1.0] * 9 + [60.0], True),
        ([1.0] * 8 + [11.0] * 2, False),
        ([2.1] * 10, False),
        ([1.0] * 9 + [61.0], False),
    ],
)
def test_medium_jobs_are_held_to_median_ninth_and_worst(seconds: list[float], holds: bool) -> None:
    """Each of the three figures can fail the line."""
    rows = [row(f"routed 120 plain {n}", each) for n, each in enumerate(seconds)]
    (reached,) = only(rows, "80 to 160 lots")
    assert reached.holds is holds


@pytest.mark.parametrize(("proven", "gap", "holds"), [(7, 2.0, True), (6, 2.0, False), (7, 2.1, False)])
def test_large_jobs_are_held_to_proofs_and_gap(proven: int, gap: float, holds: bool) -> None:
    """Seven in ten are to be proven and the gap of the others small."""
    rows = [
        row(f"routed 200 plain {n}", 5.0 if n < proven else 60.0, 0.0 if n < proven else gap)
        for n in range(10)
    ]
    (reached,) = only(rows, "200 to 250 lots")
    assert (reached.proven, reached.holds) == (proven, holds)


def test_second_runs_of_four_hundred_lots_count_as_proofs_only() -> None:
    """A proof in the long run counts, its seconds and gap do not."""
    rows = [row(f"routed 400 plain {n}", 60.0, 3.0) for n in range(3)]
    rows.append(row("routed 400 plain 0", 200.0, limit=300.0))
    (reached,) = only(rows, "400 lots")
    assert (reached.proven, reached.of, reached.worst, reached.worst_gap, reached.holds) == (
        1,
        3,
        60.0,
        3.0,
        True,
    )
    (reached,) = only(rows[:3], "400 lots")
    assert reached.holds is False


def test_the_circuit_model_is_compared_on_common_jobs() -> None:
    """Only jobs of 40 lots that both were given count; a proof less than a thousand times slower fails the line."""
    rows = [row("routed 40 plain 1", 0.02), row("routed 40 plain 2", 0.01)]
    rows.append(row("routed 40 plain 1", 30.0, engine="circuit"))
    (reached,) = only(rows, "40 lots, against the circuit model")
    assert (reached.of, reached.holds) == (1, True)
    assert "proves 1 of 1" in reached.remark
    assert "1500 to 1500" in reached.remark
    rows.append(row("routed 40 plain 2", 9.0, engine="circuit"))
    (reached,) = only(rows, "40 lots, against the circuit model")
    assert reached.holds is False
    rows[-1].status = "feasible"
    (reached,) = only(rows, "40 lots, against the circuit model")
    assert reached.holds is True


def test_batches_are_held_to_the_same_time() -> None:
    """Batches that take longer the larger they are fail the line; jobs with a said number of choices have their own."""
    (reached,) = only([row("batch 1", 0.5), row("batch 1000", 0.6)], "one job, batches of 1 to 1000")
    assert reached.holds is True
    (reached,) = only([row("batch 1", 0.5), row("batch 1000", 1.6)], "one job, batches of 1 to 1000")
    assert reached.holds is False
    rows = [row("routed 120 12-choices,ranges,stops 1", 9.0), row("routed 120 ranges,stops 1", 1.0)]
    (chosen,) = only(rows, "12 choices, 100 to 130 lots, ranges, stops")
    assert (chosen.of, chosen.worst, chosen.holds) == (1, 9.0, True)
    (medium,) = only(rows, "80 to 160 lots")
    assert (medium.of, medium.worst) == (1, 1.0)


def test_lines_of_the_long_table_stand_under_their_head() -> None:
    """A line is as wide as the head, and every figure ends where its title ends; a job is named once above its rows."""
    one = row("routed 60 plain 1", 1.25, 3.5)
    titles = head().splitlines()[-1]
    name, figures = line(one).splitlines()
    assert name == "routed 60 plain 1"
    assert len(figures) == len(titles)
    assert figures[: titles.index(" seconds") + 8].endswith("1.25")
    assert line(one, row("routed 60 plain 1", 9.0)) == figures
    assert line(one, row("routed 60 plain 2", 9.0)) == f"{name}\n{figures}"
    one.cpu_seconds = 0.75
    titles, figures = (text.splitlines()[-1] for text in (head(True), line(one, by_processor=True)))
    assert figures[: titles.index(" cpu s") + 6].endswith("0.75")


def test_the_tables_fit_eighty_columns(capsys: pytest.CaptureFixture[str]) -> None:
    """Whatever is measured, and what is remarked of it, no line is wider than the narrowest terminal."""
    command.main(["--list"])
    names = [name for name in capsys.readouterr().out.splitlines() if name]
    rows = [row(name, 300.0, 99.9, engine=engine) for name in names for engine in (OURS, *PEERS)]
    for each in rows:
        each.cost, each.bound, each.peak_mb, each.time_ratio = 123456.5, 123456.5, 12345, 300000.0
        each.status, each.remark = (
            "not installed",
            "a library is not installed, and why it is not: " + "x " * 60,
        )
    printed = [machine_line(), head(), short_table(reach(rows)), short_table(reach([]))]
    printed += [line(each) for each in rows]
    for text in "\n".join(printed).splitlines():
        assert len(text) <= 80, text


def test_each_group_of_the_short_table_has_a_name() -> None:
    """Families, batches and published jobs are told apart by name, among everything measured and in their own lines."""
    rows = [
        row("routed 20 plain 1", 0.1),
        row("batch 1", 0.1),
        row("batch 10", 0.1),
        row("published ESC07", 0.1),
    ]
    assert [reached.jobs for reached in only(rows, "everything measured")] == [
        "routed",
        "batches",
        "published",
    ]
    (batches,) = only(rows, "one job, batches of 1 to 1000")
    assert (batches.jobs, batches.of) == ("batches", 2)
    assert re.search(r"(?m)^  batches +2 of 2 ", short_table([batches]))


@pytest.mark.parametrize(
    ("kind", "sure"), [("plain", True), ("ranges,stops", True), ("choices", False), ("wishes", False)]
)
def test_gaps_are_percent_of_what_the_order_can_change(kind: str, sure: bool) -> None:
    """Of resets and walks alone where the work is the same in every order and nothing is wished for, else of the cost:
    never more than all of it, though the peer claims no bound.
    """
    name = f"routed 20 {kind} 1"
    drawn = problem_of(name)
    problem = replace(drawn, lots=tuple(replace(lot, work=lot.work + 7) for lot in drawn.lots))
    answer = Answer(habit(problem, by_machine=True), (0,) * len(problem.choices))
    priced = price(problem, answer.order or ())
    assert priced is not None
    judged = Row(name, "peer", 1.0)
    judge(judged, problem, answer, 2)
    assert (judged.gap, judged.moving_gap) == (100.0, 100.0)
    judge(judged, problem, replace(answer, bound=priced.cost - 5), 2)
    of = priced.moving + priced.walking if sure else priced.cost
    assert judged.moving_gap == pytest.approx(500 / of, abs=0.01)


def test_an_answer_is_judged_by_what_it_is() -> None:
    """A claimed order that is none, a bound above the cost and a bound above a published optimum are called wrong."""
    name = "routed 10 plain 1"
    problem = problem_of(name)
    judged = Row(name, "peer", 1.0)
    judge(judged, problem, Answer(tuple(range(9))), 2)
    assert judged.status == "WRONG"
    judge(judged, problem, Answer(tuple(range(10)), bound=4), 2)
    assert (judged.status, judged.bound) == ("feasible", 2.0)
    assert judged.cost is not None
    assert judged.gap == pytest.approx(100 * (judged.cost - 2) / judged.cost, abs=0.01)
    judge(judged, problem, Answer(tuple(range(10)), bound=10**6), 2)
    assert judged.status == "WRONG"
    judge(judged, problem, Answer(None, bound=4), 2)
    assert judged.status == "no order"


@pytest.mark.skipif(not THERE, reason=ABSENT)
def test_a_bound_above_the_published_optimum_is_called_wrong() -> None:
    """2125 is the optimum of ESC07; an order that costs more may have that bound, but no higher one."""
    judged = Row("published ESC07", "peer", 1.0)
    problem = problem_of(judged.job)
    order = habit(problem, by_machine=False)
    judge(judged, problem, Answer(order, bound=2125), 1)
    assert judged.status == "feasible"
    judge(judged, problem, Answer(order, bound=2126), 1)
    assert judged.status == "WRONG"


def test_stopping_by_hand_prints_and_writes_what_was_measured(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    """After Ctrl-C in the second measurement both tables and the JSON hold the first, without a host's name."""

    def interrupted(name: str, engine: str, limits: object) -> Row:
        if name.endswith("2"):
            raise KeyboardInterrupt
        return row(name, 0.1, engine=engine)

    monkeypatch.setattr(command, "measure", interrupted)
    file = tmp_path / "table.json"
    parts = [
        "--sizes",
        "40",
        "--seeds",
        "1",
        "2",
        "--families",
        "routed",
        "--kinds",
        "plain",
        "--peers",
        "circuit",
    ]
    command.main([*parts, "--choice-sizes", "--batches", "--published", "--json", str(file)])
    printed = capsys.readouterr()
    assert "routed 40 plain 1" in printed.out
    assert "1 of 1" in printed.out
    assert "stopped" in printed.err
    written = json.loads(file.read_text(encoding="utf-8"))
    assert [each["engine"] for each in written["rows"]] == [OURS, "circuit"]
    assert written["rows"][1]["time_ratio"] == 1.0
    assert set(written["machine"]) >= {"cores", "memory_gb", "python", "ortools"}
    assert not {"node", "host", "hostname"} & set(written["machine"])


def test_peers_measured_earlier_are_joined(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    """With `--join` the peers of an earlier run stand beside the planner's new rows and are not measured again."""
    file = tmp_path / "peers.json"
    file.write_text(
        json.dumps({"rows": [vars(row("dense 40 plain 1", 9.0, engine="circuit"))]}), encoding="utf-8"
    )
    monkeypatch.setattr(command, "measure", lambda name, engine, limits: row(name, 3.0, engine=engine))
    parts = ["--sizes", "40", "--seeds", "1", "--families", "dense", "--kinds", "plain", "--peers", "circuit"]
    command.main([*parts, "--choice-sizes", "--batches", "--published", "--join", str(file), "--json", "-"])
    printed = capsys.readouterr()
    written = json.loads(printed.out)  # alone on standard output
    assert "dense 40 plain 1\n  planner " in printed.err
    assert [(each["engine"], each["seconds"], each["time_ratio"]) for each in written["rows"]] == [
        (OURS, 3.0, None),
        ("circuit", 9.0, 3.0),
    ]


@pytest.mark.parametrize(
    ("options", "said"),
    [
        (
            ["--json", "{folder}/absent.d/x.json"],
            "--json: {folder}/absent.d/x.json: there is no folder {folder}/absent.d",
        ),
        (["--json", "{folder}"], "--json: {folder}: this is a folder, not a file to write"),
        (["--join", "{folder}/absent.json"], "--join: {folder}/absent.json cannot be read: no such file"),
        (["--join", "{folder}/other.json"], "--join: {folder}/other.json is not what --json writes"),
        (["--join", "{folder}/odd.json"], "--join: {folder}/odd.json is not what --json writes"),
        (["--kinds", "plain,foo"], "--kinds: 'foo' is no feature of a job; there are ranges, any"),
        (["--kinds", "plain,stops"], "--kinds: 'plain' is a kind of job by itself, and stands alone"),
        (["--kinds", "stops,all"], "--kinds: 'all' is a kind of job by itself, and stands alone"),
        (["--batches", "0"], "--batches: must be a whole number of at least 1, not '0'"),
        (["--batches", "1", "10000000"], "--batches: 10000000: batch must be at most 1000000, not 10000000"),
        (["--sizes", "1"], "--sizes: must be a whole number of at least 2, not '1'"),
        (["--workers", "two"], "--workers: must be a whole number of at least 1, not 'two'"),
        (["--time-limit", "nan"], "--time-limit: must be a number of seconds above 0, not 'nan'"),
    ],
)
def test_what_cannot_be_is_refused_before_anything_is_measured(
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
    tmp_path: Path,
    options: list[str],
    said: str,
) -> None:
    """Files that cannot be read or written, and values no job or run can have, end in a message and code 2."""
    (tmp_path / "other.json").write_text("[1, 2]", encoding="utf-8")
    (tmp_path / "odd.json").write_text('{"rows": [{"job": "x", "colour": 1}]}', encoding="utf-8")
    monkeypatch.setattr(command, "measure", lambda *asked: pytest.fail("measured"))
    with pytest.raises(SystemExit) as ended:
        command.main([option.format(folder=tmp_path) for option in options])
    assert ended.value.code == 2
    assert f"argument {said.format(folder=tmp_path)}" in capsys.readouterr().err


def test_a_missing_library_is_said_not_counted(monkeypatch: pytest.MonkeyPatch) -> None:
    """Without the optional library the row says that it is not installed, and has no cost, bound or ratio."""
    monkeypatch.setitem(sys.modules, "didppy", None)
    missing = Row("routed 10 plain 1", "dynamic programme", 1.0)
    measure_problem(missing, problem_of(missing.job), 2, Limits(1.0))
    missing.compare(row(missing.job, 1.0))
    assert (missing.status, missing.remark) == ("not installed", "didppy is not installed")
    assert (missing.cost, missing.bound, missing.time_ratio) == (None, None, None)


def test_a_busy_machine_can_be_judged_by_processor_seconds() -> None:
    """Judged by the processor, 9 s on the clock of which 0.1 s were worked are 0.1 s."""
    busy = row("routed 20 plain 1", 9.0)
    busy.cpu_seconds = 0.1
    assert only([busy], "up to 60 lots")[0].worst == 9.0
    judged = reach([busy], by_processor=True)[0]
    assert (judged.work, judged.worst, judged.holds) == ("up to 60 lots", 0.1, True)
    assert busy.seconds == 9.0


def test_limits_and_answers_are_watched_in_everything() -> None:
    """A run two seconds over its limit and a wrong answer each fail the last line of the planner's rows."""
    rows = [row("routed 20 plain 1", 0.1), row("published ESC07", 60.9, 1.0)]
    work = "everything measured"
    assert [reached.holds for reached in only(rows, work)] == [True, True]
    rows[1].seconds = 62.0
    assert [reached.holds for reached in only(rows, work)] == [True, False]
    rows[0].status = "WRONG"
    assert [reached.holds for reached in only(rows, work)] == [False, False]

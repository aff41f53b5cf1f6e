"""The precedence graph: edges, choices, preferences, circles; networkx is the outside reference."""

from __future__ import annotations

from collections.abc import Iterable
from itertools import product

import networkx as nx
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sequencer.diagnostics import NoOrderError
from sequencer.model.rule import Rule
from sequencer.operations import Choice, Edge, Operation, Worklist
from sequencer.precedence.graph import options_without_order, overruled, precedence
from sequencer.precedence.rulebook import in_force, load_books

RULES = in_force(load_books())


def op(id: str, kind: str = "", part: str = "front", **more: object) -> Operation:
    """An operation on one part; surfaces are given by name and belong to that part."""
    for key in ("registers_on", "makes", "destroys"):
        more[key] = tuple(f"{part}/{name}" for name in more.get(key, ()))  # type: ignore[attr-defined]
    return Operation(id=id, station="bench", kind=kind, parts=(part,), **more)


def worklist(*operations: Operation, **choices: dict[str, tuple[str, ...]]) -> Worklist:
    """A worklist with its choices by name."""
    named = tuple(Choice(id=id, options=options) for id, options in choices.items())
    return Worklist(operations=operations, choices=named)


def rule(id: str, before: str, after: str, price: float | None = None) -> Rule:
    """A rule between two kinds on one part, invented; a preference where it has a price."""
    return Rule.model_validate(
        {"id": id, "says": f"The {before} comes before the {after}.", "why": "so it is", "source": "invented"}
        | {
            "strength": "must" if price is None else "prefer",
            "price": price,
            "same": "part",
            "book": "invented",
        }
        | {"before": {"kind": before}, "after": {"kind": after}}
    )


def shown(edges: tuple[Edge, ...]) -> list[tuple[str, str, str]]:
    """Edges as (before, after, rule)."""
    return [(edge.before, edge.after, edge.rule) for edge in edges]


def test_surface_law() -> None:
    """What makes a surface comes before what registers on it, and that before what removes it; each edge
    says so."""
    edges = precedence(
        worklist(
            op("b", "bevel", registers_on=["edge", "left end"], destroys=["left end"]),
            op("p", "plunge", registers_on=["left end"]),
            op("c", "crosscut", makes=["left end"]),
        ),
        (),
    )
    assert {(edge.before, edge.after, edge.rule, edge.why) for edge in edges} == {
        ("c", "p", "surface-made", "the crosscut makes the left end of front, which the plunge registers on"),
        ("c", "b", "surface-made", "the crosscut makes the left end of front, which the bevel registers on"),
        ("p", "b", "surface-kept", "the plunge registers on the left end of front, which the bevel removes"),
    }


def test_surfaces_of_unlike_parts_are_unlike() -> None:
    """A surface of one part has nothing to do with the surface of that name on another."""
    assert (
        precedence(worklist(op("a", makes=["edge"]), op("b", part="side", registers_on=["edge"])), ()) == ()
    )


def test_operations_without_a_kind_are_named_by_id() -> None:
    """Where kinds do not tell two operations apart, the sentence names them by id."""
    (edge,) = precedence(worklist(op("a", makes=["edge"]), op("b", registers_on=["edge"])), ())
    assert edge.why == '"a" makes the edge of front, which "b" registers on'


def test_after_and_what_fell_away() -> None:
    """`after` makes an edge; where it names an operation that has fallen away it is passed over."""
    edges = precedence(worklist(op("a"), op("b", after=("a", "gone"))), ())
    assert [(edge.rule, edge.why) for edge in edges] == [("after", "asked for in the job")]


def test_every_reason_is_kept_once() -> None:
    """A pair with several reasons has an edge for each of them, and none twice."""
    a = op("a", "mill", makes=["face", "edge"])
    b = op("b", "plunge", registers_on=["face", "edge", "edge"], after=("a", "a"))
    assert shown(precedence(worklist(a, b), RULES)) == [
        ("a", "b", "after"),
        ("a", "b", "surface-made"),
        ("a", "b", "surface-made"),
        ("a", "b", "reference-before-cuts"),
    ]


def test_remade_surface_is_there_afterwards() -> None:
    """An operation that removes a surface and makes it anew comes before what registers on it."""
    assert shown(
        precedence(worklist(op("a", registers_on=["edge"]), op("b", makes=["edge"], destroys=["edge"])), ())
    ) == [("b", "a", "surface-made")]


def test_ways_of_one_choice_have_no_edge() -> None:
    """Two operations of different options of one choice have no edge; those of one option, or of two
    choices, do."""
    operations = [op("a", makes=["end"]), op("b", registers_on=["end"]), op("c", registers_on=["end"])]
    one = worklist(*operations, way={"x": ("a", "c"), "y": ("b",)})
    assert shown(precedence(one, ())) == [("a", "c", "surface-made")]
    two = worklist(*operations, way={"x": ("a",), "y": ()}, other={"x": ("b",), "y": ("c",)})
    assert shown(precedence(two, ())) == [("a", "b", "surface-made"), ("a", "c", "surface-made")]


def test_open_preference_is_a_priced_edge() -> None:
    """A preference that nothing settles is an edge with its price."""
    (edge,) = precedence(worklist(op("a", "rip"), op("b", "crosscut")), RULES)
    assert (edge.rule, edge.strength, edge.price_minutes) == ("width-before-length", "prefer", 0.5)


def test_settled_preference_is_left_out() -> None:
    """A preference that must-edges keep anyway, or contradict, is no edge; the contradiction is told."""
    kept = worklist(op("a", "rip"), op("m", after=("a",)), op("b", "crosscut", after=("m",)))
    assert all(edge.strength == "must" for edge in precedence(kept, RULES))
    assert not overruled(kept, RULES)
    against = worklist(op("a", "rip", after=("m",)), op("m", after=("b",)), op("b", "crosscut"))
    assert all(edge.strength == "must" for edge in precedence(against, RULES))
    assert overruled(against, RULES) == (
        'the preference "width-before-length" is not weighed for 1 pair of operations: '
        'other reasons put "b" before "a"',
    )


def test_preference_settled_in_one_option_only_stays() -> None:
    """A preference settled only through an operation that may fall away stays open; in its own option it
    is settled."""
    operations = op("a", "rip"), op("m", after=("a",)), op("b", "crosscut", after=("m",)), op("n")
    one = worklist(*operations, way={"x": ("m",), "y": ("n",)})
    assert ("a", "b", "width-before-length") in shown(precedence(one, RULES))
    other = worklist(*operations, way={"x": ("m", "b"), "y": ("n",)})
    assert ("a", "b", "width-before-length") not in shown(precedence(other, RULES))


def test_preference_that_every_option_contradicts_is_not_weighed() -> None:
    """Whichever way is taken, some operation of it stands between the two; of two choices in a row likewise."""
    ends = op("b", "crosscut"), op("a", "rip", after=("x", "y"))
    between = op("x", after=("b",)), op("y", after=("b",))
    work = worklist(*ends, *between, way={"one": ("x",), "two": ("y",)})
    assert ("a", "b", "width-before-length") not in shown(precedence(work, RULES))
    assert overruled(work, RULES) == (
        'the preference "width-before-length" is not weighed for 1 pair of operations: '
        'other reasons put "b" before "a"',
    )
    open_still = worklist(*ends, *between, op("z"), way={"one": ("x",), "two": ("y",), "three": ("z",)})
    assert ("a", "b", "width-before-length") in shown(precedence(open_still, RULES))
    row = (
        *(op("b", "crosscut"), op("x", after=("b",)), op("y", after=("b",))),
        *(op("u", after=("x", "y")), op("v", after=("x", "y")), op("a", "rip", after=("u", "v"))),
    )
    ways = {"one": ("x",), "two": ("y",)}, {"one": ("u",), "two": ("v",)}
    assert overruled(worklist(*row, first=ways[0], second=ways[1]), RULES)


NOT_WEIGHED = (
    'the preference "width-before-length" is not weighed for 1 pair of operations: other reasons put '
    '"b" before "a"',
)


def test_what_every_option_leads_to_leads_on() -> None:
    """b before a by way of x or of y, each of two operations, and of what both lead to."""
    work = worklist(
        *(op("b", "crosscut"), op("x1", after=("b",)), op("x2", after=("x1",)), op("y", after=("b",))),
        *(op("t", after=("x2", "y")), op("u", after=("t",)), op("a", "rip", after=("u",))),
        way={"one": ("x1", "x2"), "two": ("y",)},
    )
    assert overruled(work, RULES) == NOT_WEIGHED


def test_what_is_made_together_in_one_option_alone_is_settled_there() -> None:
    """b is made in one and two, a in two and three, what stands between them in two: where both are made, so is it."""
    work = worklist(
        *(op("b", "crosscut"), op("m", after=("b",)), op("a", "rip", after=("m",))),
        way={"one": ("b",), "two": ("b", "m", "a"), "three": ("a",)},
    )
    assert overruled(work, RULES) == NOT_WEIGHED


def test_a_pair_is_settled_by_what_its_own_options_make() -> None:
    """a1 after b only where m is made, which may fall away; a2 is made with m only. A preference is open for the first,
    whichever of the two is asked for first, and settled for the second.
    """
    ends = op("a1", "rip", after=("m",)), op("a2", "rip", after=("m",))
    for both in (ends, ends[::-1]):
        work = worklist(
            op("b", "crosscut"), op("m", after=("b",)), *both, op("n"), way={"x": ("m", "a2"), "y": ("n",)}
        )
        wishes = [edge for edge in precedence(work, RULES) if edge.strength == "prefer"]
        assert [(wish.before, wish.after) for wish in wishes] == [("a1", "b")]
        assert overruled(work, RULES) == (NOT_WEIGHED[0].replace('"a"', '"a2"'),)


def test_what_surfaces_ask_for_too_is_not_offered_as_a_way_out() -> None:
    """Taken out of `after` of b, a would still come before it, since it makes the edge: only c is worth taking out."""
    work = worklist(op("a", makes=["edge"], after=("c",)), op("b", registers_on=["edge"], after=("a",)))
    work = work.model_copy(update={"operations": (*work.operations, op("c", after=("b",)))})
    with pytest.raises(NoOrderError) as error:
        options_without_order(work, precedence(work, ()))
    assert error.value.faults[0].accepted == (
        'any one of these would break the circle: "b" taken out of `after` of "c"; "c" taken out of `after` of "a"'
    )


def test_circle_is_told_as_a_chain() -> None:
    """A circle is refused with the shortest chain of sentences and with everything that would break it."""
    work = worklist(
        op("a", "cut", after=("c",)),
        op("b", "drill", registers_on=["edge"]),
        op("c", "plane", destroys=["edge"]),
        op("d", after=("c",)),
        op("e", after=("d", "c")),
    )
    edges = precedence(work, [rule("cut-first", "cut", "drill"), rule("other", "plane", "paint")])
    with pytest.raises(NoOrderError) as error:
        options_without_order(work, edges)
    (fault,) = error.value.faults
    assert error.value.exit_code == 3
    assert fault.message == (
        "no order is possible: "
        '"a" must come before "b" because the cut comes before the drill (so it is) [cut-first]; '
        '"b" must come before "c" because the drill registers on the edge of front, which the plane removes '
        "[surface-kept]; "
        '"c" must come before "a" because the job asks for it (`after`); and so "a" before itself'
    )
    assert fault.accepted == (
        "any one of these would break the circle: "
        'rule "cut-first" switched off; "c" taken out of `after` of "a"'
    )


def test_circle_of_surfaces_alone() -> None:
    """Where only surfaces stand in a circle, nothing is offered that could be switched off."""
    work = worklist(
        op("a", registers_on=["edge"], destroys=["end"]), op("b", registers_on=["end"], destroys=["edge"])
    )
    with pytest.raises(NoOrderError, match="surface-kept") as error:
        options_without_order(work, precedence(work, RULES))
    assert "no rule that can be switched off" in error.value.faults[0].accepted


def test_operation_after_itself() -> None:
    """An operation that asks to come after itself is the shortest circle of all."""
    work = worklist(op("a", after=("a",)))
    with pytest.raises(NoOrderError, match='"a" must come before "a"'):
        options_without_order(work, precedence(work, ()))


def test_preferences_make_no_circle() -> None:
    """Preferences that contradict one another are weighed, not refused."""
    work = worklist(op("a", "cut"), op("b", "drill"))
    edges = precedence(work, [rule("one", "cut", "drill", 1.0), rule("two", "drill", "cut", 2.0)])
    assert len(edges) == 2
    assert options_without_order(work, edges) == {}


CIRCULAR = op("x1", after=("x2",)), op("x2", after=("x1",))


def test_option_without_order_is_barred() -> None:
    """A circle inside one option bars that option, with its chain as the reason."""
    work = worklist(op("a"), *CIRCULAR, op("y", after=("a",)), way={"x": ("x1", "x2"), "y": ("y",)})
    barred = options_without_order(work, precedence(work, ()))
    assert list(barred) == [("way", "x")]
    assert barred["way", "x"].endswith('and so "x1" before itself')


def test_barred_option_makes_the_other_certain() -> None:
    """An option that contradicts what the last option of another choice brings is barred in turn."""
    work = worklist(
        *CIRCULAR,
        op("y", after=("q",)),
        op("q", after=("y",)),
        op("r"),
        way={"x": ("x1", "x2"), "y": ("y",)},
        other={"q": ("q",), "r": ("r",)},
    )
    assert set(options_without_order(work, precedence(work, ()))) == {("way", "x"), ("other", "q")}


def test_choice_without_any_option() -> None:
    """A choice all of whose options are barred is refused, with the circle of each."""
    work = worklist(
        op("a", after=("x",)),
        op("x", after=("a",)),
        op("y1", after=("y2",)),
        op("y2", after=("y1",)),
        way={"x": ("x",), "y": ("y1", "y2")},
    )
    with pytest.raises(NoOrderError) as error:
        options_without_order(work, precedence(work, ()))
    assert [fault.where for fault in error.value.faults] == [
        'choice "way", option "x"',
        'choice "way", option "y"',
    ]


def test_no_combination_has_an_order() -> None:
    """Where each option could be made but no two of them together, the job is refused."""
    work = worklist(
        op("a", after=("c", "d")),
        op("b", after=("c", "d")),
        op("c", after=("a", "b")),
        op("d", after=("a", "b")),
        one={"a": ("a",), "b": ("b",)},
        two={"c": ("c",), "d": ("d",)},
    )
    with pytest.raises(NoOrderError, match="every combination of options"):
        options_without_order(work, precedence(work, ()))


SURFACES = ["face", "edge", "left end", "right end"]
KINDS = ["", "mill", "rip", "crosscut", "plunge", "bevel", "groove", "sand", "glue"]


@st.composite
def worklists(draw: st.DrawFn) -> Worklist:
    """Random worklists of up to 8 operations on two parts, many of them with a choice of two or three
    options."""
    some = st.lists(st.sampled_from(SURFACES), max_size=2, unique=True)
    operations = []
    for index in range(draw(st.integers(1, 8))):
        removed = draw(some)
        operations.append(
            op(
                f"o{index}",
                draw(st.sampled_from(KINDS)),
                draw(st.sampled_from(["front", "side"])),
                registers_on=draw(some),
                makes=[name for name in draw(some) if name not in removed],
                destroys=removed,
                after=tuple(
                    draw(st.lists(st.sampled_from([f"o{k}" for k in range(index)] or ["gone"]), max_size=1))
                ),
            )
        )
    optional = draw(st.lists(st.sampled_from([o.id for o in operations]), unique=True, max_size=4))
    names = draw(st.sampled_from([("x", "y"), ("x", "y", "z")]))
    where = [draw(st.sets(st.sampled_from(names), min_size=1)) for _ in optional]
    options = {name: tuple(o for o, at in zip(optional, where, strict=True) if name in at) for name in names}
    return worklist(*draw(st.permutations(operations)), **({"way": options} if optional else {}))


def combinations(work: Worklist) -> list[set[str]]:
    """The ids of the operations made, for every combination of options."""
    optional = {o for choice in work.choices for ops in choice.options.values() for o in ops}
    always = {operation.id for operation in work.operations} - optional
    return [
        always.union(*(choice.options[name] for choice, name in zip(work.choices, names, strict=True)))
        for names in product(*(choice.options for choice in work.choices))
    ]


def surfaces_hold(order: list[Operation]) -> bool:
    """Plays the order through: does everything register on surfaces that are there and have not been
    removed?"""
    made_by_some = {surface for operation in order for surface in operation.makes}
    made: set[str] = set()
    removed: set[str] = set()
    for operation in order:
        for surface in operation.registers_on:
            by_itself = surface in operation.makes and not any(
                surface in o.makes for o in order if o is not operation
            )
            if surface in removed or (surface in made_by_some and surface not in made and not by_itself):
                return False
        made.update(operation.makes)
        removed.update(operation.destroys)
    return True


def as_graph(work: Worklist, edges: Iterable[Edge]) -> nx.DiGraph:
    """The operations and their must-edges as networkx takes them."""
    graph = nx.DiGraph((edge.before, edge.after) for edge in edges if edge.strength == "must")
    graph.add_nodes_from(operation.id for operation in work.operations)
    return graph


@settings(max_examples=80, deadline=None)
@given(worklists())
def test_every_order_of_the_graph_keeps_the_surface_law(work: Worklist) -> None:
    """Every topological order (by networkx) of any combination of options finds its surfaces when played
    through."""
    operations = {operation.id: operation for operation in work.operations}
    edges = precedence(work, ())
    for made in combinations(work):
        graph = as_graph(work, edges).subgraph(made)
        if nx.is_directed_acyclic_graph(graph):
            for _, order in zip(range(20), nx.all_topological_sorts(graph), strict=False):
                assert surfaces_hold([operations[id] for id in order])


@settings(max_examples=80, deadline=None)
@given(worklists())
def test_circles_are_found_where_networkx_finds_them(work: Worklist) -> None:
    """An option is barred, or the job refused, exactly where networkx finds a circle in what would be
    made."""
    edges = precedence(work, RULES)
    graph = as_graph(work, edges)
    sound = [nx.is_directed_acyclic_graph(graph.subgraph(made)) for made in combinations(work)]
    if not any(sound):
        with pytest.raises(NoOrderError):
            options_without_order(work, edges)
        return
    barred = options_without_order(work, edges)
    if work.choices:
        assert {name for _, name in barred} == {
            name for name, holds in zip(work.choices[0].options, sound, strict=True) if not holds
        }
    else:
        assert barred == {}


@settings(max_examples=50, deadline=None)
@given(worklists())
def test_shortest_circle_is_the_shortest(work: Worklist) -> None:
    """The chain told has as many links as the shortest circle networkx enumerates."""
    work = work.model_copy(update={"choices": ()})
    edges = precedence(work, RULES)
    lengths = [len(circle) for circle in nx.simple_cycles(as_graph(work, edges))]
    if not lengths:
        assert options_without_order(work, edges) == {}
        return
    with pytest.raises(NoOrderError) as error:
        options_without_order(work, edges)
    assert error.value.faults[0].message.count(" must come before ") == min(lengths)


@settings(max_examples=50, deadline=None)
@given(worklists())
def test_preferences_left_are_truly_open(work: Worklist) -> None:
    """Where nothing may fall away, a preference is an edge exactly if the transitive closure orders its
    pair neither way."""
    work = work.model_copy(update={"choices": ()})
    edges = precedence(work, RULES)
    closure = nx.transitive_closure(as_graph(work, edges))
    prefers = [each for each in RULES if each.strength == "prefer"]
    for each in prefers:
        for before, after in each.pairs(work.operations):
            settled = closure.has_edge(before.id, after.id) or closure.has_edge(after.id, before.id)
            assert ((before.id, after.id, each.id) in shown(edges)) != settled


@settings(max_examples=120, deadline=None)
@given(worklists())
def test_preferences_left_are_open_in_some_combination(work: Worklist) -> None:
    """A preference is left out exactly if the closures of all combinations that make its pair order it one and the same
    way, or none makes it."""
    edges = precedence(work, RULES)
    graph = as_graph(work, edges)
    closures = [nx.transitive_closure(graph.subgraph(made)) for made in combinations(work)]
    for each in RULES:
        for before, after in each.pairs(work.operations) if each.strength == "prefer" else ():
            both = [found for found in closures if {before.id, after.id} <= set(found)]
            settled = any(
                all(found.has_edge(first.id, last.id) for found in both)
                for first, last in ((before, after), (after, before))
            )
            assert ((before.id, after.id, each.id) in shown(edges)) != settled


@settings(max_examples=50, deadline=None)
@given(worklists(), st.randoms())
def test_edges_do_not_depend_on_the_listing(work: Worklist, random: object) -> None:
    """The same operations listed otherwise give the same edges."""
    shuffled = list(work.operations)
    random.shuffle(shuffled)  # type: ignore[attr-defined]
    again = work.model_copy(update={"operations": tuple(shuffled)})
    assert set(precedence(work, RULES)) == set(precedence(again, RULES))

"""The order as a constraint model (OR-Tools CP-SAT), carrying every feature of the problem.

A model of *runs*: each dial, and walking as one more, has a row of slots in the order of time; a slot is
empty or holds one value, and neighbours differ. Each lot picks one slot of every dial it names, and a
position in the order; slot borders are positions too, which ties the rows together. The order inside a run
costs nothing, so nothing is said about it.

The way through: `frame` (what is made and when), `rows` (slots, and the lots in them), `prices` (what a row
costs), `rules` (precedence, mates, wishes), `counts` (what is proven of the dials beforehand), `model` (all
of it together), `running` (the solver within its time), `engine` (from a problem to an outcome).

A relaxation of such a model sees hardly any reason why a dial should move more than once to each value. So it
is told: floors proven by the search over patterns are stated as constraints (operator counting; Pommerening,
Roeger, Helmert and Bonet, 2014), and they shorten the rows, as what the other dials cost at least is taken off
what a plan better than the one in hand may spend on a dial.
"""

from sequencer.solve.cpsat.engine import cpsat

__all__ = ["cpsat"]

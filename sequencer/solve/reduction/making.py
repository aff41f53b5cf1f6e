"""Which lots are made whenever another one is, going by the options that name them."""

from __future__ import annotations

from sequencer.solve.problem import Problem


class Making:
    """For each lot the choice and the options (a mask) that name it, if any does."""

    def __init__(self, problem: Problem) -> None:
        self.named: dict[int, tuple[int, int]] = {}
        for c, choice in enumerate(problem.choices):
            for o, option in enumerate(choice):
                for lot in option:
                    self.named[lot] = (c, self.named.get(lot, (c, 0))[1] | 1 << o)
        for lot, (c, options) in list(self.named.items()):
            if options == (1 << len(problem.choices[c])) - 1:
                del self.named[lot]  # every option makes it
        self.always = 0
        for lot in range(len(problem.lots)):
            if lot not in self.named:
                self.always |= 1 << lot

    def along(self, lot: int) -> int:
        """The lots (a mask) that are made whenever this one is, itself among them."""
        mask = self.always
        if lot in self.named:
            c, options = self.named[lot]
            for other, (d, others) in self.named.items():
                if c == d and not options & ~others:
                    mask |= 1 << other
        return mask

    def alike(self, lot: int) -> int:
        """The lots (a mask) that are made exactly when this one is, itself among them."""
        if lot not in self.named:
            return self.always
        return sum(1 << other for other, where in self.named.items() if where == self.named[lot])

    def together(self, a: int, b: int) -> bool:
        """Whether both can be made in one order."""
        if a not in self.named or b not in self.named:
            return True
        (c, options), (d, others) = self.named[a], self.named[b]
        return c != d or bool(options & others)

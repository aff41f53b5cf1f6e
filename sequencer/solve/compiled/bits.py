"""Bits of 64-bit words, as the processor counts them."""

from __future__ import annotations

from typing import Any

from numba import types
from numba.extending import intrinsic


def _lowest(typing: Any, word: Any) -> Any:
    """The place of the lowest bit set in a word that is not zero."""

    def code(context: Any, builder: Any, signature: Any, args: Any) -> Any:
        return builder.cttz(args[0], context.get_constant(types.boolean, 1))

    return types.int64(types.uint64), code


def _highest(typing: Any, word: Any) -> Any:
    """The place of the highest bit set in a word that is not zero."""

    def code(context: Any, builder: Any, signature: Any, args: Any) -> Any:
        zeros = builder.ctlz(args[0], context.get_constant(types.boolean, 1))
        return builder.sub(context.get_constant(types.uint64, 63), zeros)

    return types.int64(types.uint64), code


lowest: Any = intrinsic(_lowest)
highest: Any = intrinsic(_highest)

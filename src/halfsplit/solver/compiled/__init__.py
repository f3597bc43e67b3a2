"""The room where clarity was paid for speed: the loops that numba compiles, eight variants side by side.

lanes: the vector of eight doubles that all others compute with. devices: equations of the nonlinear devices. elimination: sparse LU along a tape.
newton: one solution of the network. shooting: one mains cycle, and the periodic state. cold: readings of a dead circuit. spots: impedances.

What is compiled is kept in a folder named after all the sources together: the compiler's own cache looks at one file at a time, and would go on using
a loop into which the old version of a changed neighbour is built.
"""

from __future__ import annotations

import os

from numba.core import config

from halfsplit.solver.loops import clear_old, folder

if not os.environ.get("NUMBA_CACHE_DIR"):
    kept = folder()
    clear_old(kept)
    setattr(config, "CACHE_DIR", str(kept))  # noqa: B010  # a name that numba makes at run time

"""Child processes that end with their parent, even when the parent is killed."""

import ctypes
import signal
import sys
from collections.abc import Callable

PR_SET_PDEATHSIG = 1


def ends_with_parent(with_signal: signal.Signals) -> Callable[[], None] | None:
    """Give the step that runs in a new child so that Linux ends it with its parent (prctl(2)).

    Other systems have no such promise; there an orderly stop still ends every child.
    """
    if sys.platform != "linux":
        return None
    libc = ctypes.CDLL(None, use_errno=True)
    return lambda: libc.prctl(PR_SET_PDEATHSIG, int(with_signal)) and None

"""Keeps standard output for what a command answers: libraries in C print there behind Python's back."""

from __future__ import annotations

import ctypes
import os
import sys
from collections.abc import Iterator
from contextlib import contextmanager


@contextmanager
def chatter_to_stderr() -> Iterator[None]:
    """While this holds, what is printed to file descriptor 1 goes to standard error.

    C keeps its own buffer, which it would empty into the answer at exit, so it is emptied here first.
    """
    sys.stdout.flush()
    kept = os.dup(1)
    os.dup2(2, 1)
    try:
        yield
    finally:
        ctypes.CDLL(None).fflush(None)
        os.dup2(kept, 1)
        os.close(kept)

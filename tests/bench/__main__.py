"""`python -m tests.bench` runs every timing; `python -m tests.bench lists ledger` only those named. DB=pg as for tests.

Each runs in a process and on a database of its own, and prints ratios to a control it ran itself: on a shared machine
the figures of different runs cannot be compared.
"""

from __future__ import annotations

import os
import pkgutil
import subprocess
import sys

import tests.bench


def main(wanted: list[str]) -> int:
    names = [found.name for found in pkgutil.iter_modules(tests.bench.__path__) if not found.name.startswith("_")]
    if unknown := set(wanted) - set(names):
        print(f"No such timing: {', '.join(sorted(unknown))}. There are: {', '.join(names)}.")
        return 2
    failed = []
    for name in wanted or names:
        print(f"\n== {name} (load {os.getloadavg()[0]:.1f} at the start)", flush=True)
        if subprocess.run([sys.executable, "-m", f"tests.bench.{name}"], check=False).returncode:
            failed.append(name)
    if failed:
        print(f"\nBroke off: {', '.join(failed)}")
    return bool(failed)


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))

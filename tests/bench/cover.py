"""Measures the cover check on trial jobs: python -m tests.bench.cover [panels ...]

Each trial runs in a process of its own, so that memory is its own. Seeds are in the table's first column.
"""

from __future__ import annotations

import json
import resource
import subprocess
import sys
import time
from collections.abc import Iterator
from dataclasses import asdict, replace

from jobs.planning.checker import check_answer
from jobs.planning.cover import check
from jobs.planning.one_by_one import compose_one_by_one, gear_cost, greatest_use
from jobs.planning.trials import Trial, trial_request

SECONDS = {100: 5.0, 200: 10.0, 500: 20.0, 1000: 30.0}
COVERED_SECONDS = 2.0
STOCKS = ((None, False), (0.8, False), (0.8, True), (0.6, False), (0.6, True))
HEAD = (
    "panels",
    "stacks at once",
    "panels of a stack",
    "runs",
    "stock",
    "ask",
    "limit s",
    "seconds",
    "cpu s",
    "gap %",
    "short mm",
    "its bound",
    "proved",
    "gear / one by one",
    "MB",
)


def trials() -> Iterator[Trial]:
    """Ample, tight and scarce stock, still and moving, at each size, in stacks of panels of one size and of any; 200
    panels in two sections, as many stacks at once in each as at 100 panels (12) and as few as is hard (8)."""
    for panels in SECONDS:
        sections = (150, 175) if panels == 200 else (150,)
        for at_once in (24, 16) if panels == 200 else (max(12, panels // 12),):
            for alike in (True, False):
                for seed, (share, moving) in enumerate(STOCKS, 1):
                    yield Trial(panels, seed, share, moving, sections, side_by_side=at_once, alike=alike)


def measure(trial: Trial, ask: str, seconds: float) -> dict[str, object]:
    """One trial, in this process."""
    request = replace(trial_request(trial), ask=ask)
    began, cpu = time.perf_counter(), time.process_time()
    answer = check(request, seconds=seconds)
    took, cpu = time.perf_counter() - began, time.process_time() - cpu
    faults = check_answer(request, answer)
    if faults:
        raise SystemExit(f"unsound answer: {faults[0]}")
    alone = compose_one_by_one(request)
    baseline = gear_cost(request, alone, greatest_use(request, alone))
    stock = "ample" if trial.share is None else f"{trial.share}{' moving' if trial.moving else ''}"
    return {
        "panels": trial.panels,
        "stacks at once": trial.side_by_side,
        "panels of a stack": "alike" if trial.alike else "each its own",
        "runs": len(request.runs),
        "stock": f"{stock} seed {trial.seed}",
        "ask": ask,
        "limit s": seconds,
        "seconds": round(took, 1),
        "cpu s": round(cpu, 1),
        "gap %": None if answer.gap is None else round(100 * answer.gap, 3),
        "short mm": answer.short_mm,
        "its bound": answer.short_bound_mm,
        "proved": "yes" if answer.proved else "no",
        "gear / one by one": f"{answer.cost_mm / baseline:.3f}",
        "MB": resource.getrusage(resource.RUSAGE_SELF).ru_maxrss // 1024,
    }


def _apart(trial: Trial, ask: str, seconds: float) -> dict[str, object]:
    """One trial in a process of its own."""
    job = json.dumps([asdict(trial), ask, seconds])
    done = subprocess.run(
        [sys.executable, "-m", "tests.bench.cover", "--one", job], capture_output=True, text=True, check=True
    )
    row: dict[str, object] = json.loads(done.stdout.strip().splitlines()[-1])
    return row


def rows(sizes: set[int]) -> Iterator[dict[str, object]]:
    """Each trial's measurements as they come."""
    for trial in trials():
        if trial.panels in sizes:
            yield _apart(trial, "plan", SECONDS[trial.panels])
            if trial.panels == 100:
                yield _apart(trial, "covered", COVERED_SECONDS)


def main(arguments: list[str] | None = None) -> None:
    """Print the table, a row as each trial ends."""
    arguments = sys.argv[1:] if arguments is None else arguments
    if arguments[:1] == ["--one"]:
        trial, ask, seconds = json.loads(arguments[1])
        trial["sections"] = tuple(trial["sections"])
        print(json.dumps(measure(Trial(**trial), ask, seconds)))
        return
    print("The cover check on trial jobs")
    print("| " + " | ".join(HEAD) + " |")
    print("|" + "|".join(" --- " for _ in HEAD) + "|")
    for row in rows({int(size) for size in arguments} or set(SECONDS)):
        cells = ("null" if row[name] is None else str(row[name]) for name in HEAD)
        print("| " + " | ".join(cells) + " |", flush=True)


if __name__ == "__main__":
    main()

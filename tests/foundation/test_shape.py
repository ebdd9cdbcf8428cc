"""The shape of the project's own files."""

import re
import subprocess
import tomllib
from pathlib import Path

import pytest
from mypy.main import process_options

ROOT = Path(__file__).parent.parent.parent
MOST_LINES = 400
NOT_WRITTEN_BY_HAND = ("tests/", "docs/", "constraints.txt", "package-lock.json")

# What the content security policy would refuse, so that nobody finds out on a page.
INLINE = {
    "a style attribute": re.compile(r"<[^>]*\sstyle\s*=", re.I),
    "a style element": re.compile(r"<style\b", re.I),
    "an inline script": re.compile(r"<script\b(?![^>]*\bsrc=)(?![^>]*application/json)", re.I),
    "an event attribute": re.compile(r"<[^>]*\son[a-z]+\s*=", re.I),
}


def our_files(pattern="*"):
    listed = subprocess.run(["git", "ls-files", pattern], cwd=ROOT, capture_output=True, text=True, check=True)
    return [name for name in listed.stdout.splitlines() if (ROOT / name).is_file()]


def lines_of(name):
    try:
        return (ROOT / name).read_text().count("\n")
    except UnicodeDecodeError:
        return 0


def test_no_file_is_longer_than_a_reader_can_hold():
    long = {
        name: lines_of(name)
        for name in our_files()
        if not (name.startswith(NOT_WRITTEN_BY_HAND) or "/migrations/" in name)
    }
    assert {name: count for name, count in long.items() if count > MOST_LINES} == {}


@pytest.mark.parametrize("what", INLINE)
def test_no_template_has(what):
    found = [name for name in our_files("templates/*.html") if INLINE[what].search((ROOT / name).read_text())]
    assert found == []


def pure_modules():
    contracts = tomllib.loads((ROOT / "pyproject.toml").read_text())["tool"]["importlinter"]["contracts"]
    return next(each for each in contracts if each["name"] == "pure modules never import Django")["source_modules"]


def mypy_options(*given):
    return process_options([*given, "-c", "pass"])[1]


def test_the_pure_modules_are_typed_as_strictly_as_mypy_can():
    """mypy's --strict is for a whole run; what it turns on stands in pyproject.toml for these modules alone."""
    plain, strict = mypy_options("--config-file=").snapshot(), mypy_options("--config-file=", "--strict").snapshot()
    turned_on = {name: value for name, value in strict.items() if value != plain[name]}
    assert turned_on["disallow_untyped_defs"] is True
    ours = mypy_options(f"--config-file={ROOT / 'pyproject.toml'}")
    for pure in pure_modules():
        for module in (pure, f"{pure}.any_part") if (ROOT / pure.replace(".", "/")).is_dir() else (pure,):
            held_to = ours.clone_for_module(module).snapshot()
            assert {name: held_to[name] for name in turned_on} == turned_on, module

"""The shape of the project's own files."""

import re
import subprocess
from pathlib import Path

import pytest

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

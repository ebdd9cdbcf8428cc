"""The examples in the docstrings of the pure modules do what they say."""

import doctest
import importlib
import pkgutil
import tomllib
from pathlib import Path

ROOT = Path(__file__).parent.parent.parent


def pure_modules():
    """Those that the contract keeps from Django, with everything in them."""
    contracts = tomllib.loads((ROOT / "pyproject.toml").read_text())["tool"]["importlinter"]["contracts"]
    (pure,) = (each for each in contracts if each["name"] == "pure modules never import Django")
    for name in pure["source_modules"]:
        module = importlib.import_module(name)
        yield module
        for found in pkgutil.walk_packages(getattr(module, "__path__", []), f"{name}."):
            yield importlib.import_module(found.name)


def test_the_examples_of_every_pure_module_hold():
    outcomes = {module.__name__: doctest.testmod(module) for module in pure_modules()}
    assert {name: each.failed for name, each in outcomes.items() if each.failed} == {}
    assert sum(each.attempted for each in outcomes.values()) > 100

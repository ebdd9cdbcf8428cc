import pytest

from inventory.tags.code import with_check
from tests.inventory.yard import make_yard


@pytest.fixture
def yard(db):
    return make_yard()


@pytest.fixture
def codes():
    """Real tag codes, fixed."""
    return [with_check(f"ABCDEF{a}{b}") for a in "234" for b in "2345678"]

import pytest

from tests.inventory.yard import make_yard


@pytest.fixture
def yard(db):
    return make_yard()

import pytest

from tests.jobs.bills.build import make_desk


@pytest.fixture
def desk(db):
    return make_desk()

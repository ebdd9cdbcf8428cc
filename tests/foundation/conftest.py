import pytest
from django.db import transaction

from tests import pages


@pytest.fixture(scope="module")
def small_yard(django_db_setup, django_db_blocker):
    """Built once for the tests of a module; each of them rolls back to it, and the module rolls back all of it."""
    with django_db_blocker.unblock(), transaction.atomic():
        yield pages.small_yard()
        transaction.set_rollback(True)

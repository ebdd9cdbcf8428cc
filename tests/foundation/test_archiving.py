"""Backup and restore through the commands themselves, on a database of their own, as somebody at the yard would."""

import os
import subprocess
import sys
import tarfile

import pytest
from django.core.management import CommandError, call_command

REGISTER = """
from inventory.models import GearType, Photo, Place
from inventory.services.registering import NewPiece, register_pieces
from inventory.tags import code
import random
type = GearType.objects.create(code="E150-30", name="form", kind="edge form", section_mm=150, length_mm=3000)
yard = Place.objects.create(name="North yard", kind="yard")
codes = [code.make(random.Random(n)) for n in range({first}, {last})]
register_pieces([NewPiece(type.pk, (each,), yard.pk) for each in codes], by=None)
"""
BILL = """
from tests.jobs.invoice.bills import a_job, issue
issue(a_job(), {"net": "100.00"}, {"net": "20.00"})
"""
CHANGE = """
from inventory.models import GearType
from inventory.services.work import record_beat
GearType.objects.update(code="OTHER")
record_beat("one")
"""
LOOK = """
from inventory.models import *
from inventory.models import guard
from jobs.models import Bill, bill_guard
print(Piece.objects.count(), Event.objects.count(), GearType.objects.get().code, guard.missing())
print(f"{Bill.objects.get().gross:.2f}", Bill.objects.get().lines.count(), bill_guard.missing())
print(Place.objects.create(name="South yard", kind="yard").pk > Place.objects.order_by("pk").first().pk)
"""


@pytest.fixture
def yard(own_database, tmp_path):
    """manage("backup"): a command run in a yard of its own."""
    environment = os.environ | {"POURBACK_DATABASE_URL": own_database, "POURBACK_VAR": str(tmp_path / "var")}

    def manage(*words, check=True):
        done = subprocess.run([sys.executable, "manage.py", *words], env=environment, capture_output=True, text=True)
        assert not check or done.returncode == 0, done.stderr
        return done.stdout if check else done

    return manage


def shell(manage, words):
    return manage("shell", "-v0", "-c", words).strip()


@pytest.mark.django_db
@pytest.mark.slow
def test_what_was_backed_up_comes_back_whole_and_what_was_here_is_kept(yard, tmp_path):
    photos = tmp_path / "var" / "photos" / "2027"
    photos.mkdir(parents=True)
    (photos / "bent.jpg").write_bytes(b"a picture")
    shell(yard, REGISTER.format(first=0, last=3) + BILL)
    archive = tmp_path / "kept.tar.gz"
    assert str(archive) in yard("backup", "--file", str(archive))
    shell(yard, CHANGE + REGISTER.format(first=3, last=8).replace("North", "East"))
    (photos / "bent.jpg").unlink()

    refused = yard("restore", str(archive), check=False)
    assert "Stop the server and the worker first" in refused.stderr
    said = yard("restore", "--while-running", str(archive))

    assert "3 pieces, 3 events, 1 photo files" in said
    assert "The cache agrees with the ledger" in said
    assert shell(yard, LOOK) == "3 3 E150-30 []\n147.60 2 []\nTrue"
    assert (photos / "bent.jpg").read_bytes() == b"a picture"
    assert len(list((tmp_path / "var" / "backups").glob("*before-restore*"))) == 1


@pytest.mark.django_db
def test_what_is_no_archive_is_refused_with_a_sentence(tmp_path):
    with pytest.raises(CommandError, match="There is no file"):
        call_command("restore", str(tmp_path / "none.tar.gz"))
    (tmp_path / "text.tar.gz").write_text("hello")
    with pytest.raises(CommandError, match="not a Pourback archive"):
        call_command("restore", str(tmp_path / "text.tar.gz"))


@pytest.mark.django_db
def test_an_archive_of_another_engine_is_refused(tmp_path):
    (tmp_path / "manifest.json").write_text('{"format": 1, "engine": "elsewhere", "migrations": []}')
    with tarfile.open(tmp_path / "other.tar.gz", "w:gz") as tar:
        tar.add(tmp_path / "manifest.json", arcname="manifest.json")
    with pytest.raises(CommandError, match="comes from elsewhere"):
        call_command("restore", str(tmp_path / "other.tar.gz"))


@pytest.mark.django_db
def test_an_archive_is_never_written_over(tmp_path):
    (tmp_path / "kept.tar.gz").write_text("")
    with pytest.raises(CommandError, match="is there already"):
        call_command("backup", file=tmp_path / "kept.tar.gz")

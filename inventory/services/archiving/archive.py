"""Writing and reading the archive: a gzipped tar of a manifest, the database, and the photos."""

from __future__ import annotations

import datetime as dt
import json
import tarfile
import tempfile
from pathlib import Path
from types import ModuleType
from typing import Any

from django.conf import settings
from django.db import connection
from django.db.migrations.recorder import MigrationRecorder
from django.utils import timezone

from inventory.errors import Refused
from inventory.services.archiving import postgresql, sqlite

FORMAT = 1
ENGINES: dict[str, ModuleType] = {"sqlite": sqlite, "postgresql": postgresql}


def default_path(at: dt.datetime | None = None, why: str = "backup") -> Path:
    moment = timezone.localtime(at)
    return Path(settings.VAR_DIR) / "backups" / f"pourback-{why}-{moment:%Y%m%d-%H%M%S}.tar.gz"


def make_archive(path: Path) -> dict[str, Any]:
    """Writes the archive under another name first, so that a broken-off one is never taken for whole."""
    path.parent.mkdir(parents=True, exist_ok=True)
    if path.exists():
        raise Refused("exists", f"{path} is there already. Say another name, or move it away first.")
    manifest = _manifest()
    unfinished = path.with_name(path.name + ".unfinished")
    with tempfile.TemporaryDirectory(dir=path.parent) as scratch:
        folder = Path(scratch)
        ENGINES[connection.vendor].dump(folder)
        (folder / "manifest.json").write_text(json.dumps(manifest, indent=1))
        with tarfile.open(unfinished, "w:gz", compresslevel=3) as tar:
            for part in sorted(folder.iterdir(), key=lambda part: (part.name != "manifest.json", part.name)):
                tar.add(part, arcname=part.name)
            if _photos().is_dir():
                tar.add(_photos(), arcname="photos")
    unfinished.chmod(0o600)
    unfinished.rename(path)
    return manifest


def _manifest() -> dict[str, Any]:
    return {
        "format": FORMAT,
        "made_at": timezone.now().isoformat(timespec="seconds"),
        "engine": connection.vendor,
        "migrations": sorted(map(list, MigrationRecorder(connection).applied_migrations())),
    }


def read_manifest(path: Path) -> dict[str, Any]:
    """The manifest of an archive that this installation can take; a sentence why not otherwise."""
    if not path.is_file():
        raise Refused("no-archive", f"There is no file {path}. Archives are kept in {default_path().parent}.")
    try:
        with tarfile.open(path) as tar:
            held = tar.extractfile("manifest.json")
            manifest = json.load(held) if held else {}
    except (tarfile.TarError, KeyError, ValueError, EOFError, OSError) as error:
        raise Refused("not-an-archive", f"{path} is not a Pourback archive, or it is cut short.") from error
    if manifest.get("format") != FORMAT:
        raise Refused("unknown-format", f"{path} has a format that this version does not know. Use a newer version.")
    if manifest["engine"] != connection.vendor:
        raise Refused("other-engine", f"{path} comes from {manifest['engine']}; this yard runs on {connection.vendor}.")
    return manifest


def load_archive(path: Path) -> dict[str, Any]:
    """Replaces database and photos by the archive's. The caller migrates and replays afterwards."""
    manifest = read_manifest(path)
    photos = _photos()
    photos.parent.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory(dir=photos.parent) as scratch:
        folder = Path(scratch)
        with tarfile.open(path) as tar:
            tar.extractall(folder, filter="data")
        ENGINES[connection.vendor].load(folder, manifest)
        _put_photos_back(folder / "photos", photos)
    return manifest


def _put_photos_back(restored: Path, photos: Path) -> None:
    """Photos that were here step aside under another name; nothing is deleted."""
    if photos.exists():
        photos.rename(photos.with_name(f"{photos.name}-before-{timezone.localtime():%Y%m%d-%H%M%S-%f}"))
    if restored.is_dir():
        restored.rename(photos)


def _photos() -> Path:
    return Path(settings.MEDIA_ROOT)

"""What a phone is told to keep for when there is no signal: all of it exists, and a change of any makes a release."""

import json
import re

from django.contrib.staticfiles import finders
from django.urls import reverse
from PIL import Image

from inventory.views import offline


def test_every_file_the_worker_keeps_exists_and_no_script_of_the_page_is_forgotten():
    assert [name for name in offline.files() if finders.find(name) is None] == []
    pattern = re.compile(r'from "\./([a-z-]+)\.js"')
    asked, seen = {"scan", "page"}, set()
    while asked - seen:
        name = (asked - seen).pop()
        seen.add(name)
        with open(finders.find(f"pourback/{name}.js")) as script:  # noqa: PTH123
            asked |= set(pattern.findall(script.read()))
    assert set(offline.SCRIPTS) == seen


def test_a_changed_file_makes_another_release(monkeypatch):
    before = offline._read_release()
    monkeypatch.setattr(offline, "files", lambda: ["pourback/scan.js"])
    assert offline._read_release() != before


def test_the_worker_names_its_release_and_keeps_the_page(client):
    answer = client.get(reverse("scan-worker"))
    assert answer["Content-Type"] == "text/javascript"
    assert "no-cache" in answer["Cache-Control"]
    text = answer.content.decode()
    assert f'"{offline.release()}"' in text
    assert f'const PAGE = "{reverse("scan")}"' in text


def test_the_icons_of_the_manifest_are_as_large_as_it_says(client):
    """Members as in the W3C's Web Application Manifest: name, start_url, display, icons with sizes and type."""
    answer = client.get(reverse("manifest"))
    said = json.loads(answer.content)
    assert {"name", "start_url", "display", "icons"} <= set(said)
    assert answer["Content-Type"] == "application/manifest+json"
    for icon in said["icons"]:
        with Image.open(finders.find(icon["src"].removeprefix("/static/"))) as image:
            assert "x".join(map(str, image.size)) == icon["sizes"]

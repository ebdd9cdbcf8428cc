"""The demo's launcher: what it refuses, the certificate it makes, and that Ctrl-C leaves nothing behind."""

import os
import signal
import socket
import ssl
import subprocess
import sys
import time
import urllib.request

import pytest
from django.core.management import CommandError, call_command

from inventory.management.certificates import make_certificate
from inventory.management.processes import Server, SideBySide, refuse_a_taken_port


@pytest.fixture
def free_port():
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return probe.getsockname()[1]


def test_a_taken_port_is_refused_with_what_to_do():
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        with pytest.raises(CommandError, match="Say another"):
            refuse_a_taken_port("127.0.0.1", taken.getsockname()[1])


def test_the_demo_is_refused_on_a_real_yard():
    with pytest.raises(CommandError, match="make serve"):
        call_command("run_demo")


def test_the_certificate_names_the_addresses_it_is_for(tmp_path):
    made = make_certificate(tmp_path, ["192.0.2.7", "yard.example"])
    told = ssl._ssl._test_decode_cert(str(made.certificate))
    assert told["subjectAltName"] == (("IP Address", "192.0.2.7"), ("DNS", "yard.example"))
    assert made.key.stat().st_mode & 0o077 == 0


def test_when_one_stops_the_other_is_stopped(free_port):
    side_by_side = SideBySide(os.environ)
    handlers = signal.getsignal(signal.SIGINT), signal.getsignal(signal.SIGTERM)
    server = Server("127.0.0.1", free_port, more=("--no-such-option",))
    assert side_by_side.run(server, ready=lambda: None) == 1
    assert all(child.poll() is not None for child in side_by_side.children)
    signal.signal(signal.SIGINT, handlers[0])
    signal.signal(signal.SIGTERM, handlers[1])


@pytest.mark.django_db
@pytest.mark.slow
def test_a_yard_is_served_over_https_with_a_worker_until_ctrl_c(own_database, tmp_path, free_port):
    """The launcher with a certificate of its own, as the demo for phones runs it."""
    made = make_certificate(tmp_path, ["127.0.0.1"])
    environment = os.environ | {"POURBACK_DATABASE_URL": own_database}
    program = (
        "import os, sys\n"
        "from inventory.management.processes import Server, SideBySide\n"
        f"server = Server('127.0.0.1', {free_port}, {str(made.certificate)!r}, {str(made.key)!r}, workers=1)\n"
        "sys.exit(SideBySide(os.environ).run(server, lambda: print('ready', flush=True)))\n"
    )
    running = subprocess.Popen([sys.executable, "-c", program], env=environment, stdout=subprocess.PIPE, text=True)
    try:
        assert running.stdout.readline() == "ready\n"
        assert '"well": true' in _health(free_port, made.certificate)
    finally:
        running.send_signal(signal.SIGINT)
        assert running.wait(timeout=120) == 0
    with socket.socket() as probe:
        assert probe.connect_ex(("127.0.0.1", free_port)) != 0


def _health(port, certificate):
    """The worker beats within seconds of its start."""
    context = ssl.create_default_context(cafile=str(certificate))
    end = time.monotonic() + 180
    while time.monotonic() < end:
        try:
            with urllib.request.urlopen(f"https://127.0.0.1:{port}/health", context=context) as answer:
                return answer.read().decode()
        except OSError:
            time.sleep(0.5)
    return "no answer"

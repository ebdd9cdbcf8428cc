"""Errors of jobs, planning and hire: a code for programs and a sentence for people."""

from __future__ import annotations


class Refused(Exception):
    """This cannot be done. `code` is stable and for tests; the text says what to do instead."""

    def __init__(self, code: str, sentence: str) -> None:
        super().__init__(sentence)
        self.code = code
        self.sentence = sentence


class BadRequest(Refused):
    """A machine's request is malformed. `field` names the place in it, such as ``runs[3].until``."""

    def __init__(self, field: str, sentence: str) -> None:
        super().__init__("bad-request", f"{field}: {sentence}")
        self.field = field

"""Errors with a code for programs and a sentence for people."""

from __future__ import annotations


class Refused(Exception):
    """The record will not take this. `code` is stable and for tests; the text says what to do instead."""

    def __init__(self, code: str, sentence: str) -> None:
        super().__init__(sentence)
        self.code = code
        self.sentence = sentence

#!/usr/bin/env python3
"""Holds a client's file against its written JSON Schema with another implementation, and damaged ones too.

    python3 tests/python/client_file.py [file.json]

Prints what it checked and ends with `N passed, M failed`; exits with 1 if anything failed.
"""

import copy
import json
import pathlib
import sys

from jsonschema import Draft202012Validator

ROOT = pathlib.Path(__file__).resolve().parents[2]
schema = json.loads((ROOT / "core/schema/client-v1.schema.json").read_text())
sample = pathlib.Path(sys.argv[1]) if len(sys.argv) > 1 else ROOT / "tests/samples/client-v1.json"
file = json.loads(sample.read_text())

Draft202012Validator.check_schema(schema)
validator = Draft202012Validator(schema)
passed = failed = 0


def check(what, holds):
    global passed, failed
    passed, failed = passed + holds, failed + (not holds)
    print(("ok    " if holds else "FAILED"), what)


for error in validator.iter_errors(file):
    print(error.json_path, error.message)
check(f"{sample.name} is what the schema says", validator.is_valid(file))


def damaged(what, change):
    other = copy.deepcopy(file)
    change(other)
    check(f"refused: {what}", not validator.is_valid(other))


damaged("no card", lambda f: f.pop("card"))
damaged("another format", lambda f: f.update(format="something else"))
damaged("a newer version", lambda f: f.update(version=2))
damaged("a card without a name", lambda f: f["card"]["fields"].pop("name"))
damaged("a visit in the place of the card", lambda f: f["card"].update(doc="visit/x"))
damaged("a slash in a revision's name", lambda f: f["card"]["entries"][0]["revisions"][0].update(rev="a/b"))
damaged("a time in words", lambda f: f["card"]["entries"][0]["revisions"][0].update(at_ms="noon"))
damaged("half a number", lambda f: f["card"]["entries"][0]["revisions"][0]["says"].update(x=1.5))
damaged("a field that nobody said", lambda f: f["card"]["fields"].update(notes=[]))

print(f"{passed} passed, {failed} failed")
sys.exit(failed > 0)

"""Writes a corrections.json from report.json, in the form that src/album/corrections.h documents.

usage: corrections.py REPORT OUT 'PYTHON'

PYTHON fills `shots` (SHA-256 -> entry) and may set `order`; `page(N)` is the N-th page of the
report, `sha(NAME)` the SHA-256 of the shot with that name, `say(NAME, field=value, ...)` an entry,
`word(NAME, says)` one with a person's word on the page's present outline.
"""
import json
import sys

report = json.load(open(sys.argv[1], encoding="utf-8"))
shots = {}
order = None
by_shot = {p["shot"]: p for p in report["pages"]}
for s in report["skipped"]:
    if "sha256" in s:
        by_shot.setdefault(s["name"], s)


def sha(name):
    return by_shot[name]["sha256"]


def say(name, **fields):
    shots.setdefault(sha(name), {"shot": name, "page": by_shot[name].get("page", "")}).update(fields)


def word(name, says):
    say(name, word={"says": says, "who": "Ada Orren", "when": "2026-03-15",
                    "outline": by_shot[name]["outline_key"]})


exec(sys.argv[3])
out = {"schema": 1, "kind": "squareleaf corrections", "shots": shots}
if order is not None:
    out["order"] = order
json.dump(out, open(sys.argv[2], "w", encoding="utf-8"), ensure_ascii=False)

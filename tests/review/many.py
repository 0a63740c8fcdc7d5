"""Makes of a small album's folder one of 300 pages with names and captions that attack.

usage: many.py OUT_DIR
"""
import copy
import hashlib
import json
import os
import shutil
import sys

out = sys.argv[1]
path = os.path.join(out, "report.json")
report = json.load(open(path, encoding="utf-8"))
attacks = [
    '</script><img src=x onerror="window.attacked=1">', "'\"><svg onload=window.attacked=1>.jpg",
    "line one\nline two", "\u202eepat.gpj", "<!-- <script>", "&lt;b&gt; <b><i><u>", "a" * 300,
    "]]><iframe>",
]
made = [p for p in report["pages"] if "review" in p]
pages = []
for i in range(300):
    p = copy.deepcopy(made[i % len(made)])
    was = p["page"]
    p["page"] = "page-%04d" % (i + 1)
    p["sha256"] = hashlib.sha256(str(i).encode()).hexdigest()
    p["shot"] = attacks[i] if i < len(attacks) else "shot%d.jpg" % i
    p["correction"] = {"sha256": p["sha256"], "caption": attacks[i] if i < len(attacks) else "leaf"}
    for f in p["review"]["files"]:
        new = f["path"].replace(was, p["page"])
        if not os.path.exists(os.path.join(out, new)):
            shutil.copyfile(os.path.join(out, f["path"]), os.path.join(out, new))
        f["path"] = new
    pages.append(p)
report["pages"] = pages
json.dump(report, open(path, "w", encoding="utf-8"))

#!/usr/bin/python3
"""Composes assets/levels.tsv, the usual vertebral levels, from facts with their sources in ../shared/truth/levels_facts.csv and
../shared/data/terms/levels.tsv (read beside the module, not committed). Sources disagree, so each line is one source's range.
Run from the module root: /usr/bin/python3 testdata/gen/levels.py"""
import csv
import re

SHORT = {"Gray, Anatomy": "Gray 1918", "Rawling": "Rawling, Landmarks and Surface Markings", "OpenStax": "OpenStax Anatomy and Physiology", "Mirjalili": "Mirjalili 2012 Clin Anat 25:851-857",
         "Holden": "Holden and Shuter, Landmarks Medical and Surgical"}
TERM = {  # the structure of the list a line speaks of, where there is one
    "hyoid": "UBERON:0001685", "common carotid": "UBERON:0001530", "cricoid": "UBERON:0002375", "conus medullaris": "SECT:0106", "lower end of spinal cord": "SECT:0106",
    "coeliac trunk": "UBERON:0001640", "superior mesenteric artery": "UBERON:0001182", "inferior mesenteric artery": "UBERON:0001183", "renal arter": "UBERON:0001184",
    "hard palate": "SECT:0022", "sternal angle": "", "aortic arch": "UBERON:0001508"}
LEVEL = re.compile(r"\b([CTLS])(\d{1,2})(?:\s*[/-]\s*([CTLS])?(\d{1,2}))?\b")
ORDER = [f"{r}{i}" for r, n in (("C", 7), ("T", 12), ("L", 5), ("S", 5)) for i in range(1, n + 1)]


def span(text):
    """The highest and lowest vertebra a text names."""
    found = []
    for m in LEVEL.finditer(text):
        found.append(m[1] + m[2])
        if m[4]:
            found.append((m[3] or m[1]) + m[4])
    found = [f for f in found if f in ORDER]
    return (min(found, key=ORDER.index), max(found, key=ORDER.index)) if found else None


known = {r["id"] for r in csv.DictReader(open("assets/terms.tsv", encoding="utf-8"), delimiter="\t", quoting=csv.QUOTE_NONE)}
out = []


def add(structure, levels, part, basis, note, source):
    term = next((t for k, t in TERM.items() if k in structure and t in known), "")
    out.append([structure, term, *levels, part, basis, note, source])


for r in csv.DictReader(open("../shared/truth/levels_facts.csv", encoding="utf-8")):
    if span(r["textbook_level"]) and r["textbook_source"] not in ("standard", "public table read", "public page read", "public review table read; Ellis"):
        add(r["structure"], span(r["textbook_level"]), "disc" if "/" in r["textbook_level"] else "body", "textbook", r["textbook_level"], r["textbook_source"])
    if span(r["imaging_level"]) and r["status"] == "read":
        add(r["structure"], span(r["imaging_level"]), "body", "imaging", "; ".join(x for x in (r["imaging_level"], r["imaging_detail"]) if x), r["imaging_source"])
for r in csv.DictReader(open("../shared/data/terms/levels.tsv", encoding="utf-8"), delimiter="\t", quoting=csv.QUOTE_NONE):
    source = next((s for k, s in SHORT.items() if r["source"].startswith(k)), r["source"])
    if source.startswith("Mirjalili"):
        continue  # the same facts as above
    add(r["structure"], (r["level"], r["level_to"] or r["level"]), r["reference_part"].lower(), "textbook", r["note"], f"{source}, {r['locator']}")
out.sort(key=lambda x: (ORDER.index(x[2]), ORDER.index(x[3]), x[0], x[5], x[7]))
with open("assets/levels.tsv", "w", encoding="utf-8", newline="") as f:
    f.write("\t".join("structure term from to part basis note source".split()) + "\n")
    for line in out:
        f.write("\t".join(line) + "\n")
print(len(out))

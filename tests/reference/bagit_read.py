#!/usr/bin/env python3
"""Reads a bag as RFC 8493 (The BagIt File Packaging Format, V1.0) says, and nothing else.

usage: bagit_read.py BAG

Prints 'valid: N files' or every fault, one a line, and exits with 1. Written from the RFC's text;
the numbers in the comments are its sections.
"""
import hashlib
import os
import re
import sys

bag = os.fsencode(sys.argv[1])
faults = []


def fault(text):
    faults.append(text)


def read(name):
    with open(os.path.join(bag, name), "rb") as f:
        return f.read()


# 2.1.1: exactly two lines, in this order; UTF-8 without a byte-order mark
declaration = read(b"bagit.txt")
if not re.fullmatch(rb"BagIt-Version: 1\.0(\r\n|\r|\n)Tag-File-Character-Encoding: UTF-8"
                    rb"(\r\n|\r|\n)", declaration):
    fault("bagit.txt: %r" % declaration)

# 2.1.2: the payload directory
if not os.path.isdir(os.path.join(bag, b"data")):
    fault("no data/")


def listing(name):
    """2.1.3: checksum, white space, path; CR, LF and % percent-encoded, nothing else."""
    found = {}
    text = read(name)
    text.decode("utf-8")
    algorithm = name.split(b"-")[-1][:-4].decode()
    for line in re.split(rb"\r\n|\r|\n", text)[:-1]:
        match = re.fullmatch(rb"([0-9A-Fa-f]+)[ \t]+(.*)", line)
        if not match:
            fault("%r: no line of a manifest: %r" % (name, line))
            continue
        path = match.group(2)
        if re.search(rb"%(?!0A|0D|25|0a|0d)", path):
            fault("%r: a percent sign that stands for itself: %r" % (name, path))
        path = re.sub(rb"%(0A|0D|25|0a|0d)", lambda m: bytes([int(m.group(1), 16)]), path)
        if path.startswith((b"/", b"~")) or b".." in path.split(b"/"):
            fault("%r: 5.1, a path that leaves the bag: %r" % (name, path))
        if path in found:
            fault("%r: listed twice: %r" % (name, path))
        found[path] = match.group(1).lower().decode()
        hash_ = hashlib.new(algorithm)
        try:
            hash_.update(read(path))
        except OSError as e:
            fault("%r: %s" % (name, e))
            continue
        if hash_.hexdigest() != found[path]:
            fault("%r: %r has other bytes" % (name, path))
    return set(found)


here = set()
for folder, _, names in os.walk(bag):
    for name in names:
        here.add(os.path.relpath(os.path.join(folder, name), bag))
payload = {p for p in here if p.startswith(b"data/")}
tops = os.listdir(bag)

# 2.4: a bag has a payload manifest; SHA-256 and SHA-512 are those that all must read
manifests = sorted(t for t in tops if re.fullmatch(rb"manifest-[a-z0-9]+\.txt", t))
tag_manifests = sorted(t for t in tops if re.fullmatch(rb"tagmanifest-[a-z0-9]+\.txt", t))
if manifests != [b"manifest-sha256.txt", b"manifest-sha512.txt"]:
    fault("manifests: %r" % manifests)
if tag_manifests != [b"tagmanifest-sha256.txt", b"tagmanifest-sha512.txt"]:
    fault("tag manifests: %r" % tag_manifests)
for name in manifests:
    # 3: complete, every payload file is in every manifest, and no other
    listed = listing(name)
    for path in sorted(listed ^ payload):
        fault("%r: %r is %s" % (name, path, "not there" if path in listed else "not listed"))
for name in tag_manifests:
    # 2.2.1: payload files and tag manifests are not in a tag manifest; all else here is
    listed = listing(name)
    for path in sorted(listed ^ (here - payload - set(tag_manifests))):
        fault("%r: %r is listed or there, not both" % (name, path))

# 2.2.2: label, colon, white space, value; Payload-Oxum is octets.streams
info = {}
for line in re.split(r"\r\n|\r|\n", read(b"bag-info.txt").decode("utf-8"))[:-1]:
    label, colon, value = line.partition(":")
    if not colon or not re.fullmatch(r"[^\s:][^:]*", label) or not re.match(r"[ \t]", value):
        fault("bag-info.txt: no label: %r" % line)
    info.setdefault(label, []).append(value.strip())
octets = sum(os.path.getsize(os.path.join(bag, p)) for p in payload)
if info.get("Payload-Oxum") != ["%d.%d" % (octets, len(payload))]:
    fault("Payload-Oxum: %r, not %d.%d" % (info.get("Payload-Oxum"), octets, len(payload)))
if not re.fullmatch(r"\d{4}-\d\d-\d\d", (info.get("Bagging-Date") or [""])[0]):
    fault("Bagging-Date: %r" % info.get("Bagging-Date"))

for text in faults:
    print(text)
if faults:
    sys.exit(1)
print("valid: %d files" % len(payload))

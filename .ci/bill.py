#!/usr/bin/env python3
"""What a binary is made of: a bill of materials (CycloneDX 1.5) and the licence texts.

usage: bill.py TARGET BILL.json LICENCES.txt [MANIFEST]

TARGET is a triple of rustc. From `cargo metadata` alone: of every package that is linked into
the program for that target, name, version, licence, checksum of Cargo.lock, and the texts that
its sources carry. Ends with 1 where a package names no licence. The same files give the same
bytes.
"""

import hashlib
import json
import pathlib
import re
import subprocess
import sys

target, bill, texts = sys.argv[1:4]
manifest = sys.argv[4] if len(sys.argv) > 4 else "Cargo.toml"
said = subprocess.run(
    ["cargo", "metadata", "--format-version", "1", "--locked", "--filter-platform", target, "--manifest-path", manifest],
    check=True, capture_output=True, text=True,
).stdout
metadata = json.loads(said)
packages = {package["id"]: package for package in metadata["packages"]}
nodes = {node["id"]: node for node in metadata["resolve"]["nodes"]}
root = metadata["resolve"]["root"]

# What is linked: ordinary dependencies, and theirs.
linked, waiting = set(), [root]
while waiting:
    at = waiting.pop()
    if at in linked:
        continue
    linked.add(at)
    waiting += [dep["pkg"] for dep in nodes[at]["deps"] if any(kind["kind"] is None for kind in dep["dep_kinds"])]

lock = (pathlib.Path(manifest).parent / "Cargo.lock").read_text()
checksums = {}
for entry in lock.split("[[package]]")[1:]:
    found = dict(re.findall(r'^(name|version|checksum) = "(.*)"$', entry, re.M))
    if "checksum" in found:
        checksums[found["name"], found["version"]] = found["checksum"]

of = sorted((packages[at] for at in linked if at != root), key=lambda it: (it["name"], it["version"]))
components, without = [], []
told = ["The program contains the following packages, under the licences that stand with each.\n"]
for package in of:
    name, version = package["name"], package["version"]
    licence = package["license"]
    if not licence and not package["license_file"]:
        without.append(f"{name} {version}")
        continue
    component = {
        "type": "library",
        "name": name,
        "version": version,
        "purl": f"pkg:cargo/{name}@{version}",
        "licenses": [{"expression": licence.replace("/", " OR ")}] if licence else [{"license": {"name": "see the texts"}}],
    }
    if (name, version) in checksums:
        component["hashes"] = [{"alg": "SHA-256", "content": checksums[name, version]}]
    components.append(component)
    told.append(f"{'=' * 80}\n{name} {version}: {licence or 'see below'}\n")
    folder = pathlib.Path(package["manifest_path"]).parent
    files = {path for path in folder.iterdir() if re.match(r"(licen[cs]e|copying|notice|unlicense)", path.name, re.I) and path.is_file()}
    if package["license_file"]:
        files.add(folder / package["license_file"])
    seen = set()
    for path in sorted(files):
        text = path.read_text(errors="replace").strip()
        if hashlib.sha256(text.encode()).digest() not in seen:
            seen.add(hashlib.sha256(text.encode()).digest())
            told.append(f"{text}\n")
    if not files:
        told.append("(its sources carry no text of the licence)\n")

if without:
    sys.exit("no licence is named by " + ", ".join(without))
own = packages[root]
pathlib.Path(bill).write_text(json.dumps({
    "bomFormat": "CycloneDX",
    "specVersion": "1.5",
    "version": 1,
    "metadata": {"component": {
        "type": "application", "name": own["name"], "version": own["version"],
        "licenses": [{"expression": own["license"]}],
    }},
    "components": components,
}, indent=1, sort_keys=True) + "\n")
pathlib.Path(texts).write_text("\n".join(told))
print(f"{bill}: {len(components)} packages for {target}")

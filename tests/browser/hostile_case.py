"""Copies a case and puts hostile texts into every attribute of it that reaches a page."""

import json
import shutil
import sys
from pathlib import Path

import geopandas

given = json.load(sys.stdin)
source, target, payloads = Path(given["from"]), Path(given["to"]), given["payloads"]
shutil.copytree(source, target)

parcels = geopandas.read_file(target / "parcels.gpkg", layer="parcels")
texts = [payloads[i % len(payloads)] for i in range(len(parcels))]
new_id = {old: f"{i} {text}" for i, (old, text) in enumerate(zip(parcels["roll"], texts))}
parcels["roll"] = parcels["roll"].map(new_id)
parcels["owner"] = texts
parcels["lot_con"] = texts[::-1]
(target / "parcels.gpkg").unlink()
parcels.to_file(target / "parcels.gpkg", layer="parcels", driver="GPKG")

# Other layers name parcels by id; what only depends on those names is left out.
case = (target / "case.toml").read_text()
for table in ("[fields]", "[[schedules]]"):
    while table in case:
        start = case.index(table)
        end = case.find("\n[", start + 1)
        case = case[:start] + (case[end + 1 :] if end >= 0 else "")
case = case.replace('members = "parties"\n', "").replace('registered = "on_title"\n', "")
before, after = case.split("\nname = ", 1)
case = f"{before}\nname = {json.dumps(payloads[1])}\n{after.split(chr(10), 1)[1]}"
(target / "case.toml").write_text(case)

for layer in ("creek", "municipal_drains", "ditches", "roads"):
    path = target / f"{layer}.geojson"
    collection = json.loads(path.read_text())
    for i, feature in enumerate(collection["features"]):
        feature["properties"]["name"] = payloads[i % len(payloads)]
        feature["properties"]["authority"] = payloads[(i + 1) % len(payloads)]
    path.write_text(json.dumps(collection))

"""What scripts that use OWSLib ask of the service at a base URL; prints the answers as one JSON document.

usage: owslib_client.py BASE_URL SURFACE BOX LABEL
"""

import json
import sys
import time

from owslib.ogcapi.features import Features
from owslib.ogcapi.processes import Processes

BASE, SURFACE, BOX, LABEL = sys.argv[1:]
# How long a job may take, seconds.
PATIENCE = 60


def read(features: Features) -> dict:
    """All that it reads of collections of features."""
    return {
        "conformance": features.conformance(),
        "definition": features.api()["openapi"],
        "names": features.feature_collections(),
        "collection": features.collection("prints"),
        "queryables": features.collection_queryables("prints"),
        "in_box": features.collection_items("prints", bbox=json.loads(BOX), limit=1000),
        "filtered": features.collection_items("prints", filter=f"surface = '{SURFACE}' AND length_m > 0.3", limit=1000),
        "few": features.collection_items("prints", limit=5),
    }


def edit(features: Features) -> dict:
    """Makes a print, changes it and deletes it."""
    properties = {"surface": SURFACE, "print": LABEL, "length_m": 0.3}
    new = {"type": "Feature", "geometry": None, "properties": properties}
    place = features.collection_item("prints", f"{SURFACE}:{first_label(features)}")["properties"]
    properties |= {"easting_m": place["easting_m"] + 5, "northing_m": place["northing_m"]}
    features.collection_item_create("prints", new)
    item = f"{SURFACE}:{LABEL}"
    made = features.collection_item("prints", item)
    properties["length_m"] = 0.4
    features.headers["If-Match"] = features.response_headers["ETag"]
    features.collection_item_update("prints", item, json.dumps(new))
    changed = features.collection_item("prints", item)
    features.headers["If-Match"] = features.response_headers["ETag"]
    features.collection_item_delete("prints", item)
    del features.headers["If-Match"]
    try:
        gone = features.collection_item("prints", item)
    except RuntimeError as refusal:
        gone = json.loads(str(refusal))
    return {"made": made, "changed": changed, "gone": gone}


def first_label(features: Features) -> str:
    """The label of one print of the surface."""
    found = features.collection_items("prints", filter=f"surface = '{SURFACE}'", limit=1)
    return found["features"][0]["properties"]["print"]


def ask(processes: Processes) -> dict:
    """Asks a query, at once and as a job, and dismisses the job."""
    inputs = {"surface": SURFACE}
    at_once = processes.execute("headings", inputs)
    processes.execute("headings", inputs, async_=True)
    job = processes.response_headers["Location"].removeprefix(BASE).lstrip("/")
    waited = time.monotonic()
    while (status := processes._request(path=job))["status"] not in ("successful", "failed"):
        if time.monotonic() - waited > PATIENCE:
            break
        time.sleep(0.02)
    return {
        "names": [process["id"] for process in processes.processes()],
        "description": processes.process("headings"),
        "at_once": at_once,
        "status": status,
        "results": processes._request(path=f"{job}/results"),
        "dismissed": processes._request(method="DELETE", path=job),
    }


# The library keeps the headers of one client for the next; those of editing come last.
answers = {"read": read(Features(BASE)), "ask": ask(Processes(BASE)), "edit": edit(Features(BASE))}
print(json.dumps(answers))

"""The exported document, read by a second implementation: the npm package @automerge/automerge.

CHALKWALK_PACKET names a folder with archive/, CHALKWALK_SUMMARY the demo's summary.json, and
CHALKWALK_NODE the folder where npm installed the package.
"""

import json
import os
import pathlib
import subprocess

READER = r"""
import { createRequire } from "node:module";
import { readFileSync } from "node:fs";
const require = createRequire(process.argv[1] + "/");
const automerge = require("@automerge/automerge");
const doc = automerge.load(readFileSync(process.argv[2]));
const plain = (value) => {
  if (value === null || typeof value === "boolean" || typeof value === "number") return value;
  if (value instanceof Uint8Array) return { bytes: value.length };
  if (value instanceof Date) return value.getTime();
  if (typeof value === "object" && typeof value.val === "string") return value.val;
  if (typeof value === "string") return value;
  return Object.fromEntries(Object.entries(value).map(([k, v]) => [k, plain(v)]));
};
console.log(JSON.stringify({
  heads: automerge.getHeads(doc).sort(),
  changes: automerge.getAllChanges(doc).length,
  record: plain(doc),
}));
"""


def read_with_javascript():
    document = pathlib.Path(os.environ["CHALKWALK_PACKET"]) / "archive/data/job.automerge"
    node = os.environ["CHALKWALK_NODE"]
    command = ["node", "--input-type=module", "-e", READER, node, str(document)]
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    return json.loads(done.stdout)


def test_heads_and_content_are_equal():
    summary = json.loads(pathlib.Path(os.environ["CHALKWALK_SUMMARY"]).read_text())
    read = read_with_javascript()
    assert read["heads"] == sorted(summary["heads"]["office"])
    # The change that every document starts from, and those of the two people.
    assert read["changes"] == summary["changes"] + 1
    record = read["record"]
    assert record["job"] == summary["job"]
    assert len(record["findings"]) == summary["findings"]
    assert len(record["photos"]) == summary["photos"]
    struck = [f for f in record["findings"].values() if f.get("struck")]
    assert len(struck) == summary["findings_struck"] == 1
    garage = [f for f in record["findings"].values() if f.get("component") == "garage_door"]
    assert {f["place"] for f in garage} == {"elevation/front"}
    property = record["properties"]["house"]
    assert property["street"] == "14 Larkmeadow Lane"
    assert all(photo["capture"]["bytes"] > 300 for photo in record["photos"].values())

#!/usr/bin/env python3
"""What 10,000 crews take: the arithmetic of the plan in DEVELOPERS.md.

    python3 tests/plan.py

MEASURED holds figures of the benches, each with the bench that prints it; ASSUMED what is assumed
of the work. Change either and run it again. Quantities only: prices are the vendors'.
"""

import math

LOAD = {"crews": 10_000, "jobs a month": 50_000, "photos a month": 20_000_000}

ASSUMED = {
    "devices of a crew": 2,
    "working days a month": 22,
    "hours a day in which crews record": 10,
    "busiest hour against the average": 4,  # after a hail storm, common practice, no source
    "devices connected in the busiest hour, share": 0.5,
    "bytes of an original": 3_000_000,
    "bytes of a thumbnail": 30_000,
    "changes of a job beside its photos": 200,
    "changes in a batch, in the field": 5,
    "devices that hear of a change": 3,
    "processor of a node that is kept free, share": 0.5,
    "months that are kept in the database and the bucket": 24,
    # Reckoned from the columns and keys, not measured.
    "bytes of a change in the database, with its keys": 1_100,
    "bytes of a photo that is named": 200,
    "bytes of a file that is whole": 170,
    "bytes of a deed": 190,
    "bytes of a snapshot": 150_000,
    "uplink of a node, megabits a second": 10_000,
}

# From this project's benches on a machine of two processors that others built on meanwhile (load
# 5 to 12): floors.
MEASURED = {
    "uploads, megabytes a second of one node": 192,  # uploads, 4 connections, a folder
    "changes a second through the gate, one node on PostgreSQL": 1287,  # nodes
    "processors of the machine": 2,
}

# By the code: statements that wait for the database's disk.
COMMITS = {
    "a batch of changes": 1,
    "an original over HTTP": 2,  # whole; who handed it in
    "a thumbnail": 1,
}

LIMITS = {"live sessions of a node": 200, "connections of a node": 9, "connections PostgreSQL allows": 100}


def main():
    seconds = ASSUMED["working days a month"] * ASSUMED["hours a day in which crews record"] * 3600
    busy = ASSUMED["busiest hour against the average"]
    photos = LOAD["photos a month"]
    changes = photos + LOAD["jobs a month"] * ASSUMED["changes of a job beside its photos"]
    size = ASSUMED["bytes of an original"] + ASSUMED["bytes of a thumbnail"]

    photos_s = photos / seconds * busy
    changes_s = changes / seconds * busy
    bytes_s = photos_s * size
    batches_s = changes_s / ASSUMED["changes in a batch, in the field"]
    commits_s = (
        batches_s * COMMITS["a batch of changes"]
        + photos_s * (COMMITS["an original over HTTP"] + COMMITS["a thumbnail"])
    )
    devices = LOAD["crews"] * ASSUMED["devices of a crew"]
    live = devices * ASSUMED["devices connected in the busiest hour, share"]
    show("The busiest hour")
    say("photos", photos_s, "a second")
    say("photos", bytes_s / 1e6, "megabytes a second into nodes, and as much on to the bucket")
    say("changes", changes_s, "a second")
    say("commits that wait for the database's disk", commits_s, "a second")
    say("devices connected", live, "at a time")

    free = 1 - ASSUMED["processor of a node that is kept free, share"]
    nodes = {
        "sessions": live / LIMITS["live sessions of a node"],
        "photos": bytes_s / 1e6 / (MEASURED["uploads, megabytes a second of one node"] * free),
        "gate": changes_s
        / (MEASURED["changes a second through the gate, one node on PostgreSQL"] * free),
        "network": 2 * bytes_s * 8 / 1e6 / (ASSUMED["uplink of a node, megabits a second"] * free),
    }
    show(f"Nodes of {MEASURED['processors of the machine']} processors like the one measured")
    for why, count in nodes.items():
        say(f"for {why}", count, f"-> {math.ceil(count)}")
    count = math.ceil(max(nodes.values())) + 1
    say("nodes, one more than the most", count, "")
    connections = count * LIMITS["connections of a node"]
    say("connections of the database", connections, f"of {LIMITS['connections PostgreSQL allows']} unless raised")

    months = ASSUMED["months that are kept in the database and the bucket"]
    rows = {
        "changes": changes * ASSUMED["bytes of a change in the database, with its keys"],
        "photos named": photos * ASSUMED["bytes of a photo that is named"],
        "whole files": 2 * photos * ASSUMED["bytes of a file that is whole"],
        "deeds": photos * ASSUMED["bytes of a deed"],
        "snapshots": LOAD["jobs a month"] * ASSUMED["bytes of a snapshot"],
    }
    show("A month, and what is kept")
    for what, held in rows.items():
        say(f"database: {what}", held / 1e9, "gigabytes a month")
    total = sum(rows.values()) / 1e9
    say("database", total, f"gigabytes a month, {total * months / 1e3:.1f} terabytes in {months} months")
    bucket = photos * size / 1e12
    say("bucket", bucket, f"terabytes a month, {bucket * months / 1e3:.2f} petabytes in {months} months")
    say("bucket", 2 * photos / 1e6, "million objects put a month, each read back once by name (HEAD)")
    say("network", 2 * bucket, "terabytes a month through the nodes, in and out, before anybody reads")


def show(words):
    print(f"\n{words}")


def say(what, value, words):
    print(f"  {what:<46} {value:>12,.1f}  {words}")


if __name__ == "__main__":
    main()

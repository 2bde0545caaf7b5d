"""A second client, written only from the wire's pages, speaks with a real office.

`second_client` shares no code with the project. What it recorded must be in the office as a device
of the project reads it, and the test vectors that the core made must come out of its codec.
"""

import hashlib
import io
import json
import os
import pathlib
import subprocess

import msgpack
import pytest
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey
from PIL import Image
from second_client import chunks, client

ROOT = pathlib.Path(__file__).parents[2]
PHOTO = sorted((ROOT / "fixtures/photos").glob("*.jpg"))[0]


@pytest.fixture
def office(tmp_path):
    data = tmp_path / "office"
    command = [os.environ["CHALKWALK"], "serve", "--data", str(data), "--listen", "127.0.0.1:0", "--company", "Test office"]
    process = subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True)
    address = json.loads(process.stdout.readline())["devices"]

    def picture():
        command = [os.environ["CHALKWALK"], "--json", "invite", "--data", str(data), "--address", address]
        return json.loads(subprocess.run(command, capture_output=True, text=True, check=True).stdout)["qr"]

    yield picture
    process.terminate()
    process.wait(timeout=30)


def chalkwalk(notebook, *arguments):
    command = [os.environ["CHALKWALK"], "--notebook", str(notebook), "--json", *map(str, arguments)]
    done = subprocess.run(command, capture_output=True, text=True, timeout=120, check=False)
    assert done.returncode == 0, done.stdout + done.stderr
    return json.loads(done.stdout)


def thumbnail(data):
    picture = Image.open(io.BytesIO(data))
    picture.thumbnail((320, 320))
    out = io.BytesIO()
    picture.convert("RGB").save(out, "JPEG", quality=70)
    return out.getvalue()


def test_a_visit_by_another_client(office, tmp_path):
    data = PHOTO.read_bytes()
    width, height = Image.open(PHOTO).size
    device = client.Device("Dana Reed", "second client")
    device.enrol(office())
    job = client.Job(device, client.ulid())
    job.begin({"street": "9 Quarry Lane", "town": "Harrow Creek"})
    finding = job.add(client.FINDINGS, "finding", {
        "place": "elevation/front", "component": "gutter", "condition": "damaged", "cause": "hail",
        "cause_reason": "round dents", f"tally:{client.ulid_text(device.device)}": 7,
    })
    job.add(client.PHOTOS, "photo", {
        "capture": device.capture(data, PHOTO.name, width, height), "role": "close_up",
        "place": "elevation/front", f"on:finding/{finding}": True,
    })
    session = client.Session(device, job, {client.hashed(data): thumbnail(data)})
    session.run()
    assert session.kept == [(client.hashed(data), 1)]
    status, held = device.put_photo(job.job, data)
    assert (status, held) == (201, {"held": len(data), "whole": True})
    assert device.put_photo(job.job, data)[0] == 200

    # A device of the project reads it from the office.
    notebook = tmp_path / "notebook"
    chalkwalk(notebook, "init", "--person", "Ben", "--device", "laptop")
    chalkwalk(notebook, "enrol", "--qr", office())
    chalkwalk(notebook, "sync", "--office")
    shown = chalkwalk(notebook, "show", client.ulid_text(job.job))
    assert shown["title"] == "9 Quarry Lane, Harrow Creek"
    found = shown["record"]["records"]["findings"][finding]
    assert found["fields"]["cause_reason"] == "round dents" and list(found["tally"].values()) == [7]
    [photo] = shown["record"]["records"]["photos"].values()
    assert photo["shows"] == [f"finding/{finding}"]
    assert shown["status"]["here"] == {"thumbnails": 1, "originals": 1}
    assert [member["person"] for member in shown["record"]["crew"].values()] == ["Dana Reed"]


@pytest.fixture(scope="module")
def vectors():
    return json.loads((ROOT / "fixtures/wire/vectors.json").read_text())


def test_frames_of_the_vectors(vectors):
    for vector in vectors["frames"]:
        data = bytes.fromhex(vector["frame"])
        number, kind, content = client.open_frame(data)
        assert (number, kind) == (vector["number"], vector["type"]), vector["name"]
        assert client.frame(number, kind, content) == data, vector["name"]


def test_handshake_token_and_digest_of_the_vectors(vectors):
    shaken = vectors["handshake"]
    first, second = (msgpack.unpackb(bytes.fromhex(hello), raw=False) for hello in shaken["hellos"])
    for side in shaken["proves"]:
        said = client.pack([first, second, side["by_initiator"], side["jobs"] and [bytes.fromhex(j) for j in side["jobs"]]])
        key = Ed25519PrivateKey.from_private_bytes(bytes.fromhex(side["secret"]))
        signed = key.sign(b"chalkwalk session v1\0" + client.hashed(said))
        assert signed.hex() == side["signature"]
    token = vectors["token"]
    key = Ed25519PrivateKey.from_private_bytes(bytes.fromhex(token["secret"]))
    signed = key.sign(b"chalkwalk http token v1\0" + bytes.fromhex(token["company"]) + bytes.fromhex(token["challenge"]))
    assert signed.hex() == token["signature"]
    for vector in vectors["digests"]:
        table = [(bytes.fromhex(a), n, bytes.fromhex(h)) for a, n, h in vector["table"]]
        assert client.digest(table).hex() == vector["digest"]
    assert client.pin_of(bytes.fromhex(vectors["pin"]["office_key"])) == vectors["pin"]["pin"]


def test_chunks_of_the_vectors(vectors):
    genesis = bytes.fromhex(vectors["genesis"]["chunk"])
    assert hashlib.sha256(genesis[8:]).hexdigest() == vectors["genesis"]["hash"] == client.GENESIS.hex()
    for vector in vectors["changes"]:
        actor = bytes.fromhex(vector["actor"])
        ops = []
        for obj, key, value in vector["ops"]:
            obj = None if obj is None else (obj[0], actor if obj[1] == "own" else chunks.GENESIS_ACTOR)
            if isinstance(value, dict):
                value = chunks.Op.MAP if "map" in value else bytes.fromhex(value["bytes"])
            ops.append(chunks.Op(obj, key, value))
        chunk, digest = chunks.change(
            actor, vector["seq"], vector["start_op"], [bytes.fromhex(dep) for dep in vector["deps"]],
            vector["time"], vector["message"], ops,
        )
        assert chunk.hex() == vector["chunk"] and digest.hex() == vector["hash"]
        key = Ed25519PrivateKey.from_private_bytes(bytes.fromhex(vector["secret"]))
        assert key.sign(b"chalkwalk change v1\0" + digest).hex() == vector["signature"]

"""A device of its own, written only from the pages WIRE.md, HTTP.md and DOCUMENT.md.

It shares no code with the project: MessagePack, BLAKE3, Ed25519, zstd and WebSocket are other
people's libraries, and change chunks come from `chunks.py`.
"""

import hashlib
import json
import os
import time
import urllib.error
import urllib.parse
import urllib.request

import blake3
import msgpack
import zstandard
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey, Ed25519PublicKey
from cryptography.hazmat.primitives.serialization import Encoding, PublicFormat
from websockets.sync.client import connect

from . import chunks
from .chunks import GENESIS_ACTOR, Op

DIGITS = "0123456789ABCDEFGHJKMNPQRSTVWXYZ"
GENESIS = bytes.fromhex("ea86d1a1ced7a727650cf17362531c8ca33949c6b25343c4a5b4a64cc0adcd18")
GENESIS_OPS = 39
CREW, HOUSE, FINDINGS, PHOTOS = 2, 4, 24, 25
HELLO, PROVE, DIGESTS, TABLE, DECLINED, BATCH, ACK, DONE = range(1, 9)
WANT, LACKS, FILES, KEPT, PING, BYE, DOUBT, HOLDS = 9, 10, 11, 12, 13, 14, 17, 18
WEIGHTY = {TABLE, BATCH, FILES, DOUBT, HOLDS}
PIECE = 256 << 10


def ulid():
    return int(time.time() * 1000).to_bytes(6, "big") + os.urandom(10)


def ulid_text(data):
    number, digits = int.from_bytes(data, "big"), ""
    for _ in range(26):
        number, digit = divmod(number, 32)
        digits = DIGITS[digit] + digits
    return digits


def ulid_bytes(words):
    number = 0
    for digit in words:
        number = number * 32 + DIGITS.index(digit)
    return number.to_bytes(16, "big")


def pack(value):
    return msgpack.packb(value, use_bin_type=True)


def hashed(data):
    return blake3.blake3(data).digest()


def frame(number, kind, content=None):
    body = pack(number) + pack(kind) + (b"" if content is None else pack(content))
    return b"\x01" + hashed(body)[:4] + body


def open_frame(data):
    """Number, type and content of a frame."""
    assert data[0] == 1, "another version"
    body = data[5:]
    assert data[1:5] == hashed(body)[:4], "a damaged frame"
    reader = msgpack.Unpacker(raw=False, strict_map_key=False, max_buffer_size=1 << 21)
    reader.feed(body)
    values = list(reader)
    return values[0], values[1], values[2] if len(values) > 2 else None


def digest(table):
    """Of a table: author, number, first bytes of the hash, in order of author."""
    lines = b"".join(author + number.to_bytes(8, "big") + short for author, number, short in sorted(table))
    return hashed(lines)[:16]


def pin_of(office_key):
    return blake3.blake3(office_key, derive_key_context="chalkwalk office pin v1").hexdigest()[:32]


def read_picture(words):
    assert words.startswith("chalkwalk:enrol?")
    fields = dict(pair.split("=", 1) for pair in words.removeprefix("chalkwalk:enrol?").split("&"))
    return urllib.parse.unquote(fields["at"]), fields["pin"], fields["code"]


def post(url, body):
    request = urllib.request.Request(url, data=json.dumps(body).encode(), method="POST")
    with urllib.request.urlopen(request, timeout=30) as answer:
        return json.load(answer)


class Device:
    def __init__(self, person, name):
        self.key, self.device, self.person, self.name = Ed25519PrivateKey.generate(), ulid(), person, name
        self.public = self.key.public_key().public_bytes(Encoding.Raw, PublicFormat.Raw)

    def sign(self, context, data):
        return self.key.sign(context + b"\0" + data)

    def enrol(self, picture):
        self.address, pin, code = read_picture(picture)
        asked = {
            "code": code, "device": ulid_text(self.device), "key": self.public.hex(),
            "person": self.person, "device_name": self.name, "role": "crew",
        }
        answer = post(f"{self.address}/enrol", asked)
        office = bytes.fromhex(answer["office_key"])
        assert pin_of(office) == pin, "another office"
        self.office = Ed25519PublicKey.from_public_bytes(office)
        self.certificate, self.vouched = bytes.fromhex(answer["certificate"]), bytes.fromhex(answer["signature"])
        said = self.check(self.certificate, self.vouched)
        assert said["device"] == self.device and said["key"] == self.public
        self.company = ulid_bytes(answer["company"])

    def check(self, certificate, signature):
        """The office's word on a device, once its signature holds."""
        self.office.verify(signature, b"chalkwalk certificate v1\0" + hashed(certificate))
        return msgpack.unpackb(certificate, raw=False)

    def token(self):
        asked = post(f"{self.address}/token/challenge", {"device": ulid_text(self.device)})
        signed = self.sign(b"chalkwalk http token v1", self.company + bytes.fromhex(asked["challenge"]))
        return post(f"{self.address}/token", {"challenge": asked["challenge"], "signature": signed.hex()})["token"]

    def put_photo(self, job, data):
        url = f"{self.address}/photos/{hashed(data).hex()}?job={ulid_text(job)}"
        request = urllib.request.Request(url, data=data, method="PUT")
        request.add_header("Authorization", f"Bearer {self.token()}")
        with urllib.request.urlopen(request, timeout=60) as answer:
            return answer.status, json.load(answer)

    def capture(self, data, name, width, height):
        """What is fixed of a photo, signed."""
        body = pack({
            "version": 1, "hash": hashed(data), "sha256": hashlib.sha256(data).digest(), "size": len(data),
            "format": "jpeg", "width": width, "height": height, "orientation": 1, "file_name": name,
            "local_time": None, "utc_offset_min": None, "place": None, "bearing": None,
            "bearing_from": None, "camera": None, "usability": None, "device": self.device,
            "taken_in_at": int(time.time() * 1000),
        })
        return pack([body, self.sign(b"chalkwalk capture v1", hashed(body))])


class Job:
    """What one device writes into a job that it begins."""

    def __init__(self, device, job):
        self.device, self.job = device, job
        self.actor = device.device + os.urandom(8)
        self.changes, self.head, self.last_op = [], GENESIS, GENESIS_OPS
        member = pack([device.person, "crew", device.name, device.public])
        self.write("join", [Op((CREW, GENESIS_ACTOR), ulid_text(device.device), member)])

    def write(self, message, ops):
        start = self.last_op + 1
        chunk, self.head = chunks.change(
            self.actor, len(self.changes) + 1, start, [self.head], int(time.time() * 1000), message, ops
        )
        self.last_op += len(ops)
        self.changes.append((chunk, self.head))
        return start

    def begin(self, property):
        house = [Op((HOUSE, GENESIS_ACTOR), key, value) for key, value in property.items()]
        self.write("begin job", [Op(None, "job", ulid_text(self.job)), *house])

    def add(self, collection, kind, fields):
        record, made = ulid_text(ulid()), (self.last_op + 1, self.actor)
        puts = [Op(made, key, value) for key, value in sorted(fields.items())]
        self.write(f"add {kind}", [Op((collection, GENESIS_ACTOR), record, Op.MAP), *puts])
        return record

    def table(self):
        return [(self.actor, len(self.changes), self.head[:8])]

    def batch(self):
        signature = self.device.sign(b"chalkwalk change v1", self.head)
        chunks_of = [chunk for chunk, _ in self.changes]
        return zstandard.compress(pack([chunks_of, [[len(chunks_of) - 1, signature]], []]))


class Session:
    """One exchange of one job with the office."""

    def __init__(self, device, job, thumbnails):
        self.device, self.job, self.thumbnails = device, job, thumbnails
        self.number_in = self.number_out = self.weighty_sent = self.weighty_seen = 0
        self.acked, self.kept, self.theirs = False, [], None
        self.said_done = self.peer_done = None

    def send(self, kind, content=None):
        self.socket.send(frame(self.number_out, kind, content))
        self.number_out += 1
        if kind in WEIGHTY:
            self.weighty_sent += 1
            self.said_done = None

    def run(self):
        device = self.device
        address = device.address.replace("http", "ws", 1) + "/sync"
        with connect(address, max_size=1 << 20) as self.socket:
            self.mine = [True, False, os.urandom(32), device.certificate, device.vouched]
            self.send(HELLO, self.mine)
            ended = None
            while ended is None:
                number, kind, content = open_frame(self.socket.recv(timeout=30))
                assert number == self.number_in, "a frame out of turn"
                self.number_in += 1
                if kind in WEIGHTY:
                    self.weighty_seen += 1
                    self.peer_done = None
                ended = self.take(kind, content)
                if ended is None:
                    self.settle()
        assert ended[0] == 0, f"the office ended it: {ended}"

    def take(self, kind, content):
        job = self.job
        if kind == HELLO:
            peer = self.device.check(content[3], content[4])
            assert peer["role"] == "office" and peer["company"] == self.device.company
            self.theirs, self.peer_key = content, Ed25519PublicKey.from_public_bytes(peer["key"])
            self.send(PROVE, [[job.job], self.device.sign(b"chalkwalk session v1", hashed(self.said(True, [job.job])))])
        elif kind == PROVE:
            self.peer_key.verify(content[1], b"chalkwalk session v1\0" + hashed(self.said(False, content[0])))
            self.send(DIGESTS, [False, [[job.job, digest(job.table())]]])
        elif kind == DIGESTS:
            self.send(TABLE, [job.job, [list(line) for line in job.table()]])
        elif kind == TABLE:
            assert content[0] == job.job and content[1] == [], "the office should not know the job yet"
            self.send(BATCH, [job.job, False, job.batch()])
            # All changes are sent: only now does the office ask for files.
            self.send(DONE, [False, self.weighty_seen])
        elif kind == ACK:
            assert content[1] == [list(line) for line in job.table()]
            self.acked = True
        elif kind == DONE:
            self.peer_done = content[1] if content[0] else None
        elif kind == WANT:
            self.give(content)
        elif kind == KEPT:
            self.kept += [(piece[1], piece[3]) for piece in content[0]]
        elif kind == DOUBT:
            self.send(HOLDS, [content[0], []])
        elif kind == BYE:
            return content
        return None

    def said(self, by_initiator, jobs):
        return pack([self.mine, self.theirs, by_initiator, jobs])

    def give(self, want):
        """Small pictures are sent here; originals go over HTTP."""
        here = self.thumbnails if want[1] == 0 else {}
        lacking = [hash_ for hash_, _ in want[2] if hash_ not in here]
        if lacking:
            self.send(LACKS, [want[1], lacking])
        for hash_, held in want[2]:
            if hash_ in here:
                data = here[hash_]
                self.send(FILES, [want[0], [[0, hash_, len(data), held, data[held:held + PIECE]]]])

    def settle(self):
        if self.acked and self.said_done != self.weighty_seen and len(self.kept) == len(self.thumbnails):
            self.send(DONE, [True, self.weighty_seen])
            self.said_done = self.weighty_seen

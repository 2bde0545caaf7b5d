"""The office's HTTP part, asked by programs of other people.

A server is started from the `chalkwalk` command (CHALKWALK). Its OpenAPI description is validated,
then driven by schemathesis; a device is enrolled and proves its key with another Ed25519; the
enrolment picture is read by another QR reader; the password hash is checked by another Argon2.
"""

import json
import os
import pathlib
import re
import sqlite3
import subprocess
import sys
import urllib.error
import urllib.parse
import urllib.request

import argon2
import blake3
import numpy
import openapi_spec_validator
import prometheus_client.parser
import pytest
import zxingcpp
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey
from cryptography.hazmat.primitives.serialization import Encoding, PublicFormat

PASSWORD = "four words on a slate"
CROCKFORD = "0123456789ABCDEFGHJKMNPQRSTVWXYZ"


class Stay(urllib.request.HTTPRedirectHandler):
    def redirect_request(self, *_):
        return None


OPENER = urllib.request.build_opener(Stay)


def ask(method, url, body=None, **headers):
    request = urllib.request.Request(url, data=body, method=method)
    for name, value in headers.items():
        request.add_header(name.replace("_", "-"), value)
    try:
        with OPENER.open(request, timeout=60) as answer:
            return answer.status, answer.headers, answer.read()
    except urllib.error.HTTPError as error:
        return error.code, error.headers, error.read()


def ulid_bytes(text):
    """A ULID's 16 bytes: Crockford's base 32, 26 digits (the ULID specification)."""
    number = 0
    for digit in text:
        number = number * 32 + CROCKFORD.index(digit)
    return number.to_bytes(16, "big")


def ulid_text(data):
    number, digits = int.from_bytes(data, "big"), ""
    for _ in range(26):
        number, digit = divmod(number, 32)
        digits = CROCKFORD[digit] + digits
    return digits


class Office:
    def __init__(self, data):
        self.data = data
        command = [os.environ["CHALKWALK"], "serve", "--data", str(data), "--listen", "127.0.0.1:0", "--company", "Test office"]
        self.process = subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True)
        self.ready = json.loads(self.process.stdout.readline())
        self.at = self.ready["devices"]

    def invite(self, *more):
        command = [os.environ["CHALKWALK"], "--json", "invite", "--data", str(self.data), *more]
        return json.loads(subprocess.run(command, capture_output=True, text=True, check=True).stdout)

    def join(self):
        form = urllib.parse.urlencode({"name": "Ada", "password": PASSWORD, "again": PASSWORD}).encode()
        status, headers, body = ask("POST", self.ready["first_admin"][0], form, Origin=self.at)
        assert status == 303, body
        return headers["Set-Cookie"].split(";")[0]

    def device(self):
        """Enrols a device of our own and gets a token. Ed25519 by `cryptography` (RFC 8032)."""
        key = Ed25519PrivateKey.from_private_bytes(bytes(range(32)))
        public = key.public_key().public_bytes(Encoding.Raw, PublicFormat.Raw).hex()
        device = ulid_text(bytes(range(1, 17)))
        request = {"code": self.invite()["code"], "device": device, "key": public, "person": "Ben", "device_name": "phone", "role": "crew"}
        status, _, body = ask("POST", f"{self.at}/enrol", json.dumps(request).encode())
        assert status == 200, body
        company = json.loads(body)["company"]
        _, _, body = ask("POST", f"{self.at}/token/challenge", json.dumps({"device": device}).encode())
        challenge = json.loads(body)["challenge"]
        signed = b"chalkwalk http token v1\0" + ulid_bytes(company) + bytes.fromhex(challenge)
        request = {"challenge": challenge, "signature": key.sign(signed).hex()}
        status, _, body = ask("POST", f"{self.at}/token", json.dumps(request).encode())
        assert status == 200, body
        return json.loads(body)["token"]


@pytest.fixture
def office(tmp_path):
    office = Office(tmp_path / "office")
    yield office
    office.process.terminate()
    assert office.process.wait(timeout=30) == 0, "the server did not stop by itself"


def test_the_description_is_one(office):
    """OpenAPI 3.1 as openapi-spec-validator reads the specification."""
    status, _, body = ask("GET", f"{office.at}/openapi.json")
    assert status == 200
    described = json.loads(body)
    assert described["openapi"].startswith("3.1")
    openapi_spec_validator.validate(described)


# Without these, later requests would only see the answer to somebody who is signed out.
LEFT_OUT = "^/sync$|^/sign-out|/shut-out$|/role$|^/account/password$"


def test_answers_are_those_of_the_description(office, tmp_path):
    """schemathesis: no server error, no status, type or body that the description does not name."""
    cookie, token = office.join(), office.device()
    command = [
        str(pathlib.Path(sys.executable).parent / "st"), "run", f"{office.at}/openapi.json",
        "--header", f"Authorization: Bearer {token}", "--header", f"Cookie: {cookie}",
        "--header", "Sec-Fetch-Site: same-origin",
        "--exclude-path-regex", LEFT_OUT,
        "--checks", "not_a_server_error,status_code_conformance,content_type_conformance,response_schema_conformance",
        "--phases", "examples,coverage,fuzzing", "--max-examples", "6", "--seed", "5", "--no-color",
    ]
    done = subprocess.run(command, capture_output=True, text=True, timeout=900, check=False, cwd=tmp_path)
    assert done.returncode == 0, done.stdout[-6000:] + done.stderr[-2000:]
    made = re.search(r"(\d+) generated", done.stdout)
    assert made and int(made.group(1)) > 300, done.stdout[-3000:]


def test_another_qr_reader_reads_the_picture(office, tmp_path):
    """ISO/IEC 18004, read by ZXing-C++; the text joins a notebook with `enrol --qr`."""
    picture = tmp_path / "code.svg"
    invited = office.invite("--address", office.at, "--qr", str(picture))
    svg = picture.read_text()
    side = int(re.search(r'viewBox="0 0 (\d+) ', svg).group(1))
    modules = numpy.full((side, side), 255, numpy.uint8)
    for x, y in re.findall(r"M(\d+) (\d+)h1v1h-1z", svg):
        modules[int(y), int(x)] = 0
    large = modules.repeat(8, axis=0).repeat(8, axis=1)
    (found,) = zxingcpp.read_barcodes(large, formats=zxingcpp.BarcodeFormat.QRCode)
    text = found.text
    assert text == invited["qr"]
    chalkwalk = [os.environ["CHALKWALK"], "--notebook", str(tmp_path / "notebook"), "--json"]
    subprocess.run([*chalkwalk, "init", "--person", "Cy"], check=True, capture_output=True)
    joined = subprocess.run([*chalkwalk, "enrol", "--qr", text], check=True, capture_output=True, text=True)
    assert json.loads(joined.stdout)["office"] == "Test office"


def test_another_argon2_knows_the_password(office):
    """RFC 9106 through argon2-cffi (the reference implementation in C)."""
    office.join()
    with sqlite3.connect(office.data / "accounts.sqlite") as accounts:
        (kept,) = accounts.execute("SELECT password FROM person").fetchone()
    hasher = argon2.PasswordHasher()
    assert hasher.verify(kept, PASSWORD)
    with pytest.raises(argon2.exceptions.VerifyMismatchError):
        hasher.verify(kept, PASSWORD + "s")


def test_metrics_are_prometheus_text(office):
    """Prometheus' text format as its own client library parses it."""
    ask("GET", f"{office.at}/health")
    status, _, body = ask("GET", f"{office.at}/metrics")
    assert status == 200
    families = {family.name: family for family in prometheus_client.parser.text_string_to_metric_families(body.decode())}
    answers = {(s.labels["route"], s.labels["status"]): s.value for s in families["chalkwalk_answers"].samples}
    assert answers[("/health", "200")] == 1
    assert families["chalkwalk_answer_seconds"].type == "histogram"


def test_a_photo_is_put_by_its_hash(office):
    """BLAKE3 by the `blake3` package; a photo that no job names is refused, whoever asks."""
    token = office.device()
    file = bytes(range(256)) * 40
    path = f"{office.at}/photos/{blake3.blake3(file).hexdigest()}?job={ulid_text(bytes(16))}"
    status, _, body = ask("PUT", path, file, Authorization=f"Bearer {token}")
    assert status == 404, body
    assert ask("PUT", path, file)[0] == 401

"""A disk rebuilt from what tests/faults/disk.c wrote down, as it is after a loss of power.

The rules are those that POSIX gives: what fsync or fdatasync returned for is there; of what came
after, any 512-byte sector of any write may be there or not, a length may be old or new; and a name
made, moved or removed counts once its folder was synced, before that perhaps, names of one folder
in their order (as journalling filesystems keep them).
"""

import os
import pathlib
import random
import shutil
import struct
import subprocess
import tempfile

HEAD = struct.Struct("<cQQIII")
SECTOR = 512
SOURCE = pathlib.Path(__file__).parents[1] / "faults/disk.c"


def shim():
    """The library to preload, made with cc."""
    folder = pathlib.Path(tempfile.mkdtemp(prefix="chalkwalk-disk"))
    library = folder / "disk.so"
    subprocess.run(["cc", "-shared", "-fPIC", "-O1", "-o", library, SOURCE, "-ldl", "-lpthread"], check=True)
    return library


def read_log(path):
    """Every change in its order: (op, inode, offset, path, other path, bytes)."""
    data, at, ops = pathlib.Path(path).read_bytes(), 0, []
    while at < len(data):
        op, inode, offset, a, b, c = HEAD.unpack_from(data, at)
        at += HEAD.size
        name, other = data[at:at + a].decode(), data[at + a:at + a + b].decode()
        ops.append((op.decode(), inode, offset, name, other, data[at + a + b:at + a + b + c]))
        at += a + b + c
    return ops


def mark(path, text):
    """Writes a mark between the changes: what was acknowledged up to here."""
    text = text.encode()
    with open(path, "ab") as log:
        log.write(HEAD.pack(b"!", 0, 0, 0, 0, len(text)) + text)


class File:
    def __init__(self):
        self.durable = bytearray()
        self.now = bytearray()
        self.pending = []

    def put(self, offset, data):
        self.pending.append((offset, bytes(data)))
        write(self.now, offset, data)

    def cut(self, length):
        self.pending.append((length, None))
        resize(self.now, length)

    def sync(self):
        self.durable = bytearray(self.now)
        self.pending = []

    def torn(self, rng):
        """The file with some of what is not synced."""
        data = bytearray(self.durable)
        for offset, piece in self.pending:
            if piece is None:
                if rng.random() < 0.5:
                    resize(data, offset)
                continue
            at = 0
            while at < len(piece):
                end = min(len(piece), at + SECTOR - (offset + at) % SECTOR)
                if rng.random() < 0.5:
                    write(data, offset + at, piece[at:end])
                at = end
        return data


def resize(data, length):
    if length < len(data):
        del data[length:]
    else:
        data.extend(bytes(length - len(data)))


def write(data, offset, piece):
    if offset > len(data):
        data.extend(bytes(offset - len(data)))
    data[offset:offset + len(piece)] = piece


class Disk:
    """Files and names below one folder."""

    def __init__(self, root):
        self.root = str(root)
        self.files = {}
        self.folders = set()
        self.names = {}
        self.durable_names = {}
        self.pending = []
        for folder, _, names in os.walk(self.root):
            for name in names:
                path = os.path.join(folder, name)
                file = File()
                file.now = bytearray(pathlib.Path(path).read_bytes())
                file.sync()
                inode = os.lstat(path).st_ino
                self.files[inode] = file
                self.names[path] = self.durable_names[path] = inode

    def apply(self, op):
        kind, inode, offset, name, other, data = op
        if kind == "w":
            self.file(inode).put(offset, data)
        elif kind == "t":
            self.file(inode).cut(offset)
        elif kind == "s":
            if inode in self.files:
                self.files[inode].sync()
            else:
                self.sync_names(name)
        elif kind == "c":
            self.files[inode] = File()
            self.name(os.path.dirname(name), [(name, inode)])
        elif kind == "d":
            self.folders.add(name)
        elif kind == "r":
            self.name(os.path.dirname(other), [(name, None), (other, inode)])
        elif kind == "l":
            self.name(os.path.dirname(other), [(other, inode)])
        elif kind == "u":
            self.name(os.path.dirname(name), [(name, None)])

    def file(self, inode):
        return self.files.setdefault(inode, File())

    def name(self, folder, changes):
        self.pending.append((folder, changes))
        rename(self.names, changes)

    def sync_names(self, folder):
        for at, changes in [entry for entry in self.pending if entry[0] == folder]:
            rename(self.durable_names, changes)
        self.pending = [entry for entry in self.pending if entry[0] != folder]

    def after_power_loss(self, how, rng):
        """Names and bytes: `dropped` has nothing that is not synced, `kept` all of it, `torn` some."""
        if how == "kept":
            return {name: bytes(self.files[inode].now) for name, inode in self.names.items()}
        names = dict(self.durable_names)
        if how == "torn":
            until = {folder: rng.random() for folder, _ in self.pending}
            for folder in sorted(until):
                theirs = [changes for at, changes in self.pending if at == folder]
                for changes in theirs[:int(until[folder] * (len(theirs) + 1))]:
                    rename(names, changes)
        whole = lambda file: file.torn(rng) if how == "torn" else file.durable
        return {name: bytes(whole(self.files[inode])) for name, inode in sorted(names.items())}

    def build(self, to, how, rng):
        """Writes the disk into a folder, in place of what is there."""
        shutil.rmtree(to, ignore_errors=True)
        # A folder is made before anything in it counts, and an empty one harms nobody.
        for folder in sorted(self.folders | {self.root}):
            os.makedirs(str(to) + folder[len(self.root):], exist_ok=True)
        for name, data in self.after_power_loss(how, rng).items():
            # The index of a write-ahead log is of the running machine alone.
            if name.endswith("-shm"):
                continue
            path = pathlib.Path(str(to) + name[len(self.root):])
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_bytes(data)


def rename(names, changes):
    for name, inode in changes:
        if inode is None:
            names.pop(name, None)
        else:
            names[name] = inode


def points(ops, most, rng):
    """Moments to cut the power, once anything was acknowledged: each mark, and others spread evenly with
    a random start."""
    marks = [i + 1 for i, op in enumerate(ops) if op[0] == "!"]
    first = marks[0] if marks else 0
    step = max(1.0, (len(ops) - first) / max(1, most))
    others = [first + int(i * step + rng.random() * step) for i in range(int((len(ops) - first) / step))]
    return sorted(set(marks) | {at for at in others if at <= len(ops)})

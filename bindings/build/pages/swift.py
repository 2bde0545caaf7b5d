"""Reads the generated Swift."""

import re

from surface import INNER, Thing, plain

TYPE = re.compile(r"(?:public |open )?(?:final )?(struct|enum|class|protocol) (\w+)(.*)")
KINDS = {"struct": "record", "enum": "choice", "class": "class", "protocol": "interface"}


def read(source):
    # An error's head stands on two lines.
    source = re.sub(r"public \nenum", "public enum", source)
    lines = source.splitlines()
    things, functions = {}, Thing("", "functions", "")
    at, words = 0, ""
    while at < len(lines):
        line = lines[at]
        if line.strip().startswith("/**"):
            words, at, line = comment(lines, at)
        if found := re.match(r"public typealias (\w+) = (\w+)", line):
            if not INNER.match(found[1]):
                kind = "text" if found[2] in ("String", "Data") else "alias"
                things[found[1]] = Thing(found[1], kind, words or f"Crosses as `{found[2]}`.")
        elif re.match(r"public func \w+\(", line):
            if not re.match(r"public func (Ffi|uniffi)", line):
                functions.add(call(line), words)
            at = skip(lines, at)
        elif (found := TYPE.match(line)) and re.match(r"(public|open) ", line):
            end = skip(lines, at)
            if not INNER.match(found[2]):
                shown = found[2].removesuffix("Protocol")
                kind = "error" if shown.endswith("Error") or shown == "ListenerFailure" else KINDS[found[1]]
                thing = things.setdefault(shown, Thing(shown, kind, words))
                thing.words = words or thing.words
                if found[1] == "class":
                    thing.kind = "class"
                inside(lines[at + 1 : end], thing, found[1])
            at = end
        elif line.startswith(("fileprivate", "private", "struct", "class", "enum", "extension")) and "{" in line:
            at = skip(lines, at)
        elif not line.strip():
            at += 1
            continue
        words = ""
        at += 1
    return [*things.values(), functions]


def comment(lines, at):
    text = []
    while "*/" not in lines[at]:
        text.append(lines[at])
        at += 1
    before, after = lines[at].split("*/", 1)
    text.append(before)
    if after.strip():
        return plain("\n".join(text)), at, after
    at += 1
    while at < len(lines) and (not lines[at].strip() or lines[at].startswith(("#", "@"))):
        at += 1
    return plain("\n".join(text)), at, lines[at] if at < len(lines) else ""


def skip(lines, at):
    depth, opened = 0, False
    for number in range(at, len(lines)):
        depth += lines[number].count("{") - lines[number].count("}")
        opened = opened or "{" in lines[number]
        if opened and depth <= 0:
            return number
    return len(lines) - 1


def call(line):
    signature = re.sub(r"^(public |open |static |convenience |func )*", "", line.strip()).replace("`", "")
    signature = re.sub(r"\s*\{.*$", "", signature)
    return re.sub(r"\)\s*throws\s*", ") throws ", signature)


def inside(body, thing, what):
    at, words, params = 0, "", None
    while at < len(body):
        line = body[at]
        if line.strip().startswith("/**"):
            words, at, line = comment(body, at)
        text = line.strip()
        if what == "protocol" and text.startswith("func "):
            thing.add(call(text), words)
        elif what == "class" and (found := re.match(r"(public convenience init|public static func|open func)", text)):
            signature = call(text).replace("init(", f"{thing.name}(")
            # The class says the defaults, the protocol does not.
            name = signature.split("(")[0]
            thing.members = [(known, said) for known, said in thing.members if known.split("(")[0] != name]
            thing.add(signature, words)
            at = skip(body, at)
        elif what == "struct" and (found := re.match(r"public (?:let|var) `?(\w+)`?: (.*)", text)):
            thing.add(f"{found[1]}: {found[2]}", words)
        elif what == "struct" and text.startswith("public init("):
            params = True
        elif params and (found := re.match(r"(\w+): ([^=]+?) = (.+?)(?:, ?|\) \{)$", text)):
            for number, (signature, said) in enumerate(thing.members):
                if signature.split(":")[0] == found[1]:
                    thing.members[number] = (f"{signature} = {found[3]}", said)
        elif what == "enum" and (found := re.match(r"case (\w+)(.*)", text)):
            fields, at = fields_of(body, at)
            thing.add(f"{found[1]}({', '.join(fields)})" if fields else found[1], words)
        elif not text:
            at += 1
            continue
        words = ""
        at += 1


def fields_of(body, at):
    fields = []
    if "(" not in body[at]:
        return fields, at
    while body[at].strip() != ")":
        text = body[at].split("*/")[-1].strip()
        if found := re.match(r"(?:case \w+\()?(\w+): ([^,)]+)", text):
            fields.append(f"{found[1]}: {found[2]}")
        if re.match(r"case \w+\(.*\)$", text):
            return fields, at
        at += 1
    return fields, at

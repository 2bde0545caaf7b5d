"""Reads the generated Kotlin."""

import re

from surface import INNER, Thing, plain

TYPE = re.compile(r"(?:public )?(data class|enum class|sealed class|open class|interface|typealias) `?(\w+)`?(.*)")
KINDS = {"data class": "record", "enum class": "words", "sealed class": "choice", "open class": "class", "interface": "interface"}


def read(source):
    lines = source.splitlines()
    things, functions = {}, Thing("", "functions", "")
    at = 0
    words = ""
    while at < len(lines):
        line = lines[at]
        if line.strip().startswith("/**"):
            words, at, line = comment(lines, at)
        if found := re.match(r"\s{0,9}(?:@Throws\(\w+::class\) )?fun `(\w+)`\((.*)", line):
            if not line.startswith(" " * 12):
                functions.add(call(line), words)
                at = skip(lines, at)
                words = ""
                continue
        found = TYPE.match(line) if not line.startswith(" ") else None
        if found and not INNER.match(found[2]):
            at = typed(lines, at, found, words, things)
            words = ""
            continue
        if found and found[1] == "typealias":
            words = ""
        elif found or re.match(r"(internal |private |public )?(abstract |open )?(class|object|interface)", line):
            at = skip(lines, at)
        elif line.strip() and not line.strip().startswith("@"):
            words = ""
        at += 1
    return [thing for thing in things.values()] + [functions]


def comment(lines, at):
    text = []
    while "*/" not in lines[at]:
        text.append(lines[at])
        at += 1
    before, after = lines[at].split("*/", 1)
    text.append(before)
    if after.strip():
        return plain("\n".join(text)), at, after
    return plain("\n".join(text)), at + 1, lines[at + 1]


def skip(lines, at):
    """The last line of what begins here and is put in braces, or this one."""
    depth, opened = 0, False
    for number in range(at, len(lines)):
        depth += lines[number].count("{") - lines[number].count("}")
        opened = opened or "{" in lines[number]
        if opened and depth <= 0:
            return number
        if not opened and number > at and re.match(r"\S", lines[number]) and lines[number][0] not in "){:":
            return number - 1
    return len(lines) - 1


def call(line):
    signature = re.sub(r"^@Throws\(.*?\)\s*", "", line.strip()).removeprefix("override ").removeprefix("fun ").replace("`", "").replace("kotlin.", "").replace("override ", "")
    return re.sub(r"\s*(=.*FfiConverter.*|\{.*|=)$", "", signature.split(" = \n")[0]).strip()


def typed(lines, at, found, words, things):
    what, name, rest = found.groups()
    if what == "typealias":
        of = rest.replace("=", "").replace("kotlin.", "").strip()
        if not INNER.match(of) and not name.startswith("Ffi"):
            things[name] = Thing(name, "text" if of in ("String", "ByteArray") else "alias", words or f"Crosses as `{of}`.")
        return at + 1
    end = skip(lines, at)
    kind = "error" if "Exception" in name or name == "ListenerFailure" else KINDS[what]
    shown = name.removesuffix("Interface")
    thing = things.setdefault(shown, Thing(shown, kind, words))
    if words and "@suppress" not in words:
        thing.words = words
    if what == "open class":
        thing.kind = "class"
    inside(lines[at + 1 : end], thing, what)
    return end + 1


def inside(body, thing, what):
    at, words, made = 0, "", what != "open class"
    while at < len(body):
        line = body[at]
        if line.strip().startswith("/**"):
            words, at, line = comment(body + ["", ""], at)
            if at >= len(body):
                break
        if "@suppress" in words:
            words = ""
        text = line.strip()
        if text.startswith("companion object"):
            made = True
        elif what == "open class" and (found := re.match(r"constructor\((.*)\) ?:$", text)):
            thing.add(f"{thing.name}({found[1].replace('`', '').replace('kotlin.', '')})", words)
        elif made and (found := re.match(r"(?:@Throws.*)?(?:override )?fun `", text)):
            thing.add(call(text), words)
            if what == "open class":
                at = skip(body, at)
        elif what == "data class" and (found := re.match(r"va[rl] `(\w+)`: (.*)", text)):
            thing.add(f"{found[1]}: {found[2].replace('kotlin.', '')}".rstrip(", "), words)
        elif what == "enum class" and (found := re.match(r"([A-Z][A-Z0-9_]*)(\(.*\))?[,;]$", text)):
            thing.add(found[1], words)
        elif what == "sealed class" and (found := re.match(r"(?:data )?(?:class|object) (\w+)", text)):
            if found[1] not in ("ErrorHandler",):
                fields, at = fields_of(body, at)
                thing.add(f"{found[1]}({', '.join(fields)})" if fields else found[1], words)
        elif text and not text.startswith("@") and text not in (",", "{"):
            if what != "open class" or made:
                words = words if text.startswith("/") else ""
            at += 1
            words = ""
            continue
        else:
            at += 1
            continue
        words = ""
        at += 1


def fields_of(body, at):
    fields = []
    if "(" not in body[at] or body[at].strip().startswith("object"):
        return fields, at
    if found := re.match(r"class \w+\((\w+: \w+)\) :", body[at].strip()):
        return [found[1]], at
    while True:
        if found := re.match(r"va[rl] `(\w+)`: ([\w.<>?, ]+)", body[at].strip()):
            of = found[2].replace("kotlin.", "").strip().rstrip(",")
            fields.append(f"{found[1]}: {of}")
        if re.search(r"\) : \w+\(\)", body[at]):
            return fields, at
        at += 1

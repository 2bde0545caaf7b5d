"""What the three readers give: things of the surface with their words, and the page made of them."""

import dataclasses
import re

# uniffi's own, and what an app never names.
INNER = re.compile(r"_?(Uniffi|Ffi|RustBuffer|ForeignBytes|InternalE|Disposable|NoHandle|IntegerOverflow|ByteBuffer)|\w+Impl$")
# Of a build that has what only tests need.
TESTING = "Only for tests of this library"


@dataclasses.dataclass
class Thing:
    """A type, or the functions that stand alone (without a name)."""

    name: str
    kind: str
    words: str
    members: list = dataclasses.field(default_factory=list)

    def add(self, signature, words):
        signature = re.sub(r"\s+", " ", signature).strip().replace(" ,", ",").replace("( ", "(").replace(" )", ")")
        if TESTING not in words and not any(known == signature for known, _ in self.members):
            self.members.append((signature, words))


def plain(comment):
    """The words of a comment or docstring, as one paragraph each."""
    lines = [re.sub(r"^\s*(/\*\*|\*/|\*|///)?\s?", "", line).replace("*/", "").strip() for line in comment.splitlines()]
    text = "\n".join(lines).strip()
    return "\n\n".join(" ".join(part.split()) for part in re.split(r"\n\s*\n", text))


def bare(things):
    """What has no words: a name, or a name and a signature."""
    for thing in things:
        if not thing.words and thing.name and thing.kind != "text":
            yield thing.name
        for signature, words in thing.members:
            if not words:
                yield f"{thing.name}: {signature}"


def page(language, note, things):
    things = [thing for thing in things if thing.members or thing.kind != "functions"]
    order = {"functions": 0, "class": 1, "interface": 2, "error": 3}
    things = sorted(things, key=lambda thing: (order.get(thing.kind, 4), thing.name))
    out = [
        f"# The core in {language}",
        "",
        "Written by `bindings/build/pages` from the generated code; a test fails where it differs.",
        f"Calls block and come from any thread. {note} Times are milliseconds since 1970 UTC.",
        "",
    ]
    for thing in things:
        out += [f"## {thing.name or 'Functions'}", ""]
        if thing.name:
            out += [f"*{thing.kind}*: {thing.words}" if thing.words else f"*{thing.kind}*", ""]
        for signature, words in thing.members:
            out.append(f"- `{signature}`" + (f"  \n  {' '.join(words.split())}" if words else ""))
        if thing.members:
            out.append("")
    return "\n".join(out)

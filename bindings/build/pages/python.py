"""Reads the generated Python."""

import ast
import re

from surface import INNER, Thing, plain


def read(source):
    tree = ast.parse(source)
    shown = next(ast.literal_eval(node.value) for node in tree.body if isinstance(node, ast.Assign) and ast.unparse(node.targets[0]) == "__all__")
    shown = {name for name in shown if not INNER.match(name)}
    things, functions = {}, Thing("", "functions", "")
    for node in tree.body:
        if isinstance(node, ast.FunctionDef) and node.name in shown:
            functions.add(call(node), words_of(node))
        elif isinstance(node, ast.ClassDef) and node.name.removesuffix("Protocol") in shown:
            typed(node, things)
        elif isinstance(node, ast.Assign) and isinstance(node.targets[0], ast.Name) and node.targets[0].id in shown:
            name, of = node.targets[0].id, ast.unparse(node.value)
            things.setdefault(name, Thing(name, "text" if of in ("str", "bytes") else "alias", f"Crosses as `{of}`."))
    return [*things.values(), functions]


def take_words(things, others):
    """Words of fields from another language, where names differ by their case alone."""
    known = {thing.name: {name_of(signature): words for signature, words in thing.members} for thing in others}
    for thing in things:
        if thing.kind == "record":
            thing.members = [(signature, words or known.get(thing.name, {}).get(name_of(signature), "")) for signature, words in thing.members]


def name_of(signature):
    return re.split(r"[:(]", signature)[0].replace("_", "").lower()


def words_of(node):
    return plain(ast.get_docstring(node) or "")


def call(node, made=False):
    """A function's signature with the defaults that its body sets."""
    defaults = defaults_of(node)
    arguments = []
    for argument in [*node.args.args, *node.args.kwonlyargs]:
        if argument.arg in ("self", "cls"):
            continue
        of = hint(argument.annotation)
        default = f" = {defaults[argument.arg]}" if argument.arg in defaults else ""
        arguments.append(f"{argument.arg}{of}{default}")
    returns = f" -> {hint(node.returns)[2:]}" if node.returns is not None and not made else ""
    return f"{node.name}({', '.join(arguments)}){returns}"


def defaults_of(node):
    """Plain values stand in the head, others are set in the body."""
    plainly = [*zip(reversed(node.args.args), reversed(node.args.defaults)), *zip(node.args.kwonlyargs, node.args.kw_defaults)]
    defaults = {argument.arg: ast.unparse(value) for argument, value in plainly if value is not None and ast.unparse(value) != "_DEFAULT"}
    for part in ast.walk(node):
        if isinstance(part, ast.If) and "_DEFAULT" in ast.unparse(part.test) and isinstance(part.body[0], ast.Assign):
            defaults[part.test.left.id] = ast.unparse(part.body[0].value)
    return defaults


def hint(annotation):
    if annotation is None:
        return ""
    text = ast.unparse(annotation).replace("typing.", "")
    text = re.sub(r"Union\[object, (.*)\]$", r"\1", text)
    return f": {text}"


def typed(node, things):
    name = node.name.removesuffix("Protocol")
    bases = {ast.unparse(base) for base in node.bases}
    thing = things.setdefault(name, Thing(name, "choice", words_of(node)))
    thing.words = thing.words or words_of(node)
    if "enum.Enum" in bases:
        thing.kind = "words"
        for part, after in zip(node.body, [*node.body[1:], None]):
            if isinstance(part, ast.Assign):
                said = after.value.value if isinstance(after, ast.Expr) and isinstance(after.value, ast.Constant) else ""
                thing.add(part.targets[0].id, plain(str(said)))
        return
    functions = [part for part in node.body if isinstance(part, ast.FunctionDef)]
    nested = [part for part in node.body if isinstance(part, ast.ClassDef)]
    if "Exception" in bases:
        thing.kind = "error"
    for part in nested:
        made = next((inner for inner in part.body if isinstance(inner, ast.FunctionDef) and inner.name == "__init__"), None)
        bare = f"{part.name}(message)" if "Exception" in bases or thing.kind == "error" else part.name
        thing.add(call(made).replace("__init__", part.name) if made else bare, words_of(part))
    inits = [part for part in functions if part.name == "__init__"]
    public = [part for part in functions if not part.name.startswith(("_", "is_"))]
    if public or node.name.endswith("Protocol"):
        thing.kind = "class" if any("Protocol" in base for base in bases) or node.name.endswith("Protocol") else "interface"
        for part in public:
            name_only = part.name
            thing.members = [(known, said) for known, said in thing.members if known.split("(")[0] != name_only]
            thing.add(call(part), words_of(part))
        for part in inits:
            if words_of(part) and "no default constructor" not in ast.unparse(part):
                thing.add(call(part).replace("__init__", thing.name), words_of(part))
    elif not nested and inits and inits[0].args.kwonlyargs:
        thing.kind = "record"
        defaults = defaults_of(inits[0])
        for argument in inits[0].args.kwonlyargs:
            default = f" = {defaults[argument.arg]}" if argument.arg in defaults else ""
            thing.add(f"{argument.arg}{hint(argument.annotation)}{default}", "")

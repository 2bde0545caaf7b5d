"""The surface of the bindings as it was reviewed: `bindings/*/API.md`, written from the generated code.

A name, signature, default or word that differs is a change of the promise in DEVELOPERS.md: look at
it, then write the pages anew with the command that the failure shows.
"""

import difflib
import os
import pathlib
import re
import subprocess
import sys

import pytest

ROOT = pathlib.Path(__file__).parents[2]
if "CHALKWALK_BINDINGS" not in os.environ:
    pytest.skip("CHALKWALK_BINDINGS names no generated bindings", allow_module_level=True)
GENERATED = pathlib.Path(os.environ["CHALKWALK_BINDINGS"])

sys.path.insert(0, str(ROOT / "bindings/build/pages"))
import kotlin  # noqa: E402
import python  # noqa: E402
import surface  # noqa: E402
import swift  # noqa: E402


@pytest.fixture(scope="module")
def read():
    things = {
        "kotlin": kotlin.read((GENERATED / "kotlin/chalkwalk/chalkwalk.kt").read_text()),
        "swift": swift.read((GENERATED / "swift/Chalkwalk.swift").read_text()),
        "python": python.read((GENERATED / "python/chalkwalk.py").read_text()),
    }
    python.take_words(things["python"], things["kotlin"])
    return things


@pytest.mark.parametrize("language", ["kotlin", "swift", "python"])
def test_the_surface_is_the_reviewed_one(read, language, tmp_path):
    subprocess.run([sys.executable, ROOT / "bindings/build/pages", GENERATED, tmp_path], check=True)
    was = (ROOT / f"bindings/{language}/API.md").read_text().splitlines()
    now = (tmp_path / language / "API.md").read_text().splitlines()
    differs = list(difflib.unified_diff(was, now, "reviewed", "generated", lineterm="", n=1))
    command = "python3 bindings/build/pages GENERATED bindings"
    assert not differs, "\n".join([*differs[:60], f"where this is meant: {command}"])


@pytest.mark.parametrize("language", ["kotlin", "swift", "python"])
def test_everything_public_has_words(read, language):
    assert list(surface.bare(read[language])) == []


def test_the_three_languages_say_the_same(read):
    """What one reader would miss, the others show."""

    def counts(language):
        # Python has no names for texts that cross; exceptions are errors elsewhere.
        things = (thing for thing in read[language] if thing.kind not in ("text", "alias"))
        return {thing.name.replace("Exception", "Error"): len(thing.members) for thing in things}

    assert counts("kotlin") == counts("swift") == counts("python")
    assert len(counts("kotlin")) > 110 and sum(counts("kotlin").values()) > 700


def test_words_of_the_trade_say_what_their_pages_say(read):
    """Each has a function that gives the words that people read, and its page gives the same."""
    sys.path.insert(0, str(GENERATED / "python"))
    import chalkwalk as cw

    said = 0
    for thing in read["python"]:
        function = getattr(cw, re.sub(r"(?<!^)(?=[A-Z])", "_", thing.name).lower() + "_in_words", None)
        if thing.kind != "words" or function is None:
            continue
        found = [function(getattr(getattr(cw, thing.name), member)) for member, _ in thing.members]
        assert all(found) and len(set(found)) == len(found), thing.name
        # Units are read by their abbreviations.
        if thing.name != "QuantityUnit":
            assert [words.lower() for words in found] == [words.removesuffix(".").lower() for _, words in thing.members], thing.name
        said += 1
    assert said == 27


def test_nothing_of_rust_shows(read):
    """Words of Rust that mean nothing in another language."""
    for things in read.values():
        for thing in things:
            for signature, words in [(thing.name, thing.words), *thing.members]:
                for habit in ["Option<", "Vec<", "Result<", "Arc<", "&str", "`None`", "`Some", "::", "u32", "usize", "i64", "#["]:
                    assert habit not in signature and habit not in words, (thing.name, signature, words)


def test_words_name_only_what_this_language_has(read):
    """A type that only the library has, or a name as another language writes it, would mislead."""
    for language, things in read.items():
        types = {thing.name for thing in things}
        for thing in (thing for thing in things if thing.kind not in ("text", "alias")):
            for signature, words in [(thing.name, thing.words), *thing.members]:
                unknown = set(re.findall(r"`([A-Z][a-z]\w*)", words)) - types - {"Retry"}
                assert not unknown, (language, thing.name, signature, unknown)
                # Names of fields cross as text, alike everywhere.
                others = set(re.findall(r"`([a-z]+_[a-z_]+)`", words)) - {"cause_reason"}
                assert language == "python" or not others, (language, thing.name, signature, others)

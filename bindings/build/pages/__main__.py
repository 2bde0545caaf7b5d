"""Writes the API pages of the three languages from the generated code:

    python3 bindings/build/pages GENERATED OUT

GENERATED is a folder that `generate.sh` wrote; OUT gets `kotlin/API.md`, `swift/API.md` and
`python/API.md`. Names, signatures, defaults and words are those of the generated code, so these
pages are also what a change of the surface is reviewed by.
"""

import pathlib
import sys

import kotlin
import python
import swift
from surface import page

HEADS = {
    "kotlin": ("Kotlin", "A call fails with a `ChalkwalkException`. `Crew` gives the same away from the main thread."),
    "swift": ("Swift", "A call that fails throws a `ChalkwalkError`. `Crew` gives the same for async code."),
    "python": ("Python", "A call fails with a `ChalkwalkError`."),
}


def main(generated, out):
    generated, out = pathlib.Path(generated), pathlib.Path(out)
    read = {
        "kotlin": kotlin.read((generated / "kotlin/chalkwalk/chalkwalk.kt").read_text()),
        "swift": swift.read((generated / "swift/Chalkwalk.swift").read_text()),
        "python": python.read((generated / "python/chalkwalk.py").read_text()),
    }
    # uniffi writes no words beside the fields of a Python class: they are Kotlin's.
    python.take_words(read["python"], read["kotlin"])
    for language, things in read.items():
        (out / language).mkdir(parents=True, exist_ok=True)
        (out / language / "API.md").write_text(page(*HEADS[language], things))


if __name__ == "__main__":
    main(*sys.argv[1:3])

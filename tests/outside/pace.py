"""What crossing into another language costs, against the core itself in the same run:

    pace.py PACE GENERATED NODE [ROUNDS]

PACE is the example `pace` of the core, GENERATED a folder of `bindings/build/generate.sh` with
`visit.jar` in it (`kotlin.sh` with `tests/outside/kotlin/*.kt`), NODE where kotlin-compiler lies. All
must be of one profile. Prints ratios; a bench is not a test.
"""

import json
import pathlib
import statistics
import subprocess
import sys
import tempfile
import time

COUNT, WARM, COLD, OPENINGS = 150, 500, 20, 15
ROOT = pathlib.Path(__file__).parents[2]


def peak_kb():
    lines = pathlib.Path("/proc/self/status").read_text().splitlines()
    return int(next(line for line in lines if line.startswith("VmHWM")).split()[1])


def python(generated, verb, folder, *rest):
    """The same work in Python, in a process of its own."""
    sys.path.insert(0, str(pathlib.Path(generated) / "python"))
    import chalkwalk as cw

    def finding():
        return cw.Fields.FINDING(
            cw.Finding(
                place=cw.elevation_of(cw.Side.FRONT), component=cw.Component.GUTTER, from_left=3, unit_name="unit 4",
                height="5' 8\"", condition=cw.Condition.DAMAGED, cause=cw.Cause.HAIL,
                cause_reason="Facing the storm; the lee side of the house is clean.", units=3, units_total=8,
                material=cw.Material.ALUMINIUM, finish=cw.Finish.FACTORY, severity=cw.Severity.COSMETIC,
                audience=cw.Audience.SHARED,
                text="Dents along the face of the run, round and bright at the rim. Seen from the ladder, hit 1.",
            )
        )

    def opened(job):
        start = time.perf_counter()
        notebook = cw.Notebook.open(folder)
        card = notebook.job(job)
        first = time.perf_counter() - start
        start = time.perf_counter()
        records = notebook.records(job, cw.Kind.FINDING)
        assert card.findings == len(records) == 600
        all_of_them = time.perf_counter() - start
        notebook.shut()
        return first * 1000, all_of_them * 1000

    if verb == "open":
        firsts, alls = zip(*(opened(rest[0]) for _ in range(2 * OPENINGS)))
        return {
            "cold_ms": firsts[0], "cold_all_ms": alls[0],
            "ms": statistics.median(firsts[OPENINGS:]), "all_ms": statistics.median(alls[OPENINGS:]),
        }
    notebook = cw.Notebook.create(folder, "Ada", "phone", cw.Role.CREW)
    job = notebook.begin(cw.Property(street="12 Alder Way"))
    if verb == "photo":
        notebook.add_photo(job, rest[0], cw.PhotoNote())
        pathlib.Path("/proc/self/clear_refs").write_text("5")
        before, start = peak_kb(), time.perf_counter()
        notebook.add_photo(job, rest[1], cw.PhotoNote())
        return {"ms": (time.perf_counter() - start) * 1000, "peak_kb": peak_kb() - before}
    times = []
    for number in range(WARM + COUNT):
        fields = finding()
        start = time.perf_counter()
        notebook.add(job, fields)
        times.append((time.perf_counter() - start) * 1000)
    return {"ms": statistics.median(times[WARM:]), "cold_ms": statistics.median(times[:COLD])}


def main(pace, generated, node, rounds="3"):
    lib = pathlib.Path(node) / "node_modules/kotlin-compiler/lib"
    jars = [pathlib.Path(generated) / "visit.jar", lib / "kotlin-stdlib.jar", lib / "kotlinx-coroutines-core-jvm.jar", "/usr/share/java/jna.jar"]
    commands = {
        "Rust": [pace],
        "Python": [sys.executable, __file__, "--child", generated],
        # With as little of the virtual machine's own work beside it as can be.
        "Kotlin": ["java", "-XX:+UseSerialGC", "-XX:TieredStopAtLevel=1", f"-Djna.library.path={generated}/python", "-cp", ":".join(map(str, jars)), "PaceKt"],
    }
    with tempfile.TemporaryDirectory(dir=".") as stage:
        stage = pathlib.Path(stage)

        def run(language, *arguments):
            done = subprocess.run([*commands[language], *map(str, arguments)], capture_output=True, text=True, check=False)
            assert done.returncode == 0, done.stdout + done.stderr
            return json.loads(done.stdout.splitlines()[-1])

        job = run("Rust", "large", stage / "large")["job"]
        warm = sorted((ROOT / "fixtures/photos").glob("*.jpg"))[:2]
        photo = stage / "photo.jpg"
        # What stands behind the end of a picture is part of the file and of no picture.
        photo.write_bytes(warm[1].read_bytes().ljust(5_000_000, b"\xa5"))
        took = {language: [] for language in commands}
        for number in range(int(rounds)):
            for language, results in took.items():
                here = stage / f"{language}{number}"
                here.mkdir()
                recorded = run(language, "record", here / "record", COUNT)
                opened = run(language, "open", stage / "large", job)
                taken = run(language, "photo", here / "photo", warm[0], photo)
                results.append((
                    recorded["cold_ms"], recorded["ms"], opened["cold_ms"], opened["ms"], opened["cold_all_ms"], opened["all_ms"],
                    taken["ms"], taken["peak_kb"] / 1024,
                ))
        best = {language: [min(column) for column in zip(*results)] for language, results in took.items()}
        print(f"{'what':<52} {'Rust':>9} {'Python':>9} {'ratio':>6} {'Kotlin':>9} {'ratio':>6} {'aim':>5}")
        rows = [
            ("a finding recorded durably, ms: first 20", None), (f"  after {WARM}", 1.3),
            ("the large job opened to its first screen: first", None), (f"  after {OPENINGS}", 1.2),
            ("its 600 findings read whole: first", None), (f"  after {OPENINGS}", None),
            ("a 5 MB photo taken in, ms", None), ("its peak of memory, MB", None),
        ]
        for at, (what, aim) in enumerate(rows):
            rust, others = best["Rust"][at], [best["Python"][at], best["Kotlin"][at]]
            said = "".join(f" {value:>9.2f} {value / rust if rust else 0:>6.2f}" for value in others)
            over = "  over" if aim and max(others) > aim * rust else ""
            print(f"{what:<52} {rust:>9.2f}{said} {aim or '':>5}{over}")
        more = max(best["Python"][-1], best["Kotlin"][-1]) - best["Rust"][-1]
        print(f"memory beyond Rust's: {more:.1f} MB; aim: at most one copy, 5 MB{'' if more <= 5 else '  over'}")


if __name__ == "__main__":
    if sys.argv[1] == "--child":
        print(json.dumps(python(*sys.argv[2:])))
    else:
        main(*sys.argv[1:])

// The work of `pace.py` in Kotlin; prints one JSON value.

import chalkwalk.*
import java.io.File

fun peakKb() = File("/proc/self/status").readLines().first { it.startsWith("VmHWM") }.split(Regex("\\s+"))[1].toLong()

inline fun milliseconds(work: () -> Unit): Double {
    val start = System.nanoTime()
    work()
    return (System.nanoTime() - start) / 1e6
}

fun finding() = Fields.Finding(
    Finding(
        place = elevationOf(Side.FRONT), component = Component.GUTTER, fromLeft = 3u, unitName = "unit 4",
        height = "5' 8\"", condition = Condition.DAMAGED, cause = Cause.HAIL,
        causeReason = "Facing the storm; the lee side of the house is clean.", units = 3u, unitsTotal = 8u,
        material = Material.ALUMINIUM, finish = Finish.FACTORY, severity = Severity.COSMETIC,
        audience = Audience.SHARED,
        text = "Dents along the face of the run, round and bright at the rim. Seen from the ladder, hit 1.",
    ),
)

object Pace {
    fun run(verb: String, folder: String, rest: List<String>): String {
        if (verb == "open") {
            // The machine of the language is warm in an app: load its classes first.
            kindInWords(Kind.FINDING)
            lateinit var notebook: Notebook
            var shown = 0u
            val first = milliseconds {
                notebook = Notebook.open(folder)
                shown = notebook.job(rest[0]).findings
            }
            var read = 0
            val all = milliseconds { read = notebook.records(rest[0], Kind.FINDING).size }
            check(shown == 600u && read == 600)
            return "{\"ms\": $first, \"all_ms\": $all}"
        }
        val notebook = Notebook.create(folder, "Ada", "phone", Role.CREW)
        val job = notebook.begin(Property(street = "12 Alder Way"))
        if (verb == "photo") {
            notebook.addPhoto(job, rest[0], PhotoNote())
            File("/proc/self/clear_refs").writeText("5")
            val before = peakKb()
            val took = milliseconds { notebook.addPhoto(job, rest[1], PhotoNote()) }
            return "{\"ms\": $took, \"peak_kb\": ${peakKb() - before}}"
        }
        val times = List(30 + rest[0].toInt()) {
            val fields = finding()
            milliseconds { notebook.add(job, fields) }
        }
        return "{\"ms\": ${times.drop(30).sorted()[(times.size - 30) / 2]}}"
    }
}

fun main(args: Array<String>) = println(Pace.run(args[0], args[1], args.drop(2)))

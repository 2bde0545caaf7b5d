// The work of `pace.py` in Kotlin; prints one JSON value.

import chalkwalk.*
import java.io.File

const val WARM = 500
const val COLD = 20
const val OPENINGS = 15

fun peakKb() = File("/proc/self/status").readLines().first { it.startsWith("VmHWM") }.split(Regex("\\s+"))[1].toLong()

fun median(times: List<Double>) = times.sorted()[times.size / 2]

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
        // The library itself is loaded, as in an app that shows anything.
        kindInWords(Kind.FINDING)
        if (verb == "open") {
            val (firsts, alls) = List(2 * OPENINGS) { opened(folder, rest[0]) }.unzip()
            return "{\"cold_ms\": ${firsts[0]}, \"cold_all_ms\": ${alls[0]}, " +
                "\"ms\": ${median(firsts.drop(OPENINGS))}, \"all_ms\": ${median(alls.drop(OPENINGS))}}"
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
        val times = List(WARM + rest[0].toInt()) {
            val fields = finding()
            milliseconds { notebook.add(job, fields) }
        }
        return "{\"ms\": ${median(times.drop(WARM))}, \"cold_ms\": ${median(times.take(COLD))}}"
    }

    private fun opened(folder: String, job: JobId): Pair<Double, Double> {
        lateinit var notebook: Notebook
        var shown = 0u
        val first = milliseconds {
            notebook = Notebook.open(folder)
            shown = notebook.job(job).findings
        }
        var read = 0
        val all = milliseconds { read = notebook.records(job, Kind.FINDING).size }
        check(shown == 600u && read == 600)
        notebook.shut()
        return first to all
    }
}

fun main(args: Array<String>) = println(Pace.run(args[0], args[1], args.drop(2)))

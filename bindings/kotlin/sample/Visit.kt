// A visit from end to end: a small, complete shell in Kotlin.
//
//     Visit FOLDER PICTURE_TEXT PHOTO OUT
//
// FOLDER is new and becomes the notebook, PICTURE_TEXT is what the office's enrolment picture says,
// PHOTO is a picture of a dented gutter, OUT is a folder for the packet.

import chalkwalk.*
import kotlin.system.exitProcess
import kotlinx.coroutines.runBlocking

/** What the crew does at the house. */
fun Notebook.recordVisit(job: JobId, photo: String) {
    val front = elevationOf(Side.FRONT)
    add(job, Fields.Visit(Visit(day = "2026-05-02", crew = "C. Baker", cautionsRead = true)))
    val dents = add(
        job,
        Fields.Finding(
            Finding(
                place = front,
                component = Component.GUTTER,
                condition = Condition.DAMAGED,
                cause = Cause.HAIL,
                causeReason = "round dents, bright rims",
                extentLength = "12' 6\"",
            ),
        ),
        hits = 7u,
    )
    val note = PhotoNote(role = PhotoRole.CLOSE_UP, place = front, shows = listOf(dents.record))
    for (warning in addPhoto(job, photo, note).warnings) println("the photo: $warning")
}

fun main(args: Array<String>) = runBlocking {
    val (folder, pictureText, photo, out) = args
    try {
        val crew = Crew(Notebook.create(folder, "C. Baker", "crew phone", Role.CREW))
        println("enrolled with ${crew.use { enrol(pictureText) }}")

        for (caution in climbingCautions().cautions) println("caution: ${caution.text}")
        val house = Property(street = "12 Alder Way", town = "Harrow Creek", dateOfLoss = "2026-05-01")
        val job = crew.use { begin(house) }
        crew.use { recordVisit(job, photo) }

        crew.use { check(job) }.filter { it.urgency == Urgency.MUST }.forEach { println("open: ${it.sentence}") }
        crew.syncWithOffice().collect { event ->
            when (event) {
                is SyncEvent.Connected -> println("speaking with ${event.deviceName}")
                is SyncEvent.Took -> println("${event.newChanges} changes came")
                else -> {}
            }
        }
        println(if (crew.use { status(job) }.safeAtOffice) "safe at the office" else "not yet safe")
        println("packet: ${crew.use { writePacket(job, PacketKind.SHARED, out) }.page}")
        crew.use { shut() }
    } catch (error: ChalkwalkException) {
        System.err.println(error.message)
        exitProcess(1)
    }
}

// What apps do to the bindings that a person would not, in Kotlin: listeners that call back,
// coroutines that are cancelled, many at once, two openings, a clock set back, packets.
//
//     Holds FOLDER PICTURE_TEXT PHOTO...

import chalkwalk.*
import java.io.File
import java.util.concurrent.atomic.AtomicInteger
import java.util.concurrent.atomic.AtomicLong
import kotlinx.coroutines.*

fun note(words: String) = Fields.Note(Note(text = words))

const val RECORDS = 3

/** Notes of a job. */
fun Notebook.notes(job: JobId) = records(job, Kind.NOTE).size

fun holds(what: String, good: Boolean) {
    check(good) { what }
    println("holds: $what")
}

/** The kind and words of what is thrown. */
inline fun <reified E : ChalkwalkException> refusal(work: () -> Unit): String {
    try {
        work()
    } catch (error: ChalkwalkException) {
        check(error is E) { "another kind: $error" }
        return error.message ?: ""
    }
    error("it was not refused")
}

/** Records and reads during an exchange, on the thread that hears. */
class CallsBack(private val notebook: Notebook, private val job: JobId, private val failAt: Int = 0) : SyncListener {
    val heard = AtomicInteger()

    override fun onEvent(event: SyncEvent) {
        val number = heard.incrementAndGet()
        // What is recorded goes along: whoever records at every event exchanges for ever.
        if (number <= RECORDS) notebook.add(job, note("heard $number"))
        notebook.findings(job, true)
        notebook.status(job)
        if (number == failAt) throw ListenerFailure.Failed("the app had enough")
    }
}

fun listeners(notebook: Notebook, job: JobId, photos: List<String>, out: String) {
    val hears = CallsBack(notebook, job)
    notebook.syncWithOffice(Exchange(), SyncOptions(jobs = listOf(), originals = false, live = false), hears)
    holds("a listener records during an exchange", hears.heard.get() > RECORDS && notebook.notes(job) == RECORDS)
    holds("and it goes along", notebook.status(job).safeAtOffice)
    val stops = CallsBack(notebook, job, failAt = 1)
    val outcome = notebook.syncWithOffice(Exchange(), SyncOptions(), stops)
    holds("a listener that fails stops its exchange", outcome.stopped && stops.heard.get() >= 1)

    val steps = AtomicInteger()
    val progress = object : ProgressListener {
        override fun onProgress(done: UInt, of: UInt) {
            steps.incrementAndGet()
            notebook.add(job, note("$done of $of"))
        }
    }
    notebook.addPhotos(job, photos.map { NewPhoto(it, PhotoNote()) }, progress)
    notebook.writePacket(job, PacketKind.ARCHIVE, out, listener = progress)
    holds("a listener records during photos and a packet", steps.get() > photos.size)
}

fun coroutines(notebook: Notebook, job: JobId, photos: List<String>) = runBlocking {
    val crew = Crew(notebook)
    val before = notebook.notes(job)
    val connected = CompletableDeferred<Unit>()
    val live = launch {
        crew.syncWithOffice(SyncOptions(live = true)).collect { event ->
            if (event is SyncEvent.Connected) connected.complete(Unit)
            // In the middle of an exchange, from the one who collects.
            crew.use { jobs() }
        }
    }
    withTimeout(30_000) { connected.await() }
    withTimeout(120_000) {
        (0 until 8).map { at -> launch { repeat(10) { crew.use { add(job, note("$at, $it")) } } } }.joinAll()
    }
    holds("eight coroutines record during a live exchange", notebook.notes(job) == before + 80)
    withTimeout(60_000) { while (!crew.use { status(job) }.safeAtOffice) delay(50) }
    withTimeout(20_000) { live.cancelAndJoin() }
    holds("who stops collecting stops the exchange", live.isCancelled)

    val job2 = crew.use { begin(Property(street = "14 Alder Way")) }
    val many = photos.flatMap { photo -> List(20) { NewPhoto(photo, PhotoNote()) } }
    val heard = AtomicInteger()
    val adding = launch { crew.addPhotos(job2, many) { _, _ -> heard.incrementAndGet() } }
    while (heard.get() == 0) delay(5)
    withTimeout(20_000) { adding.cancelAndJoin() }
    holds("photos stop when their coroutine does", heard.get() < many.size && crew.use { job(job2) }.photos > 0u)
}

fun packets(notebook: Notebook, job: JobId, out: String) = runBlocking {
    val crew = Crew(notebook)
    for (kind in PacketKind.entries) {
        val packet = crew.writePacket(job, kind, out, PacketChoices(withoutPlaces = true))
        val found = checkPacket(packet.folder)
        check(found.failures.isEmpty() && found.sealed) { "${packet.folder}: ${found.failures}" }
    }
    holds("a packet for each reader", File(out).list()?.size == PacketKind.entries.size)
    val begun = CompletableDeferred<Unit>()
    val writing = launch {
        crew.writePacket(job, PacketKind.ARCHIVE, "$out/stopped") { _, _ ->
            begun.complete(Unit)
            Thread.sleep(200)
        }
    }
    withTimeout(20_000) { begun.await() }
    withTimeout(20_000) { writing.cancelAndJoin() }
    holds("a packet stops with its coroutine and leaves nothing", File("$out/stopped").list()?.isEmpty() == true)
}

fun words(notebook: Notebook, job: JobId) {
    val marks = listOf(Mark.Ring(500u, 400u, 60u), Mark.Text(20u, 980u, "seven here"))
    val photo = notebook.photos(job).first().record
    notebook.amend(job, photo.substringAfter('/'), Fields.Photo(Photo(marks = photoMarks(marks))))
    val kept = notebook.record(job, photo)!!.fields as Fields.Photo
    holds("marks are drawn and read", readPhotoMarks(kept.fields.marks!!) == marks)
    check(componentFacts(Component.GUTTER).unit == QuantityUnit.LINEAR_FOOT)
    holds("words of the trade have words", Component.entries.map { componentInWords(it) }.toSet().size == Component.entries.size)
}

class Turned(at: Long) : Clock {
    val at = AtomicLong(at)

    override fun now() = at.get()
}

fun clockSetBack(folder: String) {
    val clock = Turned(1_777_777_777_000)
    val notebook = Notebook.create(folder, "Cy", "phone", Role.CREW, clock)
    val job = notebook.begin(Property(street = "16 Alder Way"))
    val first = notebook.add(job, note("first")).record
    clock.at.set(1_000)
    val second = notebook.add(job, note("second")).record
    val order = notebook.history(job).map { it.record }
    holds("a clock set back orders nothing anew", order.indexOf(first) < order.indexOf(second))
    val words = refusal<ChalkwalkException.NotOpen> { Notebook.open(folder) }
    holds("a notebook is open once, and says so", words.isNotBlank() && !words.startsWith("words="))
    notebook.shut()
    refusal<ChalkwalkException.NotOpen> { notebook.jobs() }
    val missing = refusal<ChalkwalkException.NotFound> { Notebook.open("$folder-nowhere") }
    holds("refusals have their kind and words", missing.isNotBlank())
}

fun main(args: Array<String>) {
    val (folder, pictureText) = args
    val photos = args.drop(2)
    val notebook = Notebook.create("$folder/one", "Ada", "Ada's phone", Role.CREW)
    notebook.enrol(pictureText)
    val job = notebook.begin(Property(street = "12 Alder Way"))
    listeners(notebook, job, photos, "$folder/out")
    coroutines(notebook, job, photos)
    packets(notebook, job, "$folder/packets")
    words(notebook, job)
    notebook.shut()
    clockSetBack("$folder/two")
}

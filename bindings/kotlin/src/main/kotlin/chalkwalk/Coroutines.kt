package chalkwalk

import kotlinx.coroutines.CoroutineDispatcher
import kotlinx.coroutines.Dispatchers
import kotlinx.coroutines.Job
import kotlinx.coroutines.channels.awaitClose
import kotlinx.coroutines.channels.trySendBlocking
import kotlinx.coroutines.coroutineScope
import kotlinx.coroutines.ensureActive
import kotlinx.coroutines.flow.Flow
import kotlinx.coroutines.flow.callbackFlow
import kotlinx.coroutines.launch
import kotlinx.coroutines.withContext

/**
 * A notebook for coroutines. [use] runs calls away from the main thread; a call that began runs to
 * its end, as what it confirms is on the disk. Exchanges are flows: whoever stops collecting stops
 * the exchange.
 */
class Crew(
    /** The notebook itself, for calls on a thread of the app's own. */
    val notebook: Notebook,
    private val dispatcher: CoroutineDispatcher = Dispatchers.IO,
) {
    /** Works with the notebook away from the main thread. */
    suspend fun <T> use(work: Notebook.() -> T): T = withContext(dispatcher) { notebook.work() }

    /** Exchanges with the office. The flow ends with the exchange and fails as it does. */
    fun syncWithOffice(options: SyncOptions = SyncOptions()): Flow<SyncEvent> =
        exchange { exchange, listener -> syncWithOffice(exchange, options, listener) }

    /** Exchanges with a device that waits at HOST:PORT on the local network. */
    fun syncWithDevice(address: String, options: SyncOptions = SyncOptions()): Flow<SyncEvent> =
        exchange { exchange, listener -> syncWithDevice(exchange, address, options, listener) }

    /** Waits for the next device and exchanges with it. */
    fun syncWithNext(meeting: Meeting, options: SyncOptions = SyncOptions()): Flow<SyncEvent> =
        exchange { exchange, listener -> syncWithNext(exchange, meeting, options, listener) }

    /** Takes in several photos. Whoever cancels stops it: those done so far stay. */
    suspend fun addPhotos(
        job: JobId,
        photos: List<NewPhoto>,
        onProgress: (done: UInt, of: UInt) -> Unit = { _, _ -> },
    ): List<PhotoOutcome> = long(onProgress) { addPhotos(job, photos, it) }

    /** Writes one packet. Whoever cancels stops it: nothing is left of it. */
    suspend fun writePacket(
        job: JobId,
        kind: PacketKind,
        folder: String,
        choices: PacketChoices = PacketChoices(),
        onProgress: (done: UInt, of: UInt) -> Unit = { _, _ -> },
    ): Packet = long(onProgress) { writePacket(job, kind, folder, choices, it) }

    private suspend fun <T> long(
        onProgress: (done: UInt, of: UInt) -> Unit,
        work: Notebook.(ProgressListener) -> T,
    ): T = coroutineScope {
        val scope = coroutineContext[Job]
        val listener = object : ProgressListener {
            override fun onProgress(done: UInt, of: UInt) {
                if (scope?.isActive == false) throw ListenerFailure.Failed("cancelled")
                onProgress(done, of)
            }
        }
        try {
            withContext(dispatcher) { notebook.work(listener) }
        } catch (stopped: ChalkwalkException.Stopped) {
            // A coroutine that was cancelled ends as cancelled.
            ensureActive()
            throw stopped
        }
    }

    private fun exchange(run: Notebook.(Exchange, SyncListener) -> SyncOutcome): Flow<SyncEvent> = callbackFlow {
        val exchange = Exchange()
        val listener = object : SyncListener {
            override fun onEvent(event: SyncEvent) {
                trySendBlocking(event)
            }
        }
        launch(dispatcher) {
            try {
                notebook.run(exchange, listener)
                close()
            } catch (error: ChalkwalkException) {
                close(error)
            }
        }
        awaitClose { exchange.stop() }
    }
}

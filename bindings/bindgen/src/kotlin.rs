//! Kotlin: JNA reads and writes each field of a structure by reflection, and asks the system for
//! memory for each new one.

use crate::edit::replace;

const FIELDS: &str = "    @JvmField var data: Pointer? = null

    class ByValue: RustBuffer(), Structure.ByValue
";

const FIELDS_IN_MEMORY: &str = "    @JvmField var data: Pointer? = null

    // The three fields as they lie in memory: JNA finds each by reflection.
    override fun write() {
        val memory = pointer
        memory.setLong(0, capacity)
        memory.setLong(8, len)
        memory.setPointer(16, data)
    }

    override fun read() {
        val memory = pointer
        capacity = memory.getLong(0)
        len = memory.getLong(8)
        data = memory.getPointer(16)
    }

    class ByValue: RustBuffer(), Structure.ByValue
";

const CALL: &str = "    var status = UniffiRustCallStatus()
    val return_value = callback(status)
    uniffiCheckCallStatus(errorHandler, status)
    return return_value
";

const CALL_WITH_IDLE_STATUS: &str = "    val status = UniffiStatuses.take()
    val return_value = callback(status)
    if (status.pointer.getByte(0) == UNIFFI_CALL_SUCCESS) {
        UniffiStatuses.give(status)
        return return_value
    }
    status.read()
    uniffiCheckCallStatus(errorHandler, status)
    return return_value
";

const BEFORE_CALL: &str =
    "// Call a rust function that returns a Result<>.  Pass in the Error class companion";

const STATUSES: &str =
    "// Statuses of calls that went well, for the next calls of the same thread. \
What Rust leaves in one is
// read where a call failed, and that status is not used again.
private object UniffiStatuses {
    private val idle = ThreadLocal.withInitial { ArrayList<UniffiRustCallStatus>() }

    fun take(): UniffiRustCallStatus {
        val mine = idle.get()
        if (mine.isNotEmpty()) {
            return mine.removeAt(mine.size - 1)
        }
        val status = UniffiRustCallStatus()
        status.write()
        status.setAutoSynch(false)
        return status
    }

    fun give(status: UniffiRustCallStatus) {
        idle.get().add(status)
    }
}

";

const LENGTH: &str = "rbuf.writeField(\"len\", bbuf.position().toLong())";

/// The same, quicker.
pub(crate) fn tuned(text: &str) -> Result<String, String> {
    let text = replace(text, FIELDS, FIELDS_IN_MEMORY)?;
    let text = replace(&text, CALL, CALL_WITH_IDLE_STATUS)?;
    let text = replace(&text, BEFORE_CALL, &format!("{STATUSES}{BEFORE_CALL}"))?;
    // It is written with the other fields when it is passed.
    replace(&text, LENGTH, "rbuf.len = bbuf.position().toLong()")
}

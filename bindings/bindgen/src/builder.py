class _UniffiRustBufferBuilder:
    """
    Lays bytes out here, and hands them to Rust in one piece.
    """

    def __init__(self):
        self._out = bytearray()
        self.write = self._out.extend
        self.write_u8 = self._out.append

    def finalize(self):
        out = bytes(self._out)
        rbuf = _UniffiRustBuffer.alloc(len(out))
        if out:
            ctypes.memmove(rbuf.data, out, len(out))
        rbuf.len = len(out)
        return rbuf

    def discard(self):
        self._out.clear()

    def write_i8(self, v):
        self._out += _UNIFFI_I8(v)

    def write_i16(self, v):
        self._out += _UNIFFI_I16(v)

    def write_u16(self, v):
        self._out += _UNIFFI_U16(v)

    def write_i32(self, v):
        self._out += _UNIFFI_I32(v)

    def write_u32(self, v):
        self._out += _UNIFFI_U32(v)

    def write_i64(self, v):
        self._out += _UNIFFI_I64(v)

    def write_u64(self, v):
        self._out += _UNIFFI_U64(v)

    def write_float(self, v):
        self._out += _UNIFFI_FLOAT(v)

    def write_double(self, v):
        self._out += _UNIFFI_DOUBLE(v)

    def write_c_size_t(self, v):
        self._out += _UNIFFI_SIZE(v)


_UNIFFI_I8, _UNIFFI_I16, _UNIFFI_U16 = (struct.Struct(format).pack for format in (">b", ">h", ">H"))
_UNIFFI_I32, _UNIFFI_U32 = (struct.Struct(format).pack for format in (">i", ">I"))
_UNIFFI_I64, _UNIFFI_U64 = (struct.Struct(format).pack for format in (">q", ">Q"))
_UNIFFI_FLOAT, _UNIFFI_DOUBLE, _UNIFFI_SIZE = (struct.Struct(format).pack for format in (">f", ">d", "@N"))


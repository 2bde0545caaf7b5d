//! Python: each number and text was moved into Rust's memory by itself, and a word of a
//! vocabulary compared with all of them.

use std::collections::BTreeMap;

use crate::edit::{replace, replace_part};

const BUILDER: &str = include_str!("builder.py");

const STREAM: &str = "        return cls(buf.data, buf.len)
";
const STREAM_OF_COPY: &str =
    "        return cls(ctypes.string_at(buf.data, buf.len) if buf.len else b\"\", buf.len)
";

const UNPACK: &str =
    "        value = struct.unpack(format, self.data[self.offset:self.offset+size])[0]
";
const UNPACK_FROM: &str = "        value = struct.unpack_from(format, self.data, self.offset)[0]
";

const STATUS: &str =
    "        return _UniffiRustCallStatus(code=_UniffiRustCallStatus.CALL_SUCCESS, \
                      error_buf=_UniffiRustBuffer.default())
";
/// All zeros: success, and no words.
const EMPTY_STATUS: &str = "        return _UniffiRustCallStatus()
";

const CALL: &str = "    call_status = _UniffiRustCallStatus.default()

    args_with_error = args + (ctypes.byref(call_status),)
    result = fn(*args_with_error)
    _uniffi_check_call_status(error_ffi_converter, call_status)
    return result
";
const SHORT_CALL: &str = "    call_status = _UniffiRustCallStatus()
    result = fn(*args, ctypes.byref(call_status))
    if call_status.code != _UniffiRustCallStatus.CALL_SUCCESS:
        _uniffi_check_call_status(error_ffi_converter, call_status)
    return result
";

const LOWER: &str = "        with _UniffiRustBuffer.alloc_with_builder() as builder:
            cls.write(value, builder)
            return builder.finalize()
";
/// The builder holds none of Rust's memory until it is finished.
const SHORT_LOWER: &str = "        builder = _UniffiRustBufferBuilder()
        cls.write(value, builder)
        return builder.finalize()
";

/// The same, quicker.
pub(crate) fn tuned(text: &str) -> Result<String, String> {
    let after = "# A handful of classes and functions to support the generated data structures.";
    let text = replace_part(text, "class _UniffiRustBufferBuilder:", after, BUILDER)?;
    let text = replace(&text, STREAM, STREAM_OF_COPY)?;
    let text = replace(&text, UNPACK, UNPACK_FROM)?;
    let text = replace(&text, STATUS, EMPTY_STATUS)?;
    let text = replace(&text, CALL, SHORT_CALL)?;
    let text = replace(&text, LOWER, SHORT_LOWER)?;
    converters(&text)
}

/// Puts the converters of words and of kinds of fields into their short forms.
fn converters(text: &str) -> Result<String, String> {
    let words = vocabularies(text);
    let mut out = String::with_capacity(text.len());
    let mut shortened = 0;
    let mut lines = text.split_inclusive('\n').peekable();
    while let Some(line) = lines.next() {
        let Some(name) = converter_of(line) else {
            out.push_str(line);
            continue;
        };
        let mut class = line.to_owned();
        while let Some(inside) = lines.next_if(|line| line.starts_with([' ', '\n'])) {
            class.push_str(inside);
        }
        match words.get(name) {
            Some(words) if reads_words(&class, name, words) => {
                shortened += 1;
                out.push_str(&converter_of_words(name));
            }
            _ => out.push_str(&first_match_alone(&class)),
        }
    }
    if shortened == words.len() && shortened > 0 {
        Ok(out)
    } else {
        Err(format!(
            "{shortened} of {} vocabularies are converted as known: was uniffi's version changed?",
            words.len()
        ))
    }
}

fn converter_of(line: &str) -> Option<&str> {
    line.strip_prefix("class _UniffiFfiConverterType")?
        .strip_suffix("(_UniffiConverterRustBuffer):\n")
}

/// The vocabularies by name, with their words in order: those whose values count from 0.
fn vocabularies(text: &str) -> BTreeMap<&str, Vec<&str>> {
    let mut found = BTreeMap::new();
    for class in text.split("\nclass ").skip(1) {
        let Some((name, inside)) = class.split_once("(enum.Enum):\n") else {
            continue;
        };
        let inside = inside.lines();
        let inside =
            inside.take_while(|line| line.is_empty() || !line.starts_with(char::is_alphabetic));
        let members: Vec<(&str, &str)> = inside
            .filter_map(|line| line.strip_prefix("    ")?.split_once(" = "))
            .filter(|(word, value)| is_name(word) && value.parse::<usize>().is_ok())
            .collect();
        let counted = members
            .iter()
            .enumerate()
            .all(|(at, (_, value))| value.parse() == Ok(at));
        if counted && !name.contains(['(', '_']) && !members.is_empty() {
            found.insert(name, members.into_iter().map(|(word, _)| word).collect());
        }
    }
    found
}

fn is_name(word: &str) -> bool {
    word.chars()
        .all(|c| c.is_ascii_uppercase() || c.is_ascii_digit() || c == '_')
}

/// Whether a converter reads just these words, counted from 1.
fn reads_words(class: &str, name: &str, words: &[&str]) -> bool {
    let known = words.iter().enumerate().map(|(at, word)| {
        let number = at + 1;
        format!("        if variant == {number}:\n            return {name}.{word}\n")
    });
    let known: String = known.collect();
    class.contains(&known) && class.matches("if variant == ").count() == words.len()
}

fn converter_of_words(name: &str) -> String {
    format!(
        "class _UniffiFfiConverterType{name}(_UniffiConverterRustBuffer):
    @staticmethod
    def read(buf):
        try:
            return {name}(buf.read_i32() - 1)
        except ValueError:
            raise InternalError(\"Raw enum value doesn't match any cases\") from None

    @staticmethod
    def check_lower(value):
        if not isinstance(value, {name}):
            raise ValueError(value)

    @staticmethod
    def write(value, buf):
        buf.write_i32(value.value + 1)


"
    )
}

/// Of several kinds only one is true: the ones after it are not asked for.
fn first_match_alone(class: &str) -> String {
    let mut out = String::with_capacity(class.len() + 100);
    let (mut writes, mut asked) = (false, false);
    for line in class.split_inclusive('\n') {
        if line.starts_with("    def ") {
            writes = line == "    def write(value, buf):\n";
            asked = false;
        }
        match line.strip_prefix("        if value.is_") {
            Some(kind) if writes && asked => out.push_str(&format!("        elif value.is_{kind}")),
            found => {
                asked |= found.is_some();
                out.push_str(line);
            }
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    const WORDS: &str = "
class Colour(enum.Enum):
    \"\"\"
    A colour.
\"\"\"

    RED = 0

    DARK_BLUE = 1

class _UniffiFfiConverterTypeColour(_UniffiConverterRustBuffer):
    @staticmethod
    def read(buf):
        variant = buf.read_i32()
        if variant == 1:
            return Colour.RED
        if variant == 2:
            return Colour.DARK_BLUE
        raise InternalError(\"Raw enum value doesn't match any cases\")

    @staticmethod
    def write(value, buf):
        if value == Colour.RED:
            buf.write_i32(1)
        if value == Colour.DARK_BLUE:
            buf.write_i32(2)


class _UniffiFfiConverterTypeShape(_UniffiConverterRustBuffer):
    @staticmethod
    def write(value, buf):
        if value.is_ROUND():
            buf.write_i32(1)
        if value.is_SQUARE():
            buf.write_i32(2)

x = 1
";

    #[test]
    fn a_word_is_written_by_its_value_and_a_kind_is_asked_for_until_one_is_true() {
        let short = converters(WORDS).unwrap();
        assert!(short.contains("buf.write_i32(value.value + 1)"));
        assert!(!short.contains("value == Colour.RED"));
        assert!(short.contains("        if value.is_ROUND():\n"));
        assert!(short.contains("        elif value.is_SQUARE():\n"));
        assert!(short.starts_with("\nclass Colour(enum.Enum):\n") && short.ends_with("x = 1\n"));
    }

    #[test]
    fn words_in_another_order_are_left_to_whoever_changes_uniffi() {
        let other = WORDS.replace("return Colour.RED", "return Colour.DARK_BLUE");
        assert!(converters(&other).is_err());
        let gaps = WORDS.replace("DARK_BLUE = 1", "DARK_BLUE = 7");
        assert!(converters(&gaps).is_err());
    }

    #[test]
    fn another_text_of_uniffi_is_an_error() {
        assert!(tuned("class Something:\n    pass\n").is_err());
    }
}

//! Replacing what is known to stand in a text.

/// Replaces the one place where `old` stands.
///
/// # Errors
/// It stands nowhere, or more than once: uniffi writes something else than this was made for.
pub(crate) fn replace(text: &str, old: &str, new: &str) -> Result<String, String> {
    match text.matches(old).count() {
        1 => Ok(text.replacen(old, new, 1)),
        found => Err(other(old, found)),
    }
}

/// Replaces all from `from` up to `to`, which stays.
///
/// # Errors
/// As [`replace`].
pub(crate) fn replace_part(text: &str, from: &str, to: &str, new: &str) -> Result<String, String> {
    let (before, rest) = text.split_once(from).ok_or_else(|| other(from, 0))?;
    let (_, after) = rest.split_once(to).ok_or_else(|| other(to, 0))?;
    Ok(format!("{before}{new}{to}{after}"))
}

fn other(what: &str, found: usize) -> String {
    let line = what.trim().lines().next().unwrap_or_default();
    format!("`{line}` stands there {found} times, not once: was uniffi's version changed?")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_stands_there_once_is_replaced_and_nothing_else_is_taken_for_it() {
        assert_eq!(replace("a b c", "b", "d"), Ok("a d c".to_owned()));
        assert!(replace("a b c", "x", "d").is_err());
        assert!(replace("a b b", "b", "d").is_err());
        let part = replace_part("a from b to c", "from", "to", "x ");
        assert_eq!(part, Ok("a x to c".to_owned()));
        assert!(replace_part("a from b", "from", "to", "x").is_err());
    }
}

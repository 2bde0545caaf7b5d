//! Cells of the tables that leave the house.

/// A spreadsheet runs what begins like a formula; an apostrophe before it keeps it a text.
pub(crate) fn harmless(cell: &str) -> String {
    let risky = cell
        .trim_start_matches(' ')
        .starts_with(['=', '+', '-', '@', '\t', '\r', '\n']);
    if risky {
        format!("'{cell}")
    } else {
        cell.to_owned()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    // The characters named by the OWASP page on CSV injection.
    #[test]
    fn no_cell_begins_like_a_formula() {
        for risky in ["=1+1", "+1", "-1", "@SUM(A1)", "\t=1", "\r=1", " =1"] {
            assert_eq!(harmless(risky), format!("'{risky}"));
        }
        assert_eq!(harmless("3 of 8 - rear"), "3 of 8 - rear");
    }
}
